// SPDX-License-Identifier: GPL-3.0-or-later
// write_pages FOLDER: the reports and the page of trends that the browser's tests open, from the reports' own invented records (no number
// on them was measured), and a small drawn sheet to review.
#include "basefog/invert/write.h"
#include "basefog/report/write_history.h"
#include "basefog/report/write_report.h"
#include "report/sample_record.h"
#include "report/sample_trends.h"
#include "support/small_sheet.h"

#include <filesystem>
#include <fstream>
#include <iostream>
#include <string>

using namespace basefog;

namespace {

/// A picture a browser can decode, told from others by its shade.
std::string jpeg(int shade) {
    Image<EncodedRgb8> picture(48, 32);
    for (std::int64_t y = 0; y < picture.height(); ++y)
        for (std::int64_t x = 0; x < picture.width(); ++x) {
            const auto level = static_cast<std::uint8_t>((shade * 29 + x * 3 + y * 2) % 256);
            picture(x, y) = {level, static_cast<std::uint8_t>(255 - level), static_cast<std::uint8_t>(x * 5)};
        }
    auto bytes = jpeg_bytes(picture.view(), 80);
    if (!bytes) throw std::runtime_error(describe(bytes.error()));
    return *bytes;
}

/// Real pictures, overlays and spreads of density in every frame.
RunRecord shown(RunRecord record) {
    int n = 0;
    for (ScanRecord& scan : record.scans) {
        if (scan.failure) continue;
        scan.overview_jpeg = jpeg(7);
        scan.residue_png = jpeg(3);  // what kind of picture it is, a browser tells from its bytes
        for (StripRecord& strip : scan.strips)
            for (FrameRecord& frame : strip.frames) {
                ++n;
                if (frame.box.kind == FrameKind::picture) frame.thumbnail_jpeg = jpeg(n);
                if (n % 2 == 0) frame.defects_png = jpeg(n + 100);
                for (int i = 0; i < 3; ++i)
                    for (std::size_t k = 0; k < 20; ++k) {
                        frame.histogram.counts[i][k + 6 + static_cast<std::size_t>(4 * i + n % 5)] = static_cast<std::uint32_t>(10 + k * (20 - k));
                        if (i == 0) frame.histogram.spots += 10 + static_cast<std::int64_t>(k * (20 - k));
                    }
            }
    }
    return record;
}

/// The record's colour rolls over and over, to hundreds of frames.
RunRecord many() {
    RunRecord record = sample::rich();
    const std::vector<ScanRecord> scans{record.scans[0], record.scans[1]};
    const std::vector<RollRecord> rolls = record.rolls;
    record.scans.clear();
    record.rolls.clear();
    record.findings.clear();
    for (int turn = 0; turn < 9; ++turn) {
        const std::string suffix = "-" + std::to_string(turn + 1);
        for (ScanRecord scan : scans) {
            scan.file = "set" + suffix + "/" + scan.file;
            for (StripRecord& strip : scan.strips) strip.roll += suffix;
            record.scans.push_back(scan);
        }
        for (RollRecord roll : rolls) {
            roll.roll.id += suffix;
            for (FrameRef& ref : roll.frames) ref.scan += 2 * turn;
            record.rolls.push_back(roll);
        }
    }
    return record;
}

/// The invented history's rolls over and over, as of years.
HistoryTrends years() {
    HistoryTrends all = sample::trends();
    const std::vector<HistoryRoll> rolls = all.rolls;
    all.rolls.clear();
    for (int turn = 0; turn < 30; ++turn)
        for (HistoryRoll roll : rolls) {
            roll.roll += "-" + std::to_string(turn + 1);
            all.rolls.push_back(roll);
        }
    return all;
}

void write(const std::filesystem::path& path, const std::string& text) {
    std::ofstream file(path, std::ios::binary);
    file << text;
    if (!file) throw std::runtime_error("cannot write " + path.string());
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 2) return 2;
    try {
        const std::filesystem::path folder = argv[1];
        std::filesystem::create_directories(folder / "proofs");
        write(folder / "report.html", report_html(shown(sample::rich())));
        write(folder / "hostile.html", report_html(shown(sample::hostile())));
        write(folder / "many.html", report_html(shown(many())));
        write(folder / "plain.html", report_html(shown(sample::no_ledger())));
        write(folder / "history.html", history_html(sample::trends(), std::filesystem::absolute(folder).string(), "2026-06-01T10:00:00Z"));
        write(folder / "hostile-history.html", history_html(sample::trends(sample::hostile_name()), std::filesystem::absolute(folder).string(), ""));
        write(folder / "years.html", history_html(years(), std::filesystem::absolute(folder).string(), ""));
        synthetic::write_small_sheet((folder / "sheet.tif").string(), synthetic::small_sheet());
        write(folder / "proofs" / "R1-01.jpg", jpeg(77));
    } catch (const std::exception& e) {
        std::cerr << "write_pages: " << e.what() << '\n';
        return 1;
    }
}
