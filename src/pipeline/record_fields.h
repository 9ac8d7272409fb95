// SPDX-License-Identifier: GPL-3.0-or-later
// The fields of every value that a run leaves to a later one or that its results depend on. A field added elsewhere breaks the build here, so
// that none is forgotten.
#pragma once

#include "basefog/pipeline/run.h"

#include "basefog/ledger/layout_file.h"

#include <type_traits>

namespace basefog::pipeline {

template <class T, class U>
concept Is = std::is_same_v<std::remove_const_t<T>, U>;

template <class T, class Visit>
void fields_of(const Rgb<T>& v, Visit& visit) {
    visit(v.r, v.g, v.b);
}
template <class T, class Visit>
void fields_of(Rgb<T>& v, Visit& visit) {
    visit(v.r, v.g, v.b);
}
template <class T, class Visit>
void fields_of(const Measured<T>& v, Visit& visit) {
    visit(v.value, v.std_uncertainty, v.n, v.flags);
}
template <class T, class Visit>
void fields_of(Measured<T>& v, Visit& visit) {
    visit(v.value, v.std_uncertainty, v.n, v.flags);
}

// core
void fields_of(Is<Where> auto& v, auto& visit) {
    auto& [scan, strip, frame, roll] = v;
    visit(scan, strip, frame, roll);
}
void fields_of(Is<Finding> auto& v, auto& visit) {
    auto& [severity, code, message, where, numbers] = v;
    visit(severity, code, message, where, numbers);
}
void fields_of(Is<Error> auto& v, auto& visit) {
    auto& [code, what, path, hint] = v;
    visit(code, what, path, hint);
}
void fields_of(Is<PointPx> auto& v, auto& visit) {
    auto& [x, y] = v;
    visit(x, y);
}
void fields_of(Is<BalanceChoice::Patch> auto& v, auto& visit) {
    auto& [left, top, right, bottom] = v;
    visit(left, top, right, bottom);
}
void fields_of(Is<BalanceChoice> auto& v, auto& visit) {
    auto& [by, patch, frame, stops] = v;
    visit(by, patch, frame, stops);
}
void fields_of(Is<PrintChoices> auto& v, auto& visit) {
    auto& [balance, exposure, contrast, black_point, saturation] = v;
    visit(balance, exposure, contrast, black_point, saturation);
}
void fields_of(Is<RollPrintChoices::Frame> auto& v, auto& visit) {
    auto& [number, print] = v;
    visit(number, print);
}
void fields_of(Is<RollPrintChoices> auto& v, auto& visit) {
    auto& [roll, print, frames] = v;
    visit(roll, print, frames);
}
void fields_of(Is<PrintValues> auto& v, auto& visit) {
    auto& [balance, exposure, contrast, black_point, saturation] = v;
    visit(balance, exposure, contrast, black_point, saturation);
}

// scan
void fields_of(Is<Encoding> auto& v, auto& visit) {
    auto& [kind, gamma] = v;
    visit(kind, gamma);
}
void fields_of(Is<LensModel> auto& v, auto& visit) {
    auto& [k1, k2] = v;
    visit(k1, k2);
}
void fields_of(Is<CameraSettings> auto& v, auto& visit) {
    auto& [camera, seconds, f_number, iso] = v;
    visit(camera, seconds, f_number, iso);
}
void fields_of(Is<Similarity> auto& v, auto& visit) {
    auto& [a, b, shift] = v;
    visit(a, b, shift);
}
void fields_of(Is<StripJoin::Shot> auto& v, auto& visit) {
    auto& [file, to_strip, level] = v;
    visit(file, to_strip, level);
}
void fields_of(Is<StripJoin::Seam> auto& v, auto& visit) {
    auto& [at, half] = v;
    visit(at, half);
}
void fields_of(Is<ShotFalloff> auto& v, auto& visit) { visit(v.factor); }
void fields_of(Is<StripJoin> auto& v, auto& visit) {
    auto& [width, height, shots, seams, falloff, about] = v;
    visit(width, height, shots, seams, falloff, about);
}
void fields_of(Is<ShotFiles> auto& v, auto& visit) {
    auto& [path, other_exposures] = v;
    visit(path, other_exposures);
}
void fields_of(Is<ScanInfo> auto& v, auto& visit) {
    auto& [path, kind, width, height, orientation, bits, float_samples, colour_channels, has_infrared, infrared_from, light_divided, lossy, encoding,
           encoding_origin, profile_name, resolution, resolution_origin, settings, lens, shots, other_exposures, date, warnings] = v;
    visit(path, kind, width, height, orientation, bits, float_samples, colour_channels, has_infrared, infrared_from, light_divided, lossy, encoding,
          encoding_origin, profile_name, resolution, resolution_origin, settings, lens, shots, other_exposures, date, warnings);
}
void fields_of(Is<ScanOptions> auto& v, auto& visit) {
    auto& [encoding, dpi, infrared_path, ignore_infrared, orientation, light_frame_path, dark_frame_path, other_exposures, lens, further_shots, join,
           max_pixels, memory_bytes, from_the_top, spill_folder] = v;
    visit(encoding, dpi, infrared_path, ignore_infrared, orientation, light_frame_path, dark_frame_path, other_exposures, lens, further_shots, join, max_pixels,
          memory_bytes, from_the_top, spill_folder);
}
void fields_of(Is<OverviewOptions> auto& v, auto& visit) {
    auto& [target_dpi, max_pixels, band_rows] = v;
    visit(target_dpi, max_pixels, band_rows);
}

// frames
void fields_of(Is<FrameBox> auto& v, auto& visit) {
    auto& [corners, kind, confidence, edge_std, placed_by_pitch, by_hand, cut_off] = v;
    visit(corners, kind, confidence, edge_std, placed_by_pitch, by_hand, cut_off);
}
void fields_of(Is<EdgePrint> auto& v, auto& visit) {
    auto& [kind, text, confidence, turned, mirrored, code_backwards, code_below] = v;
    visit(kind, text, confidence, turned, mirrored, code_backwards, code_below);
}
void fields_of(Is<Perforations> auto& v, auto& visit) {
    auto& [kind, kind_confidence, pitch, hole_height, shrinkage, holes] = v;
    visit(kind, kind_confidence, pitch, hole_height, shrinkage, holes);
}
void fields_of(Is<StripBox> auto& v, auto& visit) {
    auto& [corners, angle_deg, direction, perforations_seen, confidence, edge_print, format, format_confidence, perforations, bow, film_edges_seen, frames] = v;
    visit(corners, angle_deg, direction, perforations_seen, confidence, edge_print, format, format_confidence, perforations, bow, film_edges_seen, frames);
}
void fields_of(Is<SheetLayout> auto& v, auto& visit) {
    auto& [strips, scale, scale_origin, findings] = v;
    visit(strips, scale, scale_origin, findings);
}
void fields_of(Is<FindOptions> auto& v, auto& visit) {
    auto& [format, max_tilt_deg, max_frames_per_strip, close_up] = v;
    visit(format, max_tilt_deg, max_frames_per_strip, close_up);
}

// density
void fields_of(Is<StripBase> auto& v, auto& visit) {
    auto& [base, base_ir, noise, silver_image] = v;
    visit(base, base_ir, noise, silver_image);
}
void fields_of(Is<DensityOptions> auto& v, auto& visit) {
    auto& [light_trim, spot] = v;
    visit(light_trim, spot);
}

// residue
void fields_of(Is<StripResidue> auto& v, auto& visit) {
    auto& [grade, area_percent, mean, veil, veil_separable, patterns, frame_area_percent, dust_count] = v;
    visit(grade, area_percent, mean, veil, veil_separable, patterns, frame_area_percent, dust_count);
}
void fields_of(Is<ResidueOptions> auto& v, auto& visit) {
    auto& [area_threshold, stock_of_strip] = v;
    visit(area_threshold, stock_of_strip);
}

// film
void fields_of(Is<ChartColour> auto& v, auto& visit) {
    auto& [neutral_share, scene_from_layer] = v;
    visit(neutral_share, scene_from_layer);
}
void fields_of(Is<EarlierCurve> auto& v, auto& visit) {
    auto& [slope, toe_width, rolls] = v;
    visit(slope, toe_width, rolls);
}
void fields_of(Is<RollFacts> auto& v, auto& visit) {
    auto& [id, stock, box_speed, rating, stock_balance, light, filter_mired, black_and_white_told, process, own_process, years_past_expiry, session,
           earlier_curve, earlier_colour] = v;
    visit(id, stock, box_speed, rating, stock_balance, light, filter_mired, black_and_white_told, process, own_process, years_past_expiry, session,
          earlier_curve, earlier_colour);
}
void fields_of(Is<LayerCurve> auto& v, auto& visit) {
    auto& [slope, toe, toe_width, shoulder, shoulder_width, departure] = v;
    visit(slope, toe, toe_width, shoulder, shoulder_width, departure);
}
void fields_of(Is<FilmModel> auto& v, auto& visit) {
    auto& [silver, dye_from_channel, curves, balance, balance_std, scene_from_layer, by_chart, basis, slope, common_slope_std] = v;
    visit(silver, dye_from_channel, curves, balance, balance_std, scene_from_layer, by_chart, basis, slope, common_slope_std);
}
void fields_of(Is<ExposureLimits> auto& v, auto& visit) {
    auto& [shadow, highlight] = v;
    visit(shadow, highlight);
}
void fields_of(Is<WhatIf> auto& v, auto& visit) {
    auto& [stops, shadow_lost_percent, highlight_lost_percent] = v;
    visit(stops, shadow_lost_percent, highlight_lost_percent);
}
void fields_of(Is<FrameExposure> auto& v, auto& visit) {
    auto& [offset, reading_std, shadow_lost_percent, highlight_lost_percent, what_if, render_level, darkest, brightest, light_shift] = v;
    visit(offset, reading_std, shadow_lost_percent, highlight_lost_percent, what_if, render_level, darkest, brightest, light_shift);
}
void fields_of(Is<Verdict> auto& v, auto& visit) {
    auto& [outcome, text, rated_over, shadow_lost_percent, shadow_lost_at_box_percent, spare, highlight_lost_percent, lacking, worst_frame,
           worst_shadow_lost_percent, frames, what_if] = v;
    visit(outcome, text, rated_over, shadow_lost_percent, shadow_lost_at_box_percent, spare, highlight_lost_percent, lacking, worst_frame,
          worst_shadow_lost_percent, frames, what_if);
}
void fields_of(Is<GrainPoint> auto& v, auto& visit) {
    auto& [density, spot_noise, granularity] = v;
    visit(density, spot_noise, granularity);
}
void fields_of(Is<WedgeStep> auto& v, auto& visit) {
    auto& [exposure, density] = v;
    visit(exposure, density);
}
void fields_of(Is<Wedge> auto& v, auto& visit) {
    auto& [frame, steps] = v;
    visit(frame, steps);
}
void fields_of(Is<RollSpeed> auto& v, auto& visit) {
    auto& [effective_index, effective_index_std, loss] = v;
    visit(effective_index, effective_index_std, loss);
}
void fields_of(Is<OtherLight> auto& v, auto& visit) {
    auto& [frames, shift, shift_std, told, probability, basis] = v;
    visit(frames, shift, shift_std, told, probability, basis);
}
void fields_of(Is<RollFilm> auto& v, auto& visit) {
    auto& [model, frames, verdict, limits, speed, wedges, grain, other_lights, findings] = v;
    visit(model, frames, verdict, limits, speed, wedges, grain, other_lights, findings);
}
void fields_of(Is<RollComparison> auto& v, auto& visit) {
    auto& [roll, stock, rating, box_speed, base, fog, slope, red_to_green, blue_to_green, granularity, granularity_at_1, speed, shadow_lost_percent,
           highlight_lost_percent] = v;
    visit(roll, stock, rating, box_speed, base, fog, slope, red_to_green, blue_to_green, granularity, granularity_at_1, speed, shadow_lost_percent,
          highlight_lost_percent);
}
void fields_of(Is<StockComparison> auto& v, auto& visit) {
    auto& [name, process, clearest, rolls, text] = v;
    visit(name, process, clearest, rolls, text);
}
void fields_of(Is<FilmOptions> auto& v, auto& visit) {
    auto& [shadow_sigma, what_if_range, what_if_step] = v;
    visit(shadow_sigma, what_if_range, what_if_step);
}

// mend, invert
void fields_of(Is<MendOptions> auto& v, auto& visit) {
    auto& [mode, keep_unmended] = v;
    visit(mode, keep_unmended);
}
void fields_of(Is<InvertOptions> auto& v, auto& visit) {
    auto& [output, profile_path, compression, exposure, contrast, black_point, saturation, icc_version, linear, density, proof_long_side_px, proof_quality] = v;
    visit(output, profile_path, compression, exposure, contrast, black_point, saturation, icc_version, linear, density, proof_long_side_px, proof_quality);
}

// ledger
void fields_of(Is<Stock> auto& v, auto& visit) {
    auto& [id, kind, box_speed, balance, own_process, expiry] = v;
    visit(id, kind, box_speed, balance, own_process, expiry);
}
void fields_of(Is<Bath> auto& v, auto& visit) {
    auto& [id, kind, volume_litres, mixed_on, good_for_rolls] = v;
    visit(id, kind, volume_litres, mixed_on, good_for_rolls);
}
void fields_of(Is<BackingWash> auto& v, auto& visit) {
    auto& [agent, grams_per_litre, temperature, soak_minutes, rinses] = v;
    visit(agent, grams_per_litre, temperature, soak_minutes, rinses);
}
void fields_of(Is<Session> auto& v, auto& visit) {
    auto& [id, date, bath, wash, developer_minutes, developer_temperature, process] = v;
    visit(id, date, bath, wash, developer_minutes, developer_temperature, process);
}
void fields_of(Is<NamedFrame> auto& v, auto& visit) {
    auto& [number, kind, step, stops, light, print] = v;
    visit(number, kind, step, stops, light, print);
}
void fields_of(Is<Roll> auto& v, auto& visit) {
    auto& [id, stock, session, rating, light, filter_mired, tank, reel, note, frames, print] = v;
    visit(id, stock, session, rating, light, filter_mired, tank, reel, note, frames, print);
}
void fields_of(Is<SheetStrip> auto& v, auto& visit) {
    auto& [roll, first_frame, flip, turn] = v;
    visit(roll, first_frame, flip, turn);
}
void fields_of(Is<SheetFile> auto& v, auto& visit) {
    auto& [file, path, exposure_paths] = v;
    visit(file, path, exposure_paths);
}
void fields_of(Is<Sheet> auto& v, auto& visit) {
    auto& [file, path, infrared_path, encoding, dpi, format, strips, close_up, light_frame_path, dark_frame_path, exposure_paths, strip_shots, frames_each,
           further_shots] = v;
    visit(file, path, infrared_path, encoding, dpi, format, strips, close_up, light_frame_path, dark_frame_path, exposure_paths, strip_shots, frames_each,
          further_shots);
}
void fields_of(Is<StripNaming> auto& v, auto& visit) {
    auto& [roll, numbers] = v;
    visit(roll, numbers);
}
void fields_of(Is<NamedLayout> auto& v, auto& visit) {
    auto& [file, layout, names] = v;
    visit(file, layout, names);
}

// report
void fields_of(Is<DensityHistogram> auto& v, auto& visit) {
    auto& [counts, spots] = v;
    visit(counts, spots);
}
void fields_of(Is<FrameRecord> auto& v, auto& visit) {
    auto& [number, box, positive, proof, linear, density, print, balance, thumbnail_jpeg, exposure, residue_area_percent, mended_mask, unmended,
           divided_percent, filled_percent, histogram, defects_png] = v;
    visit(number, box, positive, proof, linear, density, print, balance, thumbnail_jpeg, exposure, residue_area_percent, mended_mask, unmended, divided_percent,
          filled_percent, histogram, defects_png);
}
void fields_of(Is<StripRecord> auto& v, auto& visit) {
    auto& [roll, box, base, residue, frames] = v;
    visit(roll, box, base, residue, frames);
}
void fields_of(Is<ShotRecord> auto& v, auto& visit) {
    auto& [file, overlap, residual, scale, turned_deg, level] = v;
    visit(file, overlap, residual, scale, turned_deg, level);
}
void fields_of(Is<ScanRecord> auto& v, auto& visit) {
    auto& [file, info, scale, scale_origin, defect_map, overview_jpeg, residue_png, relative_densities, shots, strips, failure] = v;
    visit(file, info, scale, scale_origin, defect_map, overview_jpeg, residue_png, relative_densities, shots, strips, failure);
}
void fields_of(Is<FrameRef> auto& v, auto& visit) {
    auto& [scan, strip, frame] = v;
    visit(scan, strip, frame);
}
void fields_of(Is<RollRecord> auto& v, auto& visit) {
    auto& [roll, stock, session, bath, rolls_done_before, bath_age_days, facts, base, mask_srgb, spot_noise, silver_image, film, worst_residue,
           residue_area_percent, rewash_frames, residue_place, frames, contact_sheet, print] = v;
    visit(roll, stock, session, bath, rolls_done_before, bath_age_days, facts, base, mask_srgb, spot_noise, silver_image, film, worst_residue,
          residue_area_percent, rewash_frames, residue_place, frames, contact_sheet, print);
}

}  // namespace basefog::pipeline
