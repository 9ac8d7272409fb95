// SPDX-License-Identifier: GPL-3.0-or-later
// The record of a run: everything the report shows. Filled by the pipeline; the report computes nothing.
#pragma once

#include "basefog/core/kept_bytes.h"
#include "basefog/core/print_choices.h"
#include "basefog/core/result.h"
#include "basefog/density/types.h"
#include "basefog/film/types.h"
#include "basefog/frames/types.h"
#include "basefog/ledger/types.h"
#include "basefog/residue/types.h"
#include "basefog/scan/types.h"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <vector>

namespace basefog {

/// How many of a frame's usable 0.1 mm spots have which density above base.
struct DensityHistogram {
    static constexpr double kFirst = -0.16, kStep = 0.04;  ///< lower edge of the first bin, and width. Chosen: finer than the eye tells on a plot
    static constexpr std::size_t kBins = 84;               ///< up to 3.2, beyond any colour film's image
    Rgb<std::array<std::uint32_t, kBins>> counts{};
    std::int64_t spots = 0;
    friend bool operator==(const DensityHistogram&, const DensityHistogram&) = default;
};

struct FrameRecord {
    int number = 0;
    FrameBox box;
    std::string positive, proof;  ///< paths relative to the report, '/' separated; empty when none was made
    std::string linear, density;  ///< likewise: scene-linear light, film density
    PrintValues print{};          ///< what the positive was made with ...
    Rgb<LogExposure> balance{};   ///< ... and its balance in numbers
    KeptBytes thumbnail_jpeg;     ///< bytes, sRGB; empty when none
    FrameExposure exposure;
    double residue_area_percent = 0;
    std::string mended_mask;                         ///< relative path of the mask of mended pixels; empty when none were
    std::string unmended;                            ///< relative path of the positive without mending; empty unless asked for
    double divided_percent = 0, filled_percent = 0;  ///< of the frame's pixels: a defect's density taken off; taken from the surroundings
    DensityHistogram histogram;
    KeptBytes defects_png;  ///< bytes: residue, dust and scratches over the frame, translucent, read order; empty when there are none
};

struct StripRecord {
    std::string roll;
    StripBox box;
    StripBase base;
    StripResidue residue;
    std::vector<FrameRecord> frames;
};

/// One of the shots that a strip was joined from, beside the shot before it.
struct ShotRecord {
    std::string file;
    Millimetres overlap{};   ///< along the film; 0 of the first, as all that follows says nothing of it
    Millimetres residual{};  ///< root mean square of how far apart the two show what both show
    double scale = 1;
    double turned_deg = 0;
    Rgb<double> level{1, 1, 1};  ///< how much more light it got
};

struct ScanRecord {
    std::string file;  ///< as named on the command line or in the ledger
    ScanInfo info;
    PixelsPerMm scale{};
    ScaleOrigin scale_origin = ScaleOrigin::file;
    std::string defect_map;   ///< relative path of the PNG, or empty
    KeptBytes overview_jpeg;  ///< bytes: the sheet as scanned, reduced, sRGB
    KeptBytes residue_png;    ///< bytes: residue over the sheet as a translucent picture of the same shape; empty when none
    bool relative_densities = false;
    std::vector<ShotRecord> shots;  ///< of a strip that was joined, in the order given; empty for all else
    std::vector<StripRecord> strips;
    std::optional<Error> failure;  ///< the scan could not be used; then strips is empty
};

struct FrameRef {
    int scan = 0, strip = 0, frame = 0;  ///< indices into RunRecord::scans
};

struct RollRecord {
    Roll roll;  ///< from the ledger, or just an id
    std::optional<Stock> stock;
    std::optional<Session> session;
    std::optional<Bath> bath;
    std::optional<int> rolls_done_before, bath_age_days;
    RollFacts facts;
    Rgb<Measured<Density>> base;              ///< pooled
    std::array<std::uint8_t, 3> mask_srgb{};  ///< the base's colour on a light table, sRGB: see docs/report.md
    Rgb<double> spot_noise{};
    bool silver_image = false;
    RollFilm film;
    ResidueGrade worst_residue = ResidueGrade::clean;
    double residue_area_percent = 0;  ///< over the roll's strips
    std::vector<int> rewash_frames;   ///< numbers of the frames worth washing again
    std::string residue_place;        ///< where along the roll most of it is, in words; empty where it is even or there is none
    std::vector<FrameRef> frames;     ///< by number
    std::string contact_sheet;        ///< relative path, or empty
    PrintValues print{};              ///< of its frames where nothing else was said of one
};

struct RunRecord {
    std::string version, command, finished;                     ///< finished: ISO 8601, given by the caller
    std::string ledger;                                         ///< path, or empty
    std::vector<std::pair<std::string, std::string>> settings;  ///< what the run can be repeated with
    std::string settings_file;                                  ///< relative path of the choices of print as a file, or empty
    std::vector<ScanRecord> scans;
    std::vector<RollRecord> rolls;             ///< in order of first appearance
    std::vector<StockComparison> comparisons;  ///< of stocks with two rolls or more
    std::vector<Finding> findings;
    int sheets_taken_over = 0;  ///< finished by an earlier run; for whoever started this one, and in no report
};

}  // namespace basefog
