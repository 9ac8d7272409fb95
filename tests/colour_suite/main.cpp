// SPDX-License-Identifier: GPL-3.0-or-later
// basefog-colour-suite: photographs, put through invented stocks and scanners, the whole way to positives, and these against the photographs.
#include "basefog/core/result.h"
#include "basefog/ledger/read_ledger.h"
#include "basefog/pipeline/run.h"
#include "colour_suite/rolls.h"
#include "colour_suite/score.h"
#include "support/dng_file.h"
#include "support/synthetic_files.h"
#include "support/temporary_folder.h"

#include <algorithm>
#include <array>
#include <cctype>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <stdexcept>
#include <string>
#include <vector>

namespace {

using namespace colour_suite;
namespace fs = std::filesystem;

constexpr const char* kUsage =
    "usage: basefog-colour-suite --photographs FOLDER [--seeds FIRST-LAST] [--told nothing|light|chart] [--keep FOLDER] [--verbose]\n"
    "Draws a sheet of four strips for each seed (odd: two fresh stocks, even: an expired one beside itself fresh), makes positives of it with nothing\n"
    "told, with stock and light told and with a chart named, and prints how far they are from the photographs (at least 12 in FOLDER; all are used).\n";

struct Options {
    std::string photographs, keep;
    std::uint64_t first = 1, last = 20;
    std::vector<Told> told{Told::nothing, Told::light, Told::chart};
    bool verbose = false;
};

struct Figures {
    std::vector<double> scenes, charts, chromas, crossovers;
    int missing = 0;
    void add(const Figures& more) {
        scenes.insert(scenes.end(), more.scenes.begin(), more.scenes.end());
        charts.insert(charts.end(), more.charts.begin(), more.charts.end());
        chromas.insert(chromas.end(), more.chromas.begin(), more.chromas.end());
        crossovers.insert(crossovers.end(), more.crossovers.begin(), more.crossovers.end());
        missing += more.missing;
    }
};

void print(const std::string& title, const Figures& f) {
    if (f.scenes.empty() && f.charts.empty() && f.missing == 0) return;
    std::printf("%-44s %4zu scenes: median %5.2f p90 %5.2f | %3zu charts: mean %5.2f p90 %5.2f, grey chroma %5.2f p90 %5.2f, crossover %5.2f p90 %5.2f%s\n",
                title.c_str(), f.scenes.size(), quantile(f.scenes, 0.5), quantile(f.scenes, 0.9), f.charts.size(), mean(f.charts), quantile(f.charts, 0.9),
                mean(f.chromas), quantile(f.chromas, 0.9), mean(f.crossovers), quantile(f.crossovers, 0.9),
                f.missing > 0 ? (" | missing " + std::to_string(f.missing)).c_str() : "");
}

std::vector<std::string> pictures_in(const std::string& folder) {
    std::vector<std::string> out;
    for (const auto& entry : fs::directory_iterator(folder)) {
        std::string ext = entry.path().extension().string();
        std::transform(ext.begin(), ext.end(), ext.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
        if (ext == ".png" || ext == ".jpg" || ext == ".jpeg") out.push_back(entry.path().string());
    }
    std::sort(out.begin(), out.end());
    if (out.size() < 12) throw std::runtime_error(folder + " holds fewer than 12 photographs");
    return out;
}

Options read_options(int argc, char** argv) {
    Options out;
    for (int i = 1; i < argc; ++i) {
        const std::string arg = argv[i], value = i + 1 < argc ? argv[i + 1] : "";
        if (arg == "--verbose") {
            out.verbose = true;
            continue;
        }
        ++i;
        unsigned long long a = 0, b = 0;
        if (arg == "--photographs")
            out.photographs = value;
        else if (arg == "--keep")
            out.keep = value;
        else if (arg == "--seeds" && std::sscanf(value.c_str(), "%llu-%llu", &a, &b) == 2)
            out.first = a, out.last = b;
        else if (arg == "--told" && value == "nothing")
            out.told = {Told::nothing};
        else if (arg == "--told" && value == "light")
            out.told = {Told::light};
        else if (arg == "--told" && value == "chart")
            out.told = {Told::chart};
        else
            throw std::runtime_error(std::string("this was not understood: ") + arg + "\n" + kUsage);
    }
    if (out.photographs.empty()) throw std::runtime_error(kUsage);
    return out;
}

basefog::RunRecord make_positives(const Rolls& rolls, Told told, const std::string& folder, const std::string& results) {
    basefog::RunOptions options;
    auto read = basefog::parse_ledger(ledger(rolls, told), folder + "/ledger.toml");
    if (!read) throw std::runtime_error(basefog::describe(read.error()));
    options.ledger = std::move(*read);
    options.output_folder = results;
    options.finished = "2026-01-01T00:00:00Z";
    options.command = "invert";
    options.invert.compression = basefog::Compression::none;
    auto record = basefog::run(options, basefog::silent_observer());
    if (!record) throw std::runtime_error(basefog::describe(record.error()));
    return std::move(*record);
}

Figures score(const Rolls& rolls, const basefog::RunRecord& record, const std::string& results, const std::string& label, bool verbose) {
    Figures out;
    for (const synthetic::StripSpec& strip : rolls.sheet.strips)
        for (const synthetic::FrameSpec& frame : strip.frames) {
            const basefog::FrameRecord* found = nullptr;
            for (const basefog::StripRecord& s : record.scans.at(0).strips)
                for (const basefog::FrameRecord& f : s.frames)
                    if (s.roll == strip.roll && f.number == frame.number && !f.positive.empty()) found = &f;
            if (!found) {
                ++out.missing;
                std::printf("%s %s %d: no positive\n", label.c_str(), strip.roll.c_str(), frame.number);
                continue;
            }
            const cv::Mat positive = read_positive(results + "/" + found->positive);
            if (frame.scene.kind == synthetic::SceneKind::chart) {
                const ChartScore chart = score_chart(positive);
                out.charts.push_back(chart.mean);
                out.chromas.push_back(chart.grey_chroma);
                out.crossovers.push_back(chart.crossover);
                if (verbose)
                    std::printf("%s %s %2d chart: mean %.2f, grey chroma %.2f, crossover %.2f\n", label.c_str(), strip.roll.c_str(), frame.number, chart.mean,
                                chart.grey_chroma, chart.crossover);
            } else {
                const SceneScore scene = score_scene(positive, frame.scene);
                out.scenes.push_back(scene.median);
                if (verbose)
                    std::printf("%s %s %2d %s: median %.2f, cast a %+.1f b %+.1f, saturation %.2f\n", label.c_str(), strip.roll.c_str(), frame.number,
                                synthetic::name(frame.scene).c_str(), scene.median, scene.cast_a, scene.cast_b, scene.saturation);
            }
        }
    return out;
}

/// As a scanner's program or a camera writes it.
void write_scan(const std::string& path, const synthetic::SheetSpec& sheet) {
    const cv::Mat samples = synthetic::encode(synthetic::draw_sheet(sheet), sheet);
    if (!sheet.scanner.camera) return synthetic::write_tiff(path, samples, sheet.dpi, synthetic::Packing::none);
    synthetic::DngSpec spec;
    spec.width = static_cast<std::uint32_t>(samples.cols), spec.height = static_cast<std::uint32_t>(samples.rows);
    spec.linear = true;
    spec.black = {0};
    spec.white = 65535;
    synthetic::write_dng(
        path, spec, [&](std::uint32_t x, std::uint32_t y, int colour) { return samples.ptr<std::uint16_t>(static_cast<int>(y), static_cast<int>(x))[colour]; });
}

void try_seed(std::uint64_t seed, const Options& options, const std::vector<std::string>& photographs, std::array<std::array<Figures, 2>, kTold>& sums) {
    const Rolls rolls = draw_rolls(seed, photographs);
    const basefog::TemporaryFolder temporary;
    const std::string folder = options.keep.empty() ? temporary.path().string() : options.keep + "/" + std::to_string(seed);
    fs::create_directories(folder);
    write_scan(folder + "/" + rolls.sheet.file, rolls.sheet);
    for (const Told told : options.told) {
        const std::string results = folder + "/" + std::to_string(static_cast<int>(told));
        fs::remove_all(results);
        const std::string label = "seed " + std::to_string(seed) + (rolls.expired ? " expired, " : " fresh, ") + name(told);
        const Figures figures = score(rolls, make_positives(rolls, told, folder, results), results, label, options.verbose);
        print(label, figures);
        sums.at(static_cast<std::size_t>(told)).at(rolls.expired ? 1 : 0).add(figures);
    }
    std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
    try {
        const Options options = read_options(argc, argv);
        const std::vector<std::string> photographs = pictures_in(options.photographs);
        std::array<std::array<Figures, 2>, kTold> sums;
        for (std::uint64_t seed = options.first; seed <= options.last; ++seed) try_seed(seed, options, photographs, sums);
        std::printf("\n");
        for (const Told told : options.told)
            for (const bool expired : {false, true})
                print(std::string(expired ? "expired beside fresh, " : "fresh, ") + name(told), sums.at(static_cast<std::size_t>(told)).at(expired ? 1 : 0));
        return 0;
    } catch (const std::exception& e) {
        std::fprintf(stderr, "%s\n", e.what());
        return 2;
    }
}
