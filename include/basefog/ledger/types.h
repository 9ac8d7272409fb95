// SPDX-License-Identifier: GPL-3.0-or-later
// What the photographer wrote down: stocks, baths, sessions, rolls, sheets. Read from TOML; see docs/ledger.md.
#pragma once

#include "basefog/core/print_choices.h"
#include "basefog/core/units.h"
#include "basefog/frames/types.h"

#include <chrono>
#include <optional>
#include <string>
#include <vector>

namespace basefog {

using Date = std::chrono::year_month_day;
/// ISO 8601, "2026-03-14".
[[nodiscard]] std::string to_string(Date date);

enum class StockKind { colour_negative, black_and_white };

struct Stock {
    std::string id;
    StockKind kind = StockKind::colour_negative;
    std::optional<double> box_speed;  ///< exposure index
    std::optional<Kelvin> balance;    ///< "daylight" = 5500 K, "tungsten" = 3200 K
    std::string own_process;          ///< "ECN-2", "C-41", ...
    std::optional<Date> expiry;
    friend bool operator==(const Stock&, const Stock&) = default;
};

struct Bath {
    std::string id;
    std::string kind;  ///< free words: "stills colour developer, 1 l kit"
    std::optional<double> volume_litres;
    std::optional<Date> mixed_on;
    std::optional<int> good_for_rolls;
    friend bool operator==(const Bath&, const Bath&) = default;
};

struct BackingWash {
    std::string agent;  ///< "sodium carbonate"
    std::optional<double> grams_per_litre;
    std::optional<Celsius> temperature;
    std::optional<double> soak_minutes;
    std::optional<int> rinses;
    friend bool operator==(const BackingWash&, const BackingWash&) = default;
};

struct Session {
    std::string id;
    std::optional<Date> date;
    std::string bath;  ///< a Bath's id, or empty
    std::optional<BackingWash> wash;
    std::optional<double> developer_minutes;
    std::optional<Celsius> developer_temperature;
    std::string process;
    friend bool operator==(const Session&, const Session&) = default;
};

enum class FrameSubject { picture, step_wedge, grey_card, colour_chart };
/// What is noted of a single frame.
struct NamedFrame {
    int number = 0;
    FrameSubject kind = FrameSubject::picture;
    double step = 0;              ///< of a step wedge: log10 H from step to step
    std::optional<Stops> stops;   ///< exposure given beyond the meter's
    std::optional<Kelvin> light;  ///< it was taken in, where it is not the roll's
    PrintChoices print{};         ///< how its positive is wanted
    friend bool operator==(const NamedFrame&, const NamedFrame&) = default;
};

struct Roll {
    std::string id;
    std::string stock, session;    ///< ids, or empty
    std::optional<double> rating;  ///< exposure index it was shot at
    std::optional<Kelvin> light;   ///< it was mostly shot in
    double filter_mired = 0;       ///< positive is warming
    std::string tank;
    std::optional<int> reel;  ///< place in the tank, 1 at the bottom
    std::string note;
    std::vector<NamedFrame> frames;  ///< those of which something is noted
    PrintChoices print{};            ///< how its positives are wanted
    friend bool operator==(const Roll&, const Roll&) = default;
};

struct SheetStrip {
    std::string roll;
    int first_frame = 1;
    std::optional<bool> flip{};  ///< scanned with the wrong side down: mirror
    std::optional<bool> turn{};  ///< lies the other way round: rotate by 180 degrees; numbers then run from its far end
    friend bool operator==(const SheetStrip&, const SheetStrip&) = default;
};

/// A file of a sheet that is made of several, and those that go with it.
struct SheetFile {
    std::string file;                         ///< as written
    std::string path;                         ///< resolved
    std::vector<std::string> exposure_paths;  ///< as Sheet::exposure_paths
    friend bool operator==(const SheetFile&, const SheetFile&) = default;
};

struct Sheet {
    std::string file;           ///< as written
    std::string path;           ///< resolved against the ledger's folder
    std::string infrared_path;  ///< resolved, or empty
    std::string encoding;       ///< as for --encoding, or empty
    std::optional<double> dpi;
    std::optional<FrameFormat> format{};                ///< of all its frames; left out: told from the film
    std::vector<SheetStrip> strips;                     ///< in scan order
    bool close_up = false;                              ///< a camera's shot of one frame
    std::string light_frame_path{}, dark_frame_path{};  ///< of such a shot: resolved, or empty
    std::vector<std::string> exposure_paths{};          ///< further shots of the same frame, exposed otherwise; resolved
    bool strip_shots = false;                           ///< a camera's shot of a part of a strip, or several that overlap, to be joined
    int frames_each = 0;                                ///< of such a shot: whole frames on it; 0: not told
    std::vector<SheetFile> further_shots{};             ///< of the same strip, along it
    friend bool operator==(const Sheet&, const Sheet&) = default;
};

struct Ledger {
    std::string path;
    std::vector<Stock> stocks;
    std::vector<Bath> baths;
    std::vector<Session> sessions;
    std::vector<Roll> rolls;
    std::vector<Sheet> sheets;

    [[nodiscard]] const Stock* find_stock(const std::string& id) const;
    [[nodiscard]] const Bath* find_bath(const std::string& id) const;
    [[nodiscard]] const Session* find_session(const std::string& id) const;
    [[nodiscard]] const Roll* find_roll(const std::string& id) const;
};

}  // namespace basefog
