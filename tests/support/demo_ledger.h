// SPDX-License-Identifier: GPL-3.0-or-later
// The demo's ledger. Everything in it is invented.
#pragma once

namespace synthetic {

inline constexpr const char* kDemoLedger = R"(# The demo's ledger: an invented spring of an invented photographer.
#
# A can of tungsten film turned up in an attic, years past its date. The same six pictures went onto three rolls of it,
# rated at box speed, one stop slower and two stops slower, to see what the extra exposure buys. A fresh daylight stock and
# a fresh can of the tungsten one ran beside it. The third attic roll was washed in a hurry, in water gone cold.

[stock.d250]
kind = "colour negative"
box_speed = 250
balance = "daylight"
own_process = "ECN-2"
expiry = "2027-10"

[stock.t500-attic]
kind = "colour negative"
box_speed = 500
balance = "tungsten"
own_process = "ECN-2"
expiry = "2012-05"

[stock.t500]
kind = "colour negative"
box_speed = 500
balance = "tungsten"
own_process = "ECN-2"
expiry = "2027-03"

[stock.pan400]
kind = "black and white"
box_speed = 400

# Gloves and eye protection with every bath; each product's safety data sheet outranks these notes.

[bath.colour-a]
kind = "stills colour developer, 1 litre kit"
volume_litres = 1.0
mixed_on = 2026-04-03
good_for_rolls = 8

[bath.grey-a]
kind = "black-and-white developer, one-shot"
volume_litres = 0.6
mixed_on = 2026-04-26
good_for_rolls = 1

[session.april-5]
date = 2026-04-05
bath = "colour-a"
process = "C-41"
developer_minutes = "3:15"
developer_temperature_c = 38
tank = "three-reel tank"
wash = { agent = "sodium carbonate", grams_per_litre = 12, temperature_c = 40, soak_minutes = 2, rinses = 5 }

[session.april-12]
date = 2026-04-12
bath = "colour-a"
process = "C-41"
developer_minutes = "3:15"
developer_temperature_c = 38
tank = "one-reel tank"
wash = { agent = "sodium carbonate", grams_per_litre = 12, temperature_c = 39, soak_minutes = 2, rinses = 5 }

[session.april-19]
date = 2026-04-19
bath = "colour-a"
process = "C-41"
developer_minutes = "3:30"
developer_temperature_c = 38
tank = "one-reel tank"
wash = { agent = "sodium carbonate", grams_per_litre = 5, temperature_c = 24, soak_minutes = 0.5, rinses = 1 }

[session.april-26]
date = 2026-04-26
bath = "grey-a"
process = "black and white"
developer_minutes = 9
developer_temperature_c = 20
tank = "one-reel tank"

[roll.harbour]
stock = "d250"
rating = 250
light = "daylight"
session = "april-5"
reel = 1
note = "A colour chart first, then the harbour town and the dunes."
frames = [ { number = 1, kind = "colour chart" } ]

[roll.attic-1]
stock = "t500-attic"
rating = 500
light = "daylight"
session = "april-5"
reel = 2
note = "Box speed, no filter."

[roll.attic-2]
stock = "t500-attic"
rating = 250
light = "daylight"
session = "april-5"
reel = 3
note = "The same six pictures, one stop more."

[roll.lamps]
stock = "t500"
rating = 500
light = "tungsten"
session = "april-12"
reel = 1
note = "Evening indoors and out. The back came open at frame 5."

[roll.attic-3]
stock = "t500-attic"
rating = 125
light = "daylight"
session = "april-19"
reel = 1
note = "The same six pictures, two stops more. Washed in a hurry; the rinse water ran grey."

[roll.pan]
stock = "pan400"
rating = 400
light = "daylight"
session = "april-26"
reel = 1
note = "A step wedge first."

[[sheet]]
file = "sheet-1.tif"
encoding = "linear"
strips = [
  { roll = "harbour", first = 1 },
  { roll = "attic-1", first = 1 },
  { roll = "attic-2", first = 1 },
  { roll = "attic-3", first = 1 },
]

[[sheet]]
file = "sheet-2.tif"
encoding = 2.2
strips = [
  { roll = "harbour", first = 7 },
  { roll = "lamps", first = 1 },
  { roll = "pan", first = 1 },
]
)";

}  // namespace synthetic
