// SPDX-License-Identifier: GPL-3.0-or-later
// scans[], strips[] and frames[] of report.json.
#include "report/gather.h"
#include "report/json_parts.h"
#include "report/names.h"

namespace basefog::report {
namespace {

Json failure_json(const std::optional<Error>& failure) {
    if (!failure) return nullptr;
    return {{"code", name_of(failure->code)}, {"what", failure->what}, {"path", text_or_null(failure->path)}, {"hint", text_or_null(failure->hint)}};
}

Json exposure_json(const FrameExposure& exposure) {
    return {{"shadow_lost_percent", number(exposure.shadow_lost_percent.value)},
            {"highlight_lost_percent", number(exposure.highlight_lost_percent.value)},
            {"render_level_log10_h", number(exposure.render_level.value())},
            {"darkest_stops", number(to_stops(exposure.darkest).value())},
            {"brightest_stops", number(to_stops(exposure.brightest).value())},
            {"reading_std_stops", number(exposure.reading_std.value())},
            {"what_if", what_if_json(exposure.what_if)},
            {"uncertainty",
             {{"shadow_lost_percent", uncertainty(exposure.shadow_lost_percent)}, {"highlight_lost_percent", uncertainty(exposure.highlight_lost_percent)}}}};
}

Json frame_json(const FrameRecord& frame) {
    const bool exposed = has_exposure(frame);
    Json json = {{"number", frame.number},
                 {"kind", name_of(frame.box.kind)},
                 {"corners_px", quad(frame.box.corners)},
                 {"confidence", number(frame.box.confidence)},
                 {"edge_std_mm", number(frame.box.edge_std.value())},
                 {"placed_by_pitch", frame.box.placed_by_pitch},
                 {"by_hand", frame.box.by_hand},
                 {"cut_off", frame.box.cut_off},
                 {"positive", text_or_null(frame.positive)},
                 {"proof", text_or_null(frame.proof)},
                 {"linear", text_or_null(frame.linear)},
                 {"density", text_or_null(frame.density)},
                 {"residue_area_percent", number(frame.residue_area_percent)}};
    json["print"] = frame.positive.empty() ? Json(nullptr) : print_json(frame.print, frame.balance);
    json["exposure_offset_stops"] = exposed ? number(frame.exposure.offset.value.value()) : Json(nullptr);
    json["exposure"] = exposed ? exposure_json(frame.exposure) : Json(nullptr);
    json["mended"] = {{"mask", text_or_null(frame.mended_mask)},
                      {"unmended", text_or_null(frame.unmended)},
                      {"divided_percent", number(frame.divided_percent)},
                      {"filled_percent", number(frame.filled_percent)}};
    json["uncertainty"] = Json::object();
    if (exposed) json["uncertainty"]["exposure_offset_stops"] = uncertainty(frame.exposure.offset);
    return json;
}

Json residue_json(const StripResidue& residue) {
    Json json = {{"grade", name_of(residue.grade)},
                 {"area_percent", number(residue.area_percent.value)},
                 {"mean_density", number(residue.mean.value.value())},
                 {"veil_density", number(residue.veil.value.value())},
                 {"veil_separable", residue.veil_separable},
                 {"patterns", residue.patterns},
                 {"dust_count", residue.dust_count}};
    json["uncertainty"] = {
        {"area_percent", uncertainty(residue.area_percent)}, {"mean_density", uncertainty(residue.mean)}, {"veil_density", uncertainty(residue.veil)}};
    return json;
}

Json edge_print_json(const EdgePrint& print) {
    if (print.kind == EdgePrint::Kind::none) return nullptr;
    const bool tells = print.kind == EdgePrint::Kind::numbers;
    return {{"kind", name_of(print.kind)},
            {"text", print.text},
            {"turned", tells ? Json(print.turned) : Json(nullptr)},
            {"mirrored", tells ? Json(print.mirrored) : Json(nullptr)},
            {"confidence", tells ? number(print.confidence) : Json(nullptr)}};
}

Json perforations_json(const std::optional<Perforations>& perforations) {
    if (!perforations) return nullptr;
    const Perforations& p = *perforations;
    const bool known = p.kind != PerforationKind::unknown;
    return {{"kind", basefog::name_of(p.kind)},
            {"kind_confidence", known ? number(p.kind_confidence) : Json(nullptr)},
            {"pitch_mm", number(p.pitch.value.value())},
            {"hole_height_mm", number(p.hole_height.value.value())},
            {"shrinkage_percent", known && !has(p.shrinkage.flags, MeasureFlag::assumed) ? number(100 * p.shrinkage.value) : Json(nullptr)},
            {"holes", p.holes},
            {"uncertainty", {{"pitch_mm", uncertainty(p.pitch)}, {"hole_height_mm", uncertainty(p.hole_height)}}}};
}

Json strip_json(const StripRecord& strip, bool has_infrared) {
    const StripBase& base = strip.base;
    Json json = {{"roll", strip.roll},
                 {"corners_px", quad(strip.box.corners)},
                 {"angle_deg", number(strip.box.angle_deg)},
                 {"direction", name_of(strip.box.direction)},
                 {"perforations_seen", strip.box.perforations_seen},
                 {"perforations", perforations_json(strip.box.perforations)},
                 {"format", basefog::name_of(strip.box.format)},
                 {"format_confidence", number(strip.box.format_confidence)},
                 {"bow_mm", number(strip.box.bow.value.value())},
                 {"confidence", number(strip.box.confidence)},
                 {"edge_print", edge_print_json(strip.box.edge_print)},
                 {"base_density", triple({base.base.r.value.value(), base.base.g.value.value(), base.base.b.value.value()})},
                 {"base_density_infrared", has_infrared ? number(base.base_ir.value.value()) : Json(nullptr)},
                 {"base_spot_noise", triple(base.noise)},
                 {"silver_image", base.silver_image}};
    json["uncertainty"] = {{"base_density", Json::array({uncertainty(base.base.r), uncertainty(base.base.g), uncertainty(base.base.b)})},
                           {"bow_mm", uncertainty(strip.box.bow)}};
    if (has_infrared) json["uncertainty"]["base_density_infrared"] = uncertainty(base.base_ir);
    json["residue"] = residue_json(strip.residue);
    json["frames"] = Json::array();
    for (const FrameRecord& frame : strip.frames) json["frames"].push_back(frame_json(frame));
    return json;
}

Json encoding_json(const ScanInfo& info) {
    const bool gamma = info.encoding.kind == Encoding::Kind::gamma;
    return {{"kind", name_of(info.encoding.kind)},
            {"gamma", gamma ? number(info.encoding.gamma) : Json(nullptr)},
            {"profile_name", text_or_null(info.profile_name)},
            {"origin", name_of(info.encoding_origin)}};
}

Json lens_json(const std::optional<LensModel>& lens) {
    if (!lens) return nullptr;
    return {{"k1", number(lens->k1)}, {"k2", number(lens->k2)}};
}

Json settings_json(const CameraSettings& settings) {
    if (settings == CameraSettings{}) return nullptr;
    const auto told = [](double value) { return value > 0 ? number(value) : Json(nullptr); };
    return {{"camera", text_or_null(settings.camera)},
            {"exposure_seconds", told(settings.seconds)},
            {"f_number", told(settings.f_number)},
            {"iso", told(settings.iso)}};
}

Json exposures_json(const ScanInfo& info) {
    Json json = Json::array();
    for (const double exposure : info.other_exposures) json.push_back(number(exposure));
    return json;
}

Json image_json(const ScanInfo& info) {
    const auto dpi = [](PixelsPerMm r) { return number(dpi_from_px_per_mm(r)); };
    return {{"kind", name_of(info.kind)},
            {"width_px", info.width},
            {"height_px", info.height},
            {"bits", info.bits},
            {"float_samples", info.float_samples},
            {"colour_channels", info.colour_channels},
            {"infrared", info.has_infrared},
            {"infrared_from", text_or_null(info.infrared_from)},
            {"lossy", info.lossy},
            {"encoding", encoding_json(info)},
            {"stated_dpi", info.resolution ? dpi(*info.resolution) : Json(nullptr)},
            {"stated_dpi_origin", info.resolution ? Json(name_of(info.resolution_origin)) : Json(nullptr)},
            {"light_frame", info.light_divided},
            {"camera_settings", settings_json(info.settings)},
            {"lens", lens_json(info.lens)},
            {"other_exposures", exposures_json(info)},
            {"date", text_or_null(info.date)},
            {"warnings", info.warnings}};
}

/// The shots that a strip was joined from; empty for all else.
Json shots_json(const ScanRecord& scan) {
    Json json = Json::array();
    for (std::size_t i = 0; i < scan.shots.size(); ++i) {
        const ShotRecord& shot = scan.shots[i];
        const auto beside_last = [&](double value) { return i > 0 ? number(value) : Json(nullptr); };
        json.push_back({{"file", shot.file},
                        {"overlap_mm", beside_last(shot.overlap.value())},
                        {"residual_mm", beside_last(shot.residual.value())},
                        {"scale", beside_last(shot.scale)},
                        {"turned_deg", beside_last(shot.turned_deg)},
                        {"level", i > 0 ? triple(shot.level) : Json(nullptr)}});
    }
    return json;
}

}  // namespace

Json what_if_json(const std::vector<WhatIf>& what_if) {
    Json list = Json::array();
    for (const WhatIf& w : what_if)
        list.push_back({{"stops", number(w.stops.value())},
                        {"shadow_lost_percent", number(w.shadow_lost_percent)},
                        {"highlight_lost_percent", number(w.highlight_lost_percent)}});
    return list;
}

Json scan_json(const ScanRecord& scan) {
    const bool scaled = !scan.failure && scan.scale.value() > 0;
    Json json = {{"file", scan.file}, {"failure", failure_json(scan.failure)}};
    json["dpi"] = scaled ? number(dpi_from_px_per_mm(scan.scale)) : Json(nullptr);
    json["dpi_origin"] = scaled ? Json(name_of(scan.scale_origin)) : Json(nullptr);
    json["image"] = scan.info.width > 0 && scan.info.height > 0 ? image_json(scan.info) : Json(nullptr);
    json["densities_relative_to"] = scan.relative_densities ? "clearest_film" : "bare_light";
    json["defect_map"] = text_or_null(scan.defect_map);
    json["joined_shots"] = shots_json(scan);
    json["strips"] = Json::array();
    for (const StripRecord& strip : scan.strips) json["strips"].push_back(strip_json(strip, scan.info.has_infrared));
    return json;
}

}  // namespace basefog::report
