// SPDX-License-Identifier: GPL-3.0-or-later
// invert and measure: argv to RunOptions, the run, and a few lines of what came out.
#include "commands.h"
#include "console.h"
#include "exit_code.h"
#include "run_options.h"
#include "summary.h"

#include "basefog/history/history_file.h"
#include "basefog/ledger/read_ledger.h"
#include "basefog/ledger/settings_file.h"
#include "basefog/pipeline/run.h"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <filesystem>
#include <map>
#include <memory>
#include <string>

namespace basefog::cli {
namespace {

/// The command line as typed; turned into RunOptions once parsed.
struct Typed {
    RunOptions run;
    std::string ledger, settings, encoding, format = "auto", output_profile, balance;
    std::optional<Compression> compression;
    std::optional<int> icc_version;
    std::optional<double> exposure, contrast, black_point, saturation;
    std::optional<double> dpi;
    std::uint64_t memory = 768ULL * 1024 * 1024;
    std::string fail_on = "none";
    bool quiet = false, verbose = false;
};

const std::map<std::string, Compression> kCompressions{
    {"none", Compression::none}, {"lzw", Compression::lzw}, {"deflate", Compression::deflate}, {"zstd", Compression::zstd}};

void add_input_options(CLI::App& command, Typed& typed) {
    command.add_option("SCAN", typed.run.scans, "scans of strips, or folders of them: TIFF, PNG, JPEG or RAW; with a ledger, its sheets when none is named");
    command.add_option("--ledger", typed.ledger, "TOML file of stocks, baths, sessions, rolls and sheets")->option_text("FILE");
    command.add_option("--output", typed.run.output_folder, "results folder (default: basefog-results)")->option_text("DIR");
    command.add_option("--layout", typed.run.layout_path, "strips and frames corrected by hand")->option_text("FILE");
    command.add_option("--history", typed.run.history_path, "let earlier rolls of a stock, kept there, speak for its rolls here")->option_text("FILE");
    command.add_option("--encoding", typed.encoding, "of scans without a profile: linear, srgb, or a gamma number")->option_text("linear|srgb|GAMMA");
    command.add_option("--dpi", typed.dpi, "resolution, where the file does not say or is wrong")->option_text("N");
    command.add_option("--format", typed.format, "of the frames (default: auto, told from the film)")
        ->option_text("auto|36x24|18x24|24x65|6x4.5|6x6|6x7")
        ->check([](const std::string& name) { return format_named(name) ? std::string{} : "is none of auto, 36x24, 18x24, 24x65, 6x4.5, 6x6 and 6x7"; });
    auto* infrared = command.add_option("--infrared", typed.run.scan.infrared_path, "infrared of the (one) scan, in a file of its own")->option_text("FILE");
    command.add_flag("--close-up", typed.run.find.close_up, "each file is a camera's shot of one frame; without a ledger, of one roll in the order given");
    command.add_flag("--join", typed.run.join_shots,
                     "scans are a camera's overlapping shots of strips, in order: each folder of one, single files of one together");
    command.add_option("--light-frame", typed.run.scan.light_frame_path, "a shot of the bare light, to divide the others by")->option_text("FILE");
    command.add_option("--dark-frame", typed.run.scan.dark_frame_path, "a shot with the lens capped, to take off all of them")->option_text("FILE");
    command.add_flag("--no-infrared", typed.run.scan.ignore_infrared, "do not use infrared even where there is some")->excludes(infrared);
    command.add_option("--max-pixels", typed.run.scan.max_pixels, "refuse larger images (default: 2000000000)")->option_text("N")->check(CLI::PositiveNumber);
}

const std::map<std::string, MendMode> kMendModes{{"off", MendMode::off}, {"safe", MendMode::safe}, {"all", MendMode::all}};

void add_picture_options(CLI::App& command, Typed& typed) {
    command.add_option("--mend", typed.run.mend.mode, "take out dust, scratches and backing: all infrared tells, else only what is certain (default: safe)")
        ->option_text("off|safe|all")
        ->transform(CLI::CheckedTransformer(kMendModes));
    command.add_flag("--keep-unmended", typed.run.mend.keep_unmended, "write each mended positive without mending too");
    command.add_option("--output-profile", typed.output_profile, "srgb, wide, linear, or an RGB ICC profile file (default: srgb)")
        ->option_text("srgb|wide|linear|FILE");
    command.add_option("--icc-version", typed.icc_version, "of the built-in profiles: 4, or 2 for old viewers (default: 4)")
        ->option_text("4|2")
        ->check(CLI::IsMember({2, 4}));
    command.add_option("--compression", typed.compression, "of the positives (default: deflate)")
        ->option_text("none|lzw|deflate|zstd")
        ->transform(CLI::CheckedTransformer(kCompressions));
    command.add_flag("--linear", typed.run.invert.linear, "also scene-linear light, as OpenEXR in ACES2065-1");
    command.add_flag("--density", typed.run.invert.density, "also film density above base, as ADX16 in TIFF");
    command.add_option("--settings", typed.settings, "choices of print for the run, its rolls and frames; results hold such a file")->option_text("FILE");
    command.add_option("--balance", typed.balance, "what makes a grey grey: the roll, each frame, or stops off the layers (default: roll)")
        ->option_text("roll|frame|R,G,B");
    command.add_option("--exposure", typed.exposure, "brighter or darker, in stops (default: 0)")->option_text("STOPS");
    command.add_option("--contrast", typed.contrast, "slope of the tone curve at mid-grey (default: 1)")->option_text("X");
    command.add_option("--black-point", typed.black_point, "where the print runs into black, in stops from mid-grey (default: -7)")->option_text("STOPS");
    command.add_option("--saturation", typed.saturation, "of the colours (default: 1)")->option_text("X");
}

void add_manner_options(CLI::App& command, Typed& typed) {
    command.add_option("--threads", typed.run.threads, "0: as many as the machine has (default)")->option_text("N")->check(CLI::NonNegativeNumber);
    command.add_option("--memory", typed.memory, "limit, e.g. 512M or 2G (default: 768M)")->option_text("SIZE")->transform(CLI::AsSizeValue(false));
    auto* replace = command.add_flag("--replace", typed.run.replace, "make everything anew, over earlier results in the output folder");
    command.add_flag("--update", typed.run.update, "make anew what changed, over earlier results; keep the rest")->excludes(replace);
    command.add_flag("--keep-going", typed.run.keep_going, "leave out sheets whose results cannot be made, and go on; exit with 6 if there are any");
    command.add_option("--fail-on", typed.fail_on, "exit with 1 when there are findings of this kind (default: none)")
        ->option_text("none|caution|serious")
        ->check(CLI::IsMember({"none", "caution", "serious"}));
    auto* quiet = command.add_flag("--quiet", typed.quiet, "print errors only");
    command.add_flag("--verbose", typed.verbose, "print each step and every finding")->excludes(quiet);
}

/// What the history knows of earlier rolls.
Result<void> read_history(RunOptions& options, Observer& observer) {
    if (options.history_path.empty()) return {};
    const auto file = HistoryFile::open(options.history_path, HistoryAccess::read, observer);
    if (!file) return Failure(file.error());
    auto rolls = file->rolls();
    if (!rolls) return Failure(std::move(rolls.error()));
    options.history = std::move(*rolls);
    return {};
}

Result<BalanceChoice> balance_from(const std::string& text) {
    BalanceChoice choice;
    if (text == "roll") return choice;
    choice.by = text == "frame" ? BalanceChoice::By::frame : BalanceChoice::By::numbers;
    if (text == "frame") return choice;
    const char* at = text.data();
    const char* const end = text.data() + text.size();
    for (int c = 0; c < 3; ++c) {
        double stops = 0;
        const auto [after, error] = std::from_chars(at, end, stops);
        const bool more = c < 2 ? after != end && *after == ',' : after == end;
        if (error != std::errc() || !more || !(std::abs(stops) <= PrintLimits::kMostStops))
            return fail(ErrorCode::usage, "--balance is neither roll, frame, nor three numbers of at most 10 stops", {}, "for example --balance 0.25,0,-0.4");
        choice.stops[c] = Stops(stops);
        at = after + 1;
    }
    return choice;
}

void use_profile(const std::string& name, InvertOptions& invert) {
    invert.profile_path.clear();
    if (name == "srgb") {
        invert.output = OutputSpace::srgb;
    } else if (name == "wide") {
        invert.output = OutputSpace::wide;
    } else if (name == "linear") {
        invert.output = OutputSpace::linear;
    } else {
        invert.output = OutputSpace::profile_file;
        invert.profile_path = name;
    }
}

/// The settings file, and over it what was typed.
Result<void> choose_pictures(const Typed& typed, RunOptions& options) {
    if (!typed.settings.empty()) {
        auto settings = read_settings(typed.settings);
        if (!settings) return Failure(std::move(settings.error()));
        const OutputSettings& output = settings->output;
        if (!output.profile.empty()) use_profile(output.profile, options.invert);
        if (output.icc_version) options.invert.icc_version = *output.icc_version;
        if (!output.compression.empty()) options.invert.compression = kCompressions.at(output.compression);
        options.invert.linear = options.invert.linear || output.linear.value_or(false);
        options.invert.density = options.invert.density || output.density.value_or(false);
        options.print = settings->print;
        options.roll_print = std::move(settings->rolls);
        options.settings_path = typed.settings;
    }
    if (!typed.output_profile.empty()) use_profile(typed.output_profile, options.invert);
    if (typed.icc_version) options.invert.icc_version = *typed.icc_version;
    if (typed.compression) options.invert.compression = *typed.compression;
    if (!typed.balance.empty()) {
        auto balance = balance_from(typed.balance);
        if (!balance) return Failure(std::move(balance.error()));
        options.print.balance = *balance;
    }
    if (typed.exposure) options.print.exposure = Stops(*typed.exposure);
    if (typed.contrast) options.print.contrast = typed.contrast;
    if (typed.black_point) options.print.black_point = Stops(*typed.black_point);
    if (typed.saturation) options.print.saturation = typed.saturation;
    return {};
}

Result<RunOptions> options_from(Typed& typed, Observer& observer) {
    RunOptions options = std::move(typed.run);
    constexpr std::uint64_t kMostMemory = 1ULL << 50;  // a negative number comes out of the parser as a huge one
    if (typed.memory > kMostMemory) return fail(ErrorCode::usage, "--memory is negative or beyond any machine", {}, "give a size such as 512M or 2G");
    options.memory_bytes = static_cast<std::int64_t>(typed.memory);
    options.scan.dpi = typed.dpi;
    options.find.format = *format_named(typed.format);
    options.finished = time_now();
    if (auto chosen = choose_pictures(typed, options); !chosen) return Failure(std::move(chosen.error()));
    if (!typed.encoding.empty()) {
        auto encoding = parse_encoding(typed.encoding);
        if (!encoding) return Failure(std::move(encoding.error()));
        options.scan.encoding = *encoding;
    }
    if (!typed.ledger.empty()) {
        auto ledger = read_ledger(typed.ledger);
        if (!ledger) return Failure(std::move(ledger.error()));
        options.ledger = std::move(*ledger);
    }
    if (auto read = read_history(options, observer); !read) return Failure(std::move(read.error()));
    const std::size_t sheets = options.scans.empty() && options.ledger ? options.ledger->sheets.size() : options.scans.size();
    if (!options.scan.infrared_path.empty() && sheets > 1)
        return fail(ErrorCode::usage, "--infrared goes with one scan only", {}, "name the infrared files in the ledger's sheets");
    std::error_code ignored;
    if (options.write_layout && !options.replace && !options.update && std::filesystem::exists(options.layout_output, ignored))
        return fail(ErrorCode::unwritable, "is there already and may hold corrections by hand", options.layout_output, "name another file, or give --replace");
    return options;
}

int execute(Typed& typed, const std::string& verb) {
    Console console(typed.quiet ? Loudness::quiet : typed.verbose ? Loudness::verbose : Loudness::normal);
    typed.run.command = verb;
    typed.run.positives = verb == "invert";
    auto options = options_from(typed, console);
    if (!options) {
        console.error(describe(options.error()));
        // A ledger that is damaged is the person's to correct, like the command line; one that is missing is an input error.
        return options.error().code == ErrorCode::malformed ? kUsage : exit_code_of(options.error());
    }
    const auto record = run(*options, console);
    console.finish_line();
    if (!record) {
        console.error(describe(record.error()));
        // A scan that is damaged is recorded and the others go on; what is wrong here is the layout, or the profile that was named.
        const bool profile = !options->invert.profile_path.empty() && record.error().path == options->invert.profile_path;
        return record.error().code == ErrorCode::malformed || profile ? kUsage : exit_code_of(record.error());
    }
    if (!typed.quiet) print_summary(*record, *options, typed.verbose);
    const bool failed = std::any_of(record->scans.begin(), record->scans.end(), [](const ScanRecord& scan) { return scan.failure.has_value(); });
    if (failed) return options->keep_going ? kLeftOut : kInput;
    const auto at_least = [&](Severity severity) {
        return std::any_of(record->findings.begin(), record->findings.end(), [&](const Finding& finding) { return finding.severity >= severity; });
    };
    if ((typed.fail_on == "caution" && at_least(Severity::caution)) || (typed.fail_on == "serious" && at_least(Severity::serious))) return kFindings;
    return kOk;
}

}  // namespace

Result<RunOptions> run_options_of(const std::string& verb, std::vector<std::string> words) {
    CLI::App app;
    Typed typed;
    add_input_options(app, typed);
    if (verb == "invert") add_picture_options(app, typed);
    add_manner_options(app, typed);
    try {
        std::reverse(words.begin(), words.end());  // the parser takes them from the back
        app.parse(words);
    } catch (const CLI::ParseError& e) {
        return fail(ErrorCode::usage, std::string("the run cannot be made again: ") + e.what());
    }
    typed.run.command = verb;
    typed.run.positives = verb == "invert";
    return options_from(typed, silent_observer());
}

void add_run_commands(CLI::App& app, Action& action) {
    for (const std::string verb : {"invert", "measure"}) {
        const bool invert = verb == "invert";
        CLI::App* command =
            app.add_subcommand(verb, invert ? "scans to positives and a report: the main job" : "the same measurements and report, without positives");
        auto typed = std::make_shared<Typed>();
        add_input_options(*command, *typed);
        if (invert)
            add_picture_options(*command, *typed);
        else
            command->add_option("--write-layout", typed->run.layout_output, "write the strips and frames found, to correct by hand")->option_text("FILE");
        add_manner_options(*command, *typed);
        command->callback([&action, typed, verb] {
            typed->run.write_layout = !typed->run.layout_output.empty();
            action = [typed, verb] { return execute(*typed, verb); };
        });
    }
}

}  // namespace basefog::cli
