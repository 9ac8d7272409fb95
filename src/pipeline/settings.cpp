// SPDX-License-Identifier: GPL-3.0-or-later
#include "settings.h"

#include "print.h"

#include <cstdio>

namespace basefog::pipeline {
namespace {

std::string text(double value) {
    char buffer[32];
    std::snprintf(buffer, sizeof buffer, "%g", value);
    return buffer;
}

std::string balance_option(const BalanceChoice& balance) {
    if (balance.by == BalanceChoice::By::frame) return "frame";
    if (balance.by != BalanceChoice::By::numbers) return "roll";
    return text(balance.stops.r.value()) + "," + text(balance.stops.g.value()) + "," + text(balance.stops.b.value());
}

std::string encoding_option(const Encoding& encoding) {
    switch (encoding.kind) {
        case Encoding::Kind::linear:
            return "linear";
        case Encoding::Kind::srgb:
            return "srgb";
        default:
            return text(encoding.gamma);
    }
}

}  // namespace

std::string output_name(const InvertOptions& options) {
    switch (options.output) {
        case OutputSpace::srgb:
            return "srgb";
        case OutputSpace::wide:
            return "wide";
        case OutputSpace::linear:
            return "linear";
        case OutputSpace::profile_file:
            return options.profile_path;
    }
    return {};
}

std::string compression_name(Compression compression) {
    switch (compression) {
        case Compression::none:
            return "none";
        case Compression::lzw:
            return "lzw";
        case Compression::deflate:
            return "deflate";
        case Compression::zstd:
            return "zstd";
    }
    return {};
}

std::vector<std::pair<std::string, std::string>> settings_of(const RunOptions& options) {
    std::vector<std::pair<std::string, std::string>> settings;
    if (options.ledger) settings.emplace_back("ledger", options.ledger->path);
    if (!options.layout_path.empty()) settings.emplace_back("layout", options.layout_path);
    if (options.join_shots) settings.emplace_back("join", "true");
    if (options.find.close_up) settings.emplace_back("close-up", "true");
    if (!options.scan.light_frame_path.empty()) settings.emplace_back("light-frame", options.scan.light_frame_path);
    if (!options.scan.dark_frame_path.empty()) settings.emplace_back("dark-frame", options.scan.dark_frame_path);
    if (!options.history_path.empty()) settings.emplace_back("history", options.history_path);
    if (options.scan.encoding) settings.emplace_back("encoding", encoding_option(*options.scan.encoding));
    if (options.find.format != FrameFormat::automatic) settings.emplace_back("format", std::string(name_of(options.find.format)));
    if (options.scan.dpi) settings.emplace_back("dpi", text(*options.scan.dpi));
    if (!options.scan.infrared_path.empty()) settings.emplace_back("infrared", options.scan.infrared_path);
    if (options.scan.ignore_infrared) settings.emplace_back("no-infrared", "true");
    if (options.positives) {
        settings.emplace_back("output-profile", output_name(options.invert));
        settings.emplace_back("compression", compression_name(options.invert.compression));
        settings.emplace_back("mend", options.mend.mode == MendMode::off ? "off" : options.mend.mode == MendMode::all ? "all" : "safe");
        if (options.mend.keep_unmended) settings.emplace_back("keep-unmended", "true");
        settings.emplace_back("icc-version", text(options.invert.icc_version));
        if (options.invert.linear) settings.emplace_back("linear", "true");
        if (options.invert.density) settings.emplace_back("density", "true");
        const PrintValues print = print_of_run(options);
        settings.emplace_back("balance", balance_option(print.balance));
        settings.emplace_back("exposure", text(print.exposure.value()));
        settings.emplace_back("contrast", text(print.contrast));
        settings.emplace_back("black-point", text(print.black_point.value()));
        settings.emplace_back("saturation", text(print.saturation));
        if (!options.settings_path.empty()) settings.emplace_back("settings", options.settings_path);
    }
    return settings;
}

std::vector<NamedLayout> layouts_of(const RunRecord& record) {
    std::vector<NamedLayout> layouts;
    for (const ScanRecord& scan : record.scans) {
        if (scan.failure) continue;
        NamedLayout layout;
        layout.file = scan.file;
        layout.layout.scale = scan.scale;
        layout.layout.scale_origin = scan.scale_origin;
        for (const StripRecord& strip : scan.strips) {
            StripNaming naming{strip.roll, {}};
            for (const FrameRecord& frame : strip.frames) naming.numbers.push_back(frame.number);
            layout.layout.strips.push_back(strip.box);
            layout.names.push_back(std::move(naming));
        }
        layouts.push_back(std::move(layout));
    }
    return layouts;
}

}  // namespace basefog::pipeline
