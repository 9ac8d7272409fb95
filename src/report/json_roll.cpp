// SPDX-License-Identifier: GPL-3.0-or-later
// rolls[], stocks[], sessions[] and baths[] of report.json.
#include "report/gather.h"
#include "report/json_parts.h"
#include "report/names.h"

namespace basefog::report {
namespace {

Json date_or_null(const std::optional<Date>& date) { return date ? Json(to_string(*date)) : Json(nullptr); }

template <class T>
Json count_or_null(const std::optional<T>& count) {
    return count ? Json(*count) : Json(nullptr);
}

Json verdict_json(const Verdict& verdict) {
    return {{"outcome", name_of(verdict.outcome)},
            {"text", verdict.text},
            {"rated_over_stops", number_or_null(verdict.rated_over)},
            {"shadow_lost_percent", number(verdict.shadow_lost_percent)},
            {"shadow_lost_at_box_percent", number(verdict.shadow_lost_at_box_percent)},
            {"spare_stops", number_or_null(verdict.spare)},
            {"highlight_lost_percent", number(verdict.highlight_lost_percent)},
            {"lacking_stops", number_or_null(verdict.lacking)},
            {"worst_frame", count_or_null(verdict.worst_frame)},
            {"worst_shadow_lost_percent", number(verdict.worst_shadow_lost_percent)},
            {"pictures", verdict.frames},
            {"what_if", what_if_json(verdict.what_if)}};
}

Json speed_json(const RollSpeed& speed) {
    return {{"effective_index", number_or_null(speed.effective_index)},
            {"effective_index_std_stops", number(speed.effective_index_std.value())},
            {"loss_stops", number(speed.loss.value.value())},
            {"uncertainty", {{"loss_stops", uncertainty(speed.loss)}}}};
}

Json wedges_json(const std::vector<Wedge>& wedges) {
    Json list = Json::array();
    for (const Wedge& wedge : wedges) {
        Json steps = Json::array();
        for (const WedgeStep& step : wedge.steps) steps.push_back({{"log10_h", number(step.exposure.value())}, {"density_above_base", triple(step.density)}});
        list.push_back({{"frame", wedge.frame}, {"steps", std::move(steps)}});
    }
    return list;
}

Json other_lights_json(const std::vector<OtherLight>& lights) {
    Json list = Json::array();
    for (const OtherLight& light : lights)
        list.push_back({{"frames", light.frames},
                        {"told_kelvin", number_or_null(light.told)},
                        {"probability", number(light.probability)},
                        {"shift_log10_h", triple({light.shift.r.value(), light.shift.g.value(), light.shift.b.value()})},
                        {"shift_std_log10_h", triple(light.shift_std)},
                        {"basis", light.basis}});
    return list;
}

Json curve_json(const LayerCurve& curve) {
    Json departure = Json::array();
    for (const double d : curve.departure) departure.push_back(number(d));
    return {{"slope", number(curve.slope)},
            {"toe_log10_h", number(curve.toe.value())},
            {"toe_width", number(curve.toe_width)},
            {"shoulder_log10_h", number(curve.shoulder.value())},
            {"shoulder_width", number(curve.shoulder_width)},
            {"departure_log10_h", std::move(departure)}};
}

Json matrix_json(const Matrix3& rows) {
    Json matrix = Json::array();
    for (const auto& row : rows) matrix.push_back(Json::array({number(row[0]), number(row[1]), number(row[2])}));
    return matrix;
}

Json model_json(const FilmModel& model) {
    Json json = {
        {"silver", model.silver}, {"dye_from_channel", matrix_json(model.dye_from_channel)}, {"scene_from_layer", matrix_json(model.scene_from_layer)}};
    json["by_chart"] = nullptr;
    if (model.by_chart)
        json["by_chart"] = {{"neutral_share", matrix_json(model.by_chart->neutral_share)}, {"scene_from_layer", matrix_json(model.by_chart->scene_from_layer)}};
    json["curves"] = {{"red", curve_json(model.curves.r)}, {"green", curve_json(model.curves.g)}, {"blue", curve_json(model.curves.b)}};
    json["slope"] = triple({model.slope.r.value, model.slope.g.value, model.slope.b.value});
    json["common_slope_std"] = number(model.common_slope_std);
    json["balance_log10_h"] = triple({model.balance.r.value(), model.balance.g.value(), model.balance.b.value()});
    json["balance_std_log10_h"] = triple(model.balance_std);
    json["basis"] = {{"unmixing", model.basis[0]}, {"curves", model.basis[1]}, {"balance", model.basis[2]}, {"scale", model.basis[3]}};
    json["uncertainty"] = {{"slope", Json::array({uncertainty(model.slope.r), uncertainty(model.slope.g), uncertainty(model.slope.b)})}};
    return json;
}

Json grain_json(const std::vector<GrainPoint>& grain) {
    Json list = Json::array();
    for (const GrainPoint& point : grain)
        list.push_back(
            {{"density_above_base", triple(point.density)}, {"spot_noise", triple(point.spot_noise)}, {"rms_granularity", triple(point.granularity)}});
    return list;
}

/// What was told about the roll; never measured.
Json told_json(const RollRecord& roll) {
    return {{"box_speed", number_or_null(roll.facts.box_speed)},
            {"rating", number_or_null(roll.roll.rating ? roll.roll.rating : roll.facts.rating)},
            {"stock_balance_kelvin", number_or_null(roll.facts.stock_balance)},
            {"light_kelvin", number_or_null(roll.roll.light ? roll.roll.light : roll.facts.light)},
            {"filter_mired", number(roll.facts.filter_mired)},
            {"black_and_white", roll.facts.black_and_white_told},
            {"process", text_or_null(roll.facts.process)},
            {"own_process", text_or_null(roll.facts.own_process)},
            {"years_past_expiry", number_or_null(roll.facts.years_past_expiry)},
            {"tank", text_or_null(roll.roll.tank)},
            {"reel", count_or_null(roll.roll.reel)},
            {"note", text_or_null(roll.roll.note)}};
}

Json frame_refs_json(const RunRecord& record, const RollRecord& roll) {
    Json list = Json::array();
    for (const FrameRef& ref : roll.frames)
        if (const FrameRecord* frame = find_frame(record, ref))
            list.push_back({{"number", frame->number}, {"scan", ref.scan}, {"strip", ref.strip}, {"frame", ref.frame}});
    return list;
}

}  // namespace

Json roll_json(const RunRecord& record, const RollRecord& roll) {
    Json json = {{"id", roll.roll.id}, {"stock", text_or_null(stock_name(roll))}};
    json["session"] = text_or_null(roll.roll.session.empty() && roll.session ? roll.session->id : roll.roll.session);
    json["bath"] = text_or_null(roll.bath ? roll.bath->id : roll.session ? roll.session->bath : std::string());
    json["rolls_done_before_in_bath"] = count_or_null(roll.rolls_done_before);
    json["bath_age_days"] = count_or_null(roll.bath_age_days);
    json["told"] = told_json(roll);
    json["verdict"] = verdict_json(roll.film.verdict);
    json["residue"] = {{"worst_grade", name_of(roll.worst_residue)},
                       {"area_percent", number(roll.residue_area_percent)},
                       {"rewash_frames", roll.rewash_frames},
                       {"place", text_or_null(roll.residue_place)}};
    json["base_density"] = triple({roll.base.r.value.value(), roll.base.g.value.value(), roll.base.b.value.value()});
    json["base_spot_noise"] = triple(roll.spot_noise);
    json["mask_srgb"] = Json::array({roll.mask_srgb[0], roll.mask_srgb[1], roll.mask_srgb[2]});
    json["silver_image"] = roll.silver_image;
    json["uncertainty"] = {{"base_density", Json::array({uncertainty(roll.base.r), uncertainty(roll.base.g), uncertainty(roll.base.b)})}};
    json["film"] = model_json(roll.film.model);
    json["limits"] = {{"shadow_stops", number(roll.film.limits.shadow.value())}, {"highlight_stops", number(roll.film.limits.highlight.value())}};
    json["speed"] = speed_json(roll.film.speed);
    json["wedges"] = wedges_json(roll.film.wedges);
    json["other_lights"] = other_lights_json(roll.film.other_lights);
    json["grain"] = grain_json(roll.film.grain);
    json["print"] = print_json(roll.print, std::nullopt);
    json["contact_sheet"] = text_or_null(roll.contact_sheet);
    json["frames"] = frame_refs_json(record, roll);
    return json;
}

Json comparison_json(const StockComparison& comparison) {
    Json rolls = Json::array();
    for (const RollComparison& r : comparison.rolls) {
        const auto values = [](const auto& m) { return triple({plain(m.r.value), plain(m.g.value), plain(m.b.value)}); };
        const auto sigmas = [](const auto& m) { return Json::array({uncertainty(m.r), uncertainty(m.g), uncertainty(m.b)}); };
        rolls.push_back({{"roll", r.roll},
                         {"stock", text_or_null(r.stock)},
                         {"rating", number_or_null(r.rating)},
                         {"box_speed", number_or_null(r.box_speed)},
                         {"base_density", values(r.base)},
                         {"fog_density", values(r.fog)},
                         {"slope", values(r.slope)},
                         {"slope_red_to_green", number(r.red_to_green.value)},
                         {"slope_blue_to_green", number(r.blue_to_green.value)},
                         {"rms_granularity_of_base", triple(r.granularity)},
                         {"rms_granularity_at_1", triple(r.granularity_at_1)},
                         {"speed", speed_json(r.speed)},
                         {"shadow_lost_percent", number(r.shadow_lost_percent)},
                         {"highlight_lost_percent", number(r.highlight_lost_percent)},
                         {"uncertainty",
                          {{"base_density", sigmas(r.base)},
                           {"fog_density", sigmas(r.fog)},
                           {"slope", sigmas(r.slope)},
                           {"slope_red_to_green", uncertainty(r.red_to_green)},
                           {"slope_blue_to_green", uncertainty(r.blue_to_green)}}}});
    }
    return {{"stock", comparison.name},
            {"process", text_or_null(comparison.process)},
            {"clearest_roll", comparison.clearest},
            {"text", comparison.text},
            {"rolls", std::move(rolls)}};
}

Json stock_json(const Stock& stock) {
    return {{"id", stock.id},
            {"kind", name_of(stock.kind)},
            {"box_speed", number_or_null(stock.box_speed)},
            {"balance_kelvin", number_or_null(stock.balance)},
            {"own_process", text_or_null(stock.own_process)},
            {"expiry", date_or_null(stock.expiry)}};
}

Json session_json(const Session& session) {
    Json wash = nullptr;
    if (session.wash)
        wash = {{"agent", text_or_null(session.wash->agent)},
                {"grams_per_litre", number_or_null(session.wash->grams_per_litre)},
                {"temperature_celsius", number_or_null(session.wash->temperature)},
                {"soak_minutes", number_or_null(session.wash->soak_minutes)},
                {"rinses", count_or_null(session.wash->rinses)}};
    return {{"id", session.id},
            {"date", date_or_null(session.date)},
            {"bath", text_or_null(session.bath)},
            {"process", text_or_null(session.process)},
            {"developer_minutes", number_or_null(session.developer_minutes)},
            {"developer_temperature_celsius", number_or_null(session.developer_temperature)},
            {"backing_wash", std::move(wash)}};
}

Json bath_json(const Bath& bath) {
    return {{"id", bath.id},
            {"kind", text_or_null(bath.kind)},
            {"volume_litres", number_or_null(bath.volume_litres)},
            {"mixed_on", date_or_null(bath.mixed_on)},
            {"good_for_rolls", count_or_null(bath.good_for_rolls)}};
}

}  // namespace basefog::report
