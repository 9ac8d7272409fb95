// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/ledger/read_ledger.h"

namespace basefog {

std::string ledger_template() {
    return R"(# A ledger: what you know about your film, written down once. Change it to yours; every key may be left out, except
# a sheet's file and a strip's roll. Names after the dot are your own; put one in quotes when it holds spaces or letters
# other than a-z: [roll."winter 2"]. Dates are year-month-day. The unit of a number is part of its key's name.
#
# The film and everyone in this example are invented.

# ---- Stocks: the film you bought --------------------------------------------------------------------------------

[stock.t500]
kind = "colour negative"      # or "black and white"
box_speed = 500               # exposure index on the can
balance = "tungsten"          # or "daylight", or a number of kelvin
own_process = "ECN-2"         # what it was made for
expiry = "2014-06"            # a day, a month or a year

[stock.pan100]
kind = "black and white"
box_speed = 100
expiry = 2027-12-31

# ---- Baths: each batch of developer you mix ---------------------------------------------------------------------
# How many rolls a bath had done before each roll follows from the sessions below; you need not count.
#
# Caution. Colour developer can make skin allergic for life, and bleach-fix and alkaline baths harm eyes and skin. Wear
# gloves and eye protection, air the room, keep chemicals away from food and children, label every bottle, and never mix
# baths that do not belong together. Read and follow the safety data sheet of each product; it outranks this note.

[bath.dev-a]
kind = "stills colour developer, 1 litre kit"
volume_litres = 1.0
mixed_on = 2026-03-01
good_for_rolls = 12           # as its maker says

# ---- Sessions: one afternoon at the sink ------------------------------------------------------------------------
# Caution. The wash that loosens a carbon backing is alkaline: gloves and eye protection. Its black sludge clogs and
# stains: let it settle, wipe it up, and dispose of it and of spent baths as your local rules say, not down the drain by
# habit. Keep backing water out of the developer.

[session.march-14]
date = 2026-03-14
bath = "dev-a"
process = "C-41"
developer_minutes = 3.25      # or "3:15"
developer_temperature_c = 38
tank = "two-reel tank"        # for all rolls of the session that name none of their own

[session.march-14.wash]       # taking the backing off
agent = "sodium carbonate"
grams_per_litre = 10
temperature_c = 40
soak_minutes = 2
rinses = 4

[session.march-21]
date = 2026-03-21
bath = "dev-a"
process = "C-41"
developer_minutes = "3:30"
developer_temperature_c = 38
wash = { agent = "borax", grams_per_litre = 20, temperature_c = 38, soak_minutes = 1, rinses = 6 }

# ---- Rolls: each cassette you shot ------------------------------------------------------------------------------

[roll.R1]
stock = "t500"
rating = 200                  # exposure index you shot it at
light = "daylight"            # it was mostly shot in: daylight, overcast, shade, flash, tungsten, photoflood, household,
                              # fluorescent, or a number of kelvin
filter = "85B"                # on the lens: "85B", "81A", "80A", "82A" ..., or its shift in mired, positive when it warms
session = "march-14"
tank = "two-reel tank"
reel = 1                      # place in the tank, 1 at the bottom
note = "Harbour in the morning; last frames with the back opened by mistake."
# Single frames, where there is something to say: what a frame shows ("step wedge", "grey card" or "colour chart"; step is
# a wedge's log exposure from step to step), and exposure given beyond the meter's, as for a bracket.
frames = [
  { number = 1, kind = "step wedge", step = 0.15 },
  { number = 2, kind = "grey card" },
  { number = 5, stops = -1 },
  { number = 6, stops = 1.5, print = { exposure = -0.5, balance = "frame" } },
]
# How its positives are wanted, where the usual will not do; frames may have the same. See the ledger's page.
print = { exposure = 0.3, contrast = 1.1, black_point = -6, saturation = 0.9 }

[roll.R2]
stock = "t500"
rating = 125
light = "overcast"
session = "march-14"
reel = 2

[roll.R3]
stock = "t500"
rating = 250
light = 2900
filter = -10
session = "march-21"
reel = 1

# ---- Shots: a roll photographed by a camera, instead of a sheet ------------------------------------------------------
# [[shots]]
# roll = "R4"
# files = "R4/*.dng"             # in order of their names
# first = 1
# light_frame = "R4/light.dng"   # the bare light, no film, same settings
# dark_frame = "R4/dark.dng"     # lens capped
# frames = 3                     # whole frames on each file, where it shows several
# join = true                    # or: files are overlapping shots of one strip, in order along it
# exposures = 2                  # shots of each frame, one after the other, exposed differently: merged

# ---- Sheets: each scan ------------------------------------------------------------------------------------------
# Strips are listed as they lie on the scan: from top to bottom, or from left to right when they stand upright.
# file is looked for from the folder this ledger lies in.

[[sheet]]
file = "scans/sheet-01.tif"
infrared = "scans/sheet-01-infrared.tif"   # only when the infrared is a file of its own
encoding = "linear"           # only when the scan does not say: "linear", "srgb" or a gamma such as 2.2
dpi = 3200                    # only when the scan does not say
format = "36x24"              # only when it is not told from the film: "18x24", "24x65", "6x4.5", "6x6", "6x7"
strips = [
  { roll = "R1", first = 1 },              # the strip's first frame number
  { roll = "R1", first = 7 },
  { roll = "R2", first = 1, turn = true }, # lies the other way round
  { roll = "R2", first = 7, flip = true }, # wrong side down, so that it is mirrored
]

[[sheet]]
file = "scans/sheet-02.tif"
strips = [
  { roll = "R3", first = 1 },
  { roll = "R3", first = 7 },
]
)";
}

}  // namespace basefog
