// SPDX-License-Identifier: GPL-3.0-or-later
#include "frame_suite/try_sheet.h"

#include "basefog/frames/find_frames.h"
#include "basefog/scan/reader.h"
#include "frame_suite/match.h"
#include "frame_suite/picture.h"
#include "support/random_sheet.h"
#include "support/synthetic_files.h"

#include <chrono>
#include <filesystem>
#include <fstream>

namespace basefog::suite {
namespace {

using Clock = std::chrono::steady_clock;
double seconds_since(Clock::time_point start) { return std::chrono::duration<double>(Clock::now() - start).count(); }

struct Drawn {
    synthetic::SheetSpec spec;
    synthetic::Sheet sheet;
    std::string path;
};

Drawn draw(std::uint64_t seed, const std::string& folder) {
    Drawn out;
    out.spec = synthetic::random_sheet(seed);
    out.sheet = synthetic::draw_sheet(out.spec);
    out.path = (std::filesystem::path(folder) / out.spec.file).string();
    synthetic::write_tiff(out.path, synthetic::encode(out.sheet, out.spec), out.spec.stated_dpi.value_or(out.spec.dpi), synthetic::Packing::none);
    return out;
}

/// What a person would say of the scan: the encoding, unless it is what the bits imply. The resolution is left as the file has it.
ScanOptions told(const synthetic::SheetSpec& spec) {
    ScanOptions options;
    if (!spec.encoding_told) return options;
    switch (spec.encoding) {
        case synthetic::Encoding::linear:
            options.encoding = Encoding{Encoding::Kind::linear, 1};
            break;
        case synthetic::Encoding::gamma22:
            options.encoding = Encoding{Encoding::Kind::gamma, 2.2};
            break;
        case synthetic::Encoding::srgb:
            options.encoding = Encoding{Encoding::Kind::srgb, 1};
            break;
    }
    return options;
}

Result<SheetLayout> find(const Drawn& drawn) {
    auto reader = open_scan(drawn.path, told(drawn.spec));
    if (!reader) return Failure(reader.error());
    auto overview = read_overview(**reader, {});
    if (!overview) return Failure(overview.error());
    return find_frames(*overview, {});
}

}  // namespace

SheetOutcome try_sheet(std::uint64_t seed, const std::string& folder, const std::string& picture) {
    cv::setNumThreads(1);  // sheets run side by side
    const auto started = Clock::now();
    const Drawn drawn = draw(seed, folder);
    SheetOutcome out;
    out.seed = seed;
    out.difficulties = drawn.spec.difficulties;
    out.draw_seconds = seconds_since(started);
    const auto searching = Clock::now();
    const Result<SheetLayout> layout = find(drawn);
    out.find_seconds = seconds_since(searching);
    std::filesystem::remove(drawn.path);
    if (!layout) out.failure = describe(layout.error());
    const SheetLayout nothing;
    const cv::Mat& light = drawn.sheet.light;
    match(layout ? *layout : nothing, drawn.sheet, light.cols, light.rows, drawn.spec.dpi / 25.4, out);
    if (!picture.empty()) write_picture(picture, drawn.sheet, layout ? *layout : nothing, out);
    return out;
}

void write_sheet(std::uint64_t seed, const std::string& folder) {
    std::filesystem::create_directories(folder);
    const Drawn drawn = draw(seed, folder);
    std::ofstream(std::filesystem::path(drawn.path).replace_extension(".truth.json")) << synthetic::truth_json(drawn.spec, drawn.sheet);
}

}  // namespace basefog::suite
