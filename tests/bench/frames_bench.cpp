// SPDX-License-Identifier: GPL-3.0-or-later
// The same sheet scanned at 400 and at 3200 dpi: reading it down to the overview, and finding its frames there.
#include "basefog/frames/find_frames.h"
#include "basefog/scan/reader.h"

#include "support/random_sheet.h"
#include "support/synthetic_files.h"
#include "support/temporary_folder.h"

#include <benchmark/benchmark.h>
#include <map>
#include <opencv2/imgproc.hpp>

using namespace basefog;

namespace {

constexpr int kDrawnDpi = 400;

/// One strip of two frames on bare glass; finer scans are the drawn one enlarged, as the finder sees an average of their pixels anyhow.
const std::string& scan_at(int dpi) {
    static TemporaryFolder folder;
    static std::map<int, std::string> made;
    std::string& path = made[dpi];
    if (!path.empty()) return path;
    synthetic::SheetSpec spec;
    spec.dpi = kDrawnDpi;
    synthetic::StripPlace place;
    place.frames = 2;
    place.scene_width = 400;
    spec.strips.push_back(synthetic::random_strip(place, 7));
    synthetic::StripSpec& strip = spec.strips.front();
    constexpr double kMargin = 6;
    strip.x = strip.y = kMargin;
    spec.width = synthetic::strip_length(strip) + 2 * kMargin;
    spec.height = strip.film_width + 2 * kMargin;
    cv::Mat pixels = synthetic::encode(synthetic::draw_sheet(spec), spec);
    cv::resize(pixels, pixels, {}, dpi / kDrawnDpi, dpi / kDrawnDpi, cv::INTER_NEAREST);
    path = folder.file(std::to_string(dpi) + ".tif");
    synthetic::write_tiff(path, pixels, dpi, synthetic::Packing::none);
    return path;
}

Overview overview_at(int dpi) { return read_overview(*open_scan(scan_at(dpi), {}).value(), {}).value(); }

void read_down(benchmark::State& state) {
    const int dpi = static_cast<int>(state.range(0));
    scan_at(dpi);
    for (auto _ : state) benchmark::DoNotOptimize(overview_at(dpi));
}

void find(benchmark::State& state) {
    const Overview overview = overview_at(static_cast<int>(state.range(0)));
    std::size_t frames = 0;
    for (auto _ : state) {
        const SheetLayout layout = find_frames(overview, {}).value();
        frames = 0;
        for (const StripBox& strip : layout.strips) frames += strip.frames.size();
    }
    state.counters["frames"] = static_cast<double>(frames);
    state.counters["overview pixels"] = static_cast<double>(overview.pixels.width() * overview.pixels.height());
}

}  // namespace

BENCHMARK(read_down)->Arg(400)->Arg(3200)->Unit(benchmark::kMillisecond);
BENCHMARK(find)->Arg(400)->Arg(3200)->Unit(benchmark::kMillisecond);
BENCHMARK_MAIN();
