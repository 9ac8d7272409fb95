// SPDX-License-Identifier: GPL-3.0-or-later
// An invented run with everything a report can hold: fresh and expired colour, black-and-white, four grades of residue,
// blank and fogged frames, frames placed by pitch and by hand, a scan that failed. No number here was measured.
#pragma once

#include "basefog/report/types.h"

#include <algorithm>
#include <cmath>
#include <string>

namespace basefog::sample {

inline constexpr double kPxPerMm = 7.874;  // 200 dpi
/// Not a picture: the report passes bytes through without looking into them. Holds a zero and all but one base64 tail length.
inline std::string picture_bytes(int seed) {
    std::string bytes("\xff\xd8\xff\xe0\0\x10JFIF", 10);
    for (int i = 0; i < 20 + seed % 3; ++i) bytes += static_cast<char>((seed * 37 + i * 11) & 0xff);
    return bytes;
}

inline Date date(int y, unsigned m, unsigned d) { return Date(std::chrono::year(y), std::chrono::month(m), std::chrono::day(d)); }

template <class T>
Measured<T> measured(double value, double std_uncertainty, std::int64_t n, MeasureFlag flags = MeasureFlag::none) {
    return {T(value), T(std_uncertainty), n, flags};
}

/// A w x h mm box whose read-order first corner is at (x, y) mm, turned by `angle_deg`; vertical boxes are read downwards.
inline Quad box_mm(double x, double y, double w, double h, double angle_deg, bool vertical) {
    const double turn = (angle_deg + (vertical ? 90 : 0)) * 3.14159265358979323846 / 180;
    const double c = std::cos(turn), s = std::sin(turn);
    const auto at = [&](double u, double v) { return PointPx{(x + u * c - v * s) * kPxPerMm, (y + u * s + v * c) * kPxPerMm}; };
    return {at(0, 0), at(w, 0), at(w, h), at(0, h)};
}

inline FrameExposure exposure(double offset, double range_lost, bool silver) {
    const auto lost = [](double margin) { return 100.0 / (1.0 + std::exp(margin / 0.55)); };
    const double floor = silver ? 3.2 : 2.9;
    FrameExposure e;
    e.offset = measured<Stops>(offset, 0.08, 4200);
    e.shadow_lost_percent = measured<double>(lost(offset + floor - range_lost), 0.6, 86400);
    e.highlight_lost_percent = measured<double>(lost(5.4 - offset), 0.2, 86400);
    for (int half = -6; half <= 6; ++half)
        e.what_if.push_back({Stops(half * 0.5), lost(offset + half * 0.5 + floor - range_lost), lost(5.4 - offset - half * 0.5)});
    e.render_level = LogExposure(offset * kLog10Of2 - 0.02);
    e.darkest = to_log_exposure(Stops(offset - 4.5)), e.brightest = to_log_exposure(Stops(offset + 2.6));
    e.reading_std = Stops(0.04);
    return e;
}

inline StripBase base_of(double r, double g, double b, bool silver) {
    StripBase base;
    base.base = {measured<Density>(r, 0.004, 9100), measured<Density>(g, 0.005, 9100), measured<Density>(b, 0.007, 9100)};
    base.base_ir = measured<Density>(0.043, 0.006, 9100);
    base.noise = {0.011, 0.012, 0.017};
    base.silver_image = silver;
    return base;
}

inline StripResidue residue_of(ResidueGrade grade, double area, double mean, double veil, std::vector<std::string> patterns) {
    StripResidue r;
    r.grade = grade;
    r.area_percent = measured<double>(area, 0.1 + area * 0.05, 40000);
    r.mean = measured<Density>(mean, 0.002, 40000);
    r.veil = measured<Density>(veil, 0.003, 40000);
    r.veil_separable = veil > 0;
    r.patterns = std::move(patterns);
    r.dust_count = 14 + static_cast<int>(area);
    return r;
}

struct StripPlan {
    std::string roll;
    double x_mm, y_mm, angle_deg;
    bool vertical;
    int first, count;
    double offset;
    bool silver;
};

inline StripRecord strip(const StripPlan& plan, const StripBase& base, StripResidue residue) {
    StripRecord s;
    s.roll = plan.roll;
    s.base = base;
    s.box.corners = box_mm(plan.x_mm, plan.y_mm, plan.count * 38.0 + 4, 35, plan.angle_deg, plan.vertical);
    s.box.angle_deg = plan.angle_deg;
    s.box.direction = plan.vertical ? StripDirection::vertical : StripDirection::horizontal;
    s.box.confidence = 0.98;
    const double turn = (plan.angle_deg + (plan.vertical ? 90 : 0)) * 3.14159265358979323846 / 180;
    for (int i = 0; i < plan.count; ++i) {
        const double u = 3 + i * 38.0, v = 5.5;
        FrameRecord f;
        f.number = plan.first + i;
        f.box.corners = box_mm(plan.x_mm + u * std::cos(turn) - v * std::sin(turn), plan.y_mm + u * std::sin(turn) + v * std::cos(turn), 36, 24, plan.angle_deg,
                               plan.vertical);
        f.box.confidence = 0.97;
        f.box.edge_std = Millimetres(0.04);
        const std::string stem = plan.roll + "-" + (f.number < 10 ? "0" : "") + std::to_string(f.number);
        f.positive = "positives/" + stem + ".tif";
        f.proof = "proofs/" + stem + ".jpg";
        f.thumbnail_jpeg = picture_bytes(f.number);
        f.exposure = exposure(plan.offset + 0.9 * std::sin(1.7 * f.number), 0.5 * std::cos(2.3 * f.number), plan.silver);
        f.residue_area_percent = residue.area_percent.value * (0.5 + (i % 3) * 0.5);
        residue.frame_area_percent.push_back(f.residue_area_percent);
        s.box.frames.push_back(f.box);
        s.frames.push_back(std::move(f));
    }
    s.residue = std::move(residue);
    return s;
}

inline void make_empty(FrameRecord& frame, FrameKind kind) {
    frame.box.kind = kind;
    frame.box.placed_by_pitch = true;
    frame.box.confidence = 0.82;
    frame.positive.clear();
    frame.proof.clear();
    frame.thumbnail_jpeg = {};
    frame.exposure = {};
}

inline ScanRecord scan(const std::string& file, double width_mm, double height_mm) {
    ScanRecord s;
    s.file = file;
    s.info.path = file;
    s.info.width = static_cast<std::int64_t>(width_mm * kPxPerMm);
    s.info.height = static_cast<std::int64_t>(height_mm * kPxPerMm);
    s.info.has_infrared = true;
    s.info.infrared_from = "fourth sample";
    s.info.encoding_origin = Origin::option;
    s.info.resolution = PixelsPerMm(kPxPerMm);
    s.info.resolution_origin = Origin::file;
    s.info.date = "2026-03-16T20:41:00";
    s.scale = PixelsPerMm(kPxPerMm);
    s.scale_origin = ScaleOrigin::perforations;
    s.defect_map = "maps/" + file + ".defects.png";
    s.overview_jpeg = picture_bytes(101);
    s.residue_png = picture_bytes(102);
    return s;
}

inline FilmModel film_model(double toe, bool silver) {
    FilmModel m;
    m.silver = silver;
    m.dye_from_channel = {{{1.06, -0.05, -0.01}, {-0.11, 1.17, -0.06}, {-0.04, -0.15, 1.19}}};
    m.curves = {LayerCurve{0.61, LogExposure(toe), 0.11, LogExposure(1.9), 0.28}, LayerCurve{0.66, LogExposure(toe + 0.05), 0.12, LogExposure(1.95), 0.28},
                LayerCurve{0.71, LogExposure(toe + 0.12), 0.14, LogExposure(1.85), 0.30}};
    m.balance = {LogExposure(-0.06), LogExposure(0.0), LogExposure(0.11)};
    if (silver) {
        m.dye_from_channel = {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
        m.curves = {m.curves.r, m.curves.r, m.curves.r};
        m.balance = {};
    }
    m.balance_std = {0.03, 0.02, 0.04};
    m.basis = {"the roll's own pictures, 14 of them", "the roll's own pictures and what is usual for the process",
               "the stock's balance, the light told, and the pictures", "the convention that the middle frame is exposed as told"};
    m.slope = {measured<double>(m.curves.r.slope, 0.02, 14), measured<double>(m.curves.g.slope, 0.02, 14),
               measured<double>(m.curves.b.slope, 0.03, 14, MeasureFlag::assumed)};
    return m;
}

inline std::vector<GrainPoint> grain() {
    return {{{0, 0, 0}, {0.011, 0.012, 0.017}, {25.9, 28.2, 40.0}},
            {{0.5, 0.5, 0.5}, {0.017, 0.018, 0.024}, {40.0, 42.3, 56.4}},
            {{1.0, 1.0, 1.0}, {0.021, 0.022, 0.029}, {49.4, 51.7, 68.2}}};
}

inline Stock stock(const std::string& id, StockKind kind, double speed, double kelvin, const std::string& process) {
    Stock s;
    s.id = id;
    s.kind = kind;
    s.box_speed = speed;
    s.balance = Kelvin(kelvin);
    s.own_process = process;
    return s;
}

inline Bath bath() { return {"kit-2", "stills colour developer, 1 l kit", 1.0, date(2026, 2, 20), 8}; }

inline Session session(const std::string& id, Date day, double soak) {
    Session s;
    s.id = id;
    s.date = day;
    s.bath = "kit-2";
    s.wash = BackingWash{"sodium carbonate", 20.0, Celsius(40), soak, 4};
    s.developer_minutes = 3.25;
    s.developer_temperature = Celsius(38);
    s.process = "C-41";
    return s;
}

inline Verdict verdict(Outcome outcome, const std::string& text, double over, double lost, double at_box, std::optional<Stops> spare) {
    std::vector<WhatIf> what_if;
    for (int half = -6; half <= 6; ++half) what_if.push_back({Stops(half * 0.5), std::min(100.0, lost * std::exp2(-half * 0.5)), 0.4 * std::exp2(half * 0.5)});
    return {outcome, text, Stops(over), lost, at_box, spare, 0.4, Stops(0.5), 3, 9.1, 11, what_if};
}

inline RollComparison comparison_of(const RollRecord& roll, const Rgb<Measured<Density>>& clearest) {
    RollComparison c;
    c.roll = roll.roll.id, c.stock = roll.roll.stock;
    c.rating = roll.roll.rating, c.box_speed = roll.facts.box_speed;
    c.base = roll.base;
    for (int i = 0; i < 3; ++i) c.fog[i] = measured<Density>((roll.base[i].value - clearest[i].value).value(), 0.002, 40);
    c.slope = roll.film.model.slope;
    c.red_to_green = measured<double>(0.93, 0.02, 14), c.blue_to_green = measured<double>(1.08, 0.03, 14);
    c.granularity = {25.9, 28.2, 40.0}, c.granularity_at_1 = {49.4, 51.7, 0};
    c.speed = roll.film.speed;
    c.shadow_lost_percent = roll.film.verdict.shadow_lost_percent;
    return c;
}

inline RollRecord roll(const std::string& id, const Stock& stock_used, const Session& session_used, double rating, int reel) {
    RollRecord r;
    r.roll.id = id;
    r.roll.stock = stock_used.id;
    r.roll.session = session_used.id;
    r.roll.rating = rating;
    r.roll.light = Kelvin(5600);
    r.roll.tank = "two-reel tank";
    r.roll.reel = reel;
    r.stock = stock_used;
    r.session = session_used;
    r.bath = bath();
    r.bath_age_days = 22;
    r.facts.id = id, r.facts.stock = stock_used.id, r.facts.session = session_used.id;
    r.facts.box_speed = stock_used.box_speed, r.facts.rating = rating;
    r.facts.stock_balance = stock_used.balance, r.facts.light = Kelvin(5600);
    r.facts.black_and_white_told = stock_used.kind == StockKind::black_and_white;
    r.facts.process = "C-41", r.facts.own_process = stock_used.own_process;
    r.film.grain = grain();
    return r;
}

inline void collect_frames(RunRecord& record) {
    for (RollRecord& r : record.rolls)
        for (int i = 0; i < static_cast<int>(record.scans.size()); ++i)
            for (int j = 0; j < static_cast<int>(record.scans[i].strips.size()); ++j)
                for (int k = 0; record.scans[i].strips[j].roll == r.roll.id && k < static_cast<int>(record.scans[i].strips[j].frames.size()); ++k) {
                    r.frames.push_back({i, j, k});
                    r.film.frames.push_back(record.scans[i].strips[j].frames[k].exposure);
                }
}

inline void add_sheets(RunRecord& record) {
    ScanRecord first = scan("harbour-1.tif", 256, 190);
    const StripBase fresh = base_of(0.214, 0.602, 0.893, false), old = base_of(0.262, 0.701, 1.148, false);
    first.strips.push_back(strip({"R1", 11, 8, 0.4, false, 1, 6, 0.2, false}, fresh, residue_of(ResidueGrade::clean, 0.0, 0.0, 0.0, {})));
    first.strips.push_back(strip({"R1", 12, 53, -0.3, false, 7, 6, 0.4, false}, fresh, residue_of(ResidueGrade::trace, 0.7, 0.002, 0.001, {"specks"})));
    first.strips.push_back(
        strip({"R2", 11, 98, 0.1, false, 1, 6, 1.6, false}, old, residue_of(ResidueGrade::partial, 7.4, 0.011, 0.012, {"edge smears", "specks"})));
    first.strips.push_back(strip({"R2", 13, 143, 0.0, false, 7, 5, 1.4, false}, old, residue_of(ResidueGrade::partial, 5.1, 0.009, 0.012, {"edge smears"})));
    make_empty(first.strips[1].frames[5], FrameKind::blank);
    make_empty(first.strips[2].frames[0], FrameKind::fogged);
    first.strips[3].frames[2].box.confidence = 0.61;
    first.strips[3].frames[2].box.placed_by_pitch = true;
    first.strips[0].frames[3].box.by_hand = true;

    ScanRecord second = scan("harbour-2.tif", 190, 250);
    // As if a camera had taken it in two shots.
    second.info.settings = {"Invented Copy stand", 0.02, 8, 100};
    second.info.light_divided = true;
    second.info.lens = LensModel{-0.0201, 0.0042};
    second.info.shots = 2;
    second.info.other_exposures = {4.0};
    second.shots = {{"harbour-2.tif", {}, {}, 1, 0, {1, 1, 1}}, {"harbour-<2b>.tif", Millimetres(17.25), Millimetres(0.0084), 0.997, 0.52, {1.01, 1.0, 0.99}}};
    second.relative_densities = true;
    second.info.bits = 8;
    second.info.warnings = {"8 bits a sample: densities above about 1.8 are coarse."};
    second.strips.push_back(strip({"R3", 48, 8, 0.6, true, 1, 6, -1.3, false}, base_of(0.301, 0.744, 1.231, false),
                                  residue_of(ResidueGrade::heavy, 21.5, 0.034, 0.028, {"veil", "streaks along the travel", "patches"})));
    second.strips.push_back(
        strip({"R4", 120, 8, -0.2, true, 1, 6, 0.1, true}, base_of(0.291, 0.288, 0.290, true), residue_of(ResidueGrade::clean, 0, 0, 0, {})));

    ScanRecord failed;
    failed.file = "harbour-3.tif";
    failed.failure =
        Error{ErrorCode::malformed, "the file ends after row 1,204 of 9,448", "scans/harbour-3.tif", "scan the sheet again, or copy the file anew"};
    record.scans.push_back(std::move(first));
    record.scans.push_back(std::move(second));
    record.scans.push_back(std::move(failed));
}

inline void add_rolls(RunRecord& record) {
    const Stock t500 = stock("tungsten 500", StockKind::colour_negative, 500, 3200, "ECN-2");
    Stock expired = stock("tungsten 500, short ends of 2009", StockKind::colour_negative, 500, 3200, "ECN-2");
    expired.expiry = date(2009, 6, 1);
    const Stock bw = stock("panchromatic 250", StockKind::black_and_white, 250, 5500, "black-and-white");
    const Session s1 = session("14 March, evening", date(2026, 3, 14), 1.5), s2 = session("15 March", date(2026, 3, 15), 3);

    RollRecord r1 = roll("R1", t500, s1, 400, 1), r2 = roll("R2", expired, s1, 125, 2), r3 = roll("R3", expired, s2, 500, 1), r4 = roll("R4", bw, s2, 250, 2);
    r1.rolls_done_before = r2.rolls_done_before = 4;
    r3.rolls_done_before = r4.rolls_done_before = 9;
    r2.facts.years_past_expiry = r3.facts.years_past_expiry = 16.8;
    r1.base = record.scans[0].strips[0].base.base;
    r2.base = record.scans[0].strips[2].base.base;
    r3.base = record.scans[1].strips[0].base.base;
    r4.base = record.scans[1].strips[1].base.base;
    for (RollRecord* r : {&r1, &r2, &r3, &r4}) {
        r->spot_noise = {0.011, 0.012, 0.017};
        r->mask_srgb = {203, 131, 92};
        r->film.limits = {Stops(-4.2), Stops(6.9)};
        r->film.speed = {180.0, Stops(0.4), measured<Stops>(0.6, 0.1, 12)};
    }
    r2.film.wedges = {{0, {{LogExposure(0), {0.01, 0.01, 0.02}}, {LogExposure(0.15), {0.03, 0.04, 0.05}}}}};
    r2.film.other_lights = {{{1}, {LogExposure(0.21), LogExposure(-0.02), LogExposure(-0.3)}, {0.04, 0, 0.05}, std::nullopt, 0.97, "3 pictures agree"}};
    r4.silver_image = true;
    r1.film.model = film_model(-1.05, false);
    r2.film.model = film_model(-0.72, false);
    r3.film.model = film_model(-0.70, false);
    r4.film.model = film_model(-1.1, true);
    r1.film.verdict =
        verdict(Outcome::at_box_speed, "Rated a third of a stop below box speed. 1.4 % of the shadows cannot be told from base; a fresh roll needs no more.",
                0.32, 1.4, 2.3, Stops(0.3));
    r2.film.verdict = verdict(
        Outcome::paid_off,
        "Two stops over box speed kept the shadows: 3.8 % cannot be told from base, where box speed would have lost about 27 %. About half a stop is to spare.",
        2.0, 3.8, 27.1, Stops(0.5));
    r3.film.verdict = verdict(Outcome::not_enough, "Shot at box speed: 34 % of the shadows are lost in the fog. Give the rest of this stock two stops more.",
                              0.0, 34.0, 34.0, std::nullopt);
    r4.film.verdict = verdict(Outcome::cannot_tell, "Only six frames, and no darker scene among them: the shadows say nothing.", 0.0, 0.9, 0.9, std::nullopt);
    r1.worst_residue = ResidueGrade::trace;
    r2.worst_residue = ResidueGrade::partial;
    r3.worst_residue = ResidueGrade::heavy;
    r1.residue_area_percent = 0.35;
    r2.residue_area_percent = 6.3;
    r3.residue_area_percent = 21.5;
    for (RollRecord* r : {&r1, &r2, &r3, &r4}) r->contact_sheet = "contact/" + r->roll.id + ".jpg";
    r3.film.findings.push_back(
        {Severity::caution, "slope-assumed", "Too few bright scenes to tell the blue layer's slope; what is usual for the process was taken.", {}, {}});
    record.comparisons = {{"tungsten 500 / tungsten 500, short ends of 2009",
                           "C-41",
                           "R1",
                           {comparison_of(r1, r1.base), comparison_of(r2, r1.base), comparison_of(r3, r1.base)},
                           "Roll R3 has 0.09, 0.14, 0.34 more base density (red, green, blue) than roll R1. It is 1.2 ± 0.2 stop slower."}};
    record.rolls = {std::move(r1), std::move(r2), std::move(r3), std::move(r4)};
}

/// Everything at once.
inline RunRecord rich() {
    RunRecord record;
    record.version = "0.1.0";
    record.command = "invert";
    record.finished = "2026-03-17T09:12:44Z";
    record.ledger = "harbour.toml";
    record.settings = {{"ledger", "harbour.toml"}, {"output", "harbour-results"}, {"encoding", "linear"}, {"compression", "deflate"}};
    add_sheets(record);
    add_rolls(record);
    collect_frames(record);
    record.findings = {
        {Severity::serious,
         "residue-heavy",
         "Roll R3 carries backing over a fifth of its surface. A second wash can still save it.",
         {"harbour-2.tif", 0, -1, "R3"},
         {{"area_percent", 21.5}, {"veil_density", 0.028}}},
        {Severity::caution,
         "edge-uncertain",
         "This frame's edges are dark and were placed from its neighbours; look at its crop.",
         {"harbour-1.tif", 3, 2, "R2"},
         {{"confidence", 0.61}}},
        {Severity::caution, "bath-tired", "Bath kit-2 had done 9 rolls before this session and is good for 8.", {"", -1, -1, "R3"}, {{"rolls_before", 9}}},
        {Severity::note, "bare-light-missing", "No bare light in view: densities are relative to the clearest film.", {"harbour-2.tif", -1, -1, ""}, {}},
    };
    return record;
}

/// A run over nothing.
inline RunRecord empty() {
    RunRecord record;
    record.version = "0.1.0";
    record.command = "measure";
    return record;
}

/// One scan, which failed.
inline RunRecord failed_only() {
    RunRecord record = rich();
    record.scans.erase(record.scans.begin(), record.scans.begin() + 2);
    record.rolls.clear();
    record.findings.clear();
    return record;
}

/// A black-and-white roll alone, no infrared.
inline RunRecord black_and_white() {
    RunRecord record = rich();
    record.scans = {record.scans[1]};
    record.scans[0].strips.erase(record.scans[0].strips.begin());
    record.scans[0].info.has_infrared = false;
    record.scans[0].info.infrared_from.clear();
    record.scans[0].info.colour_channels = 1;
    record.rolls = {record.rolls[3]};
    record.rolls[0].frames.clear();
    record.rolls[0].film.frames.clear();
    record.findings.clear();
    collect_frames(record);
    return record;
}

/// The same pictures with nothing told about them.
inline RunRecord no_ledger() {
    RunRecord record = rich();
    record.ledger.clear();
    record.command = "measure";
    for (RollRecord& r : record.rolls) {
        const std::string id = r.roll.id;
        r.roll = {};
        r.roll.id = id;
        r.facts = {};
        r.facts.id = id;
        r.stock.reset();
        r.session.reset();
        r.bath.reset();
        r.rolls_done_before.reset();
        r.bath_age_days.reset();
        r.film.verdict.outcome = Outcome::cannot_tell;
        r.film.verdict.text = "Cannot tell whether more exposure than the box asks paid off: neither is told.";
        r.film.verdict.rated_over.reset();
        r.contact_sheet.clear();
    }
    for (ScanRecord& s : record.scans)
        for (StripRecord& t : s.strips)
            for (FrameRecord& f : t.frames) f.positive.clear();
    return record;
}

/// Markup, formulas, quotes, line breaks, control characters, a mark that turns the reading direction, bytes that are no UTF-8.
inline const std::string& hostile_name() {
    static const std::string kName = "=R\"1'<script>alert(1)</script>&lt;, a\r\nb\x01\xff\xc0\x80\xe2\x80\xae]]>--><!--";
    return kName;
}

/// Every text that comes from outside is hostile.
inline RunRecord hostile() {
    RunRecord record = rich();
    const std::string& bad = hostile_name();
    record.ledger = record.finished = record.version = record.command = bad;
    record.settings.emplace_back(bad, bad);
    for (ScanRecord& s : record.scans) {
        s.file = s.info.path = s.info.infrared_from = s.info.profile_name = s.info.date = bad + s.file;
        s.info.warnings = {bad};
        s.defect_map = "javascript:alert(1)//" + bad;
        if (s.failure) s.failure->what = s.failure->hint = s.failure->path = bad;
        for (StripRecord& t : s.strips) {
            t.roll = bad + t.roll;
            t.residue.patterns.push_back(bad);
            for (FrameRecord& f : t.frames) {
                f.positive = "//elsewhere.invalid/" + bad;
                f.proof = "javascript:alert(1)";
            }
        }
    }
    for (RollRecord& r : record.rolls) {
        r.roll.id = bad + r.roll.id;
        r.roll.note = r.roll.tank = r.roll.stock = r.stock->id = r.stock->own_process = r.facts.process = r.facts.own_process = bad;
        r.roll.session = r.session->id = bad + r.session->id;
        r.session->process = r.session->wash->agent = r.session->bath = r.bath->id = r.bath->kind = bad;
        r.film.verdict.text = bad;
        r.film.model.basis.fill(bad);
        r.contact_sheet = "/" + bad;
    }
    record.findings.push_back({Severity::serious, bad, bad, {record.scans[0].file, 0, 0, record.rolls[0].roll.id}, {{bad, 1.0}}});
    return record;
}

/// Numbers that are none, wherever a measurement stands.
inline RunRecord not_finite() {
    RunRecord record = rich();
    const double nan = std::nan(""), inf = HUGE_VAL;
    for (ScanRecord& s : record.scans) {
        s.scale = PixelsPerMm(nan);
        for (StripRecord& t : s.strips) {
            t.base.base.r = measured<Density>(nan, inf, 0);
            t.residue.area_percent = measured<double>(nan, nan, 0);
            for (FrameRecord& f : t.frames) {
                f.exposure.offset = measured<Stops>(-inf, nan, 0);
                f.exposure.shadow_lost_percent.value = inf;
                for (WhatIf& w : f.exposure.what_if) w.shadow_lost_percent = nan;
                f.box.corners[2].x = nan;
            }
        }
    }
    for (RollRecord& r : record.rolls) {
        r.film.model.curves.g = {nan, LogExposure(inf), 0, LogExposure(-inf), nan};
        r.film.model.slope.r.value = nan;
        r.spot_noise = {nan, inf, -inf};
        r.film.verdict.rated_over = Stops(nan);
        r.film.verdict.shadow_lost_percent = inf;
    }
    record.findings.push_back({Severity::note, "odd", "Odd.", {}, {{"value", nan}}});
    return record;
}

}  // namespace basefog::sample
