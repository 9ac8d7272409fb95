// SPDX-License-Identifier: GPL-3.0-or-later
#include "long_edges.h"

#include "constants.h"
#include "robust.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

/// Normal equations of the pictures' course: upper edge at u = 0, slope and curve per 100 mm, height.
class Course {
public:
    Course(const LongFit& fit, double scale) : fit_(fit), scale_(scale) {
        normal_.setZero();
        right_.setZero();
    }
    void add(double u, double v, bool low, double weight) {
        const double r = v - fit_.top_at(u) - (low ? fit_.height : 0), k = weight / std::pow(1 + r * r / (scale_ * scale_), 2), x = u / kHundredMm;
        const Eigen::Vector4d t(1, x, low ? 1 : 0, x * x);
        normal_ += k * t * t.transpose();
        right_ += k * t * v;
        agreed_ += k;
        agreed_low_ += low ? k : 0;
        if (std::abs(r) < 3 * scale_) square_ += k * r * r;
    }
    /// A prior with a standard deviation, worth a few points that scatter by the scale.
    void expect(int i, double value, double std) {
        const double k = 4 * scale_ * scale_ / (std * std);
        normal_(i, i) += k;
        right_(i) += k * value;
    }
    [[nodiscard]] LongFit solved(double per_mm, double gate) const {
        const Eigen::Vector4d x = normal_.ldlt().solve(right_);
        LongFit out;
        out.at0 = x(0);
        out.slope = x(1) / kHundredMm;
        out.height = x(2);
        out.curve = x(3) / (kHundredMm * kHundredMm);
        out.share = agreed_ * per_mm;
        out.top_share = 2 * (agreed_ - agreed_low_) * per_mm;
        out.bottom_share = 2 * agreed_low_ * per_mm;
        const double spread = agreed_ > 0 ? std::sqrt(square_ / agreed_) : gate;
        out.std = std::min(gate, std::hypot(kEdgeFloorMm, spread / std::sqrt(std::max(1.0, agreed_ * kBandMm / 2))));
        out.curve_std = std::hypot(0.01, spread) * std::sqrt(4 * normal_.inverse()(3, 3)) / (kHundredMm * kHundredMm);
        return out;
    }

private:
    static constexpr double kHundredMm = 100;
    const LongFit& fit_;
    double scale_, agreed_ = 0, agreed_low_ = 0, square_ = 0;
    Eigen::Matrix4d normal_;
    Eigen::Vector4d right_;
};

}  // namespace

LongEdges look_along(const Overview& overview, const SheetLight& light, const StripFit& fit, double guard) {
    LongEdges out;
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        const FrameFit& f = fit.frames[i];
        if (f.placed_by_pitch) continue;
        for (const Side side : {Side::top, Side::bottom}) {
            EdgeQuery query{side, side == Side::top ? f.top : f.top + f.height, first_on_film(fit, f) + 0.6, last_on_film(fit, f) - 0.6, 0.5, guard};
            const EdgePoints points = look_across(overview, light, fit.pose, fit.base, query);
            out.length += query.to - query.from;
            for (const EdgePoint& p : points.points) {
                if (side == Side::top) {
                    out.u.push_back(p.along);
                    out.top.push_back(query.at + p.offset);
                    out.frame.push_back(static_cast<int>(i));
                    out.weight.push_back(points.band / kBandMm);
                } else {
                    out.u_low.push_back(p.along);
                    out.bottom.push_back(query.at - p.offset);
                    out.frame_low.push_back(static_cast<int>(i));
                    out.weight_low.push_back(points.band / kBandMm);
                }
            }
        }
    }
    return out;
}

LongFit fit_long(const LongEdges& edges, const StripFit& fit, double scale) {
    const FrameFit& first = fit.frames.front();
    LongFit line;
    line.at0 = first.top;
    line.height = first.height;
    const double gate = fit.gauge.gate_std, per_mm = edges.length > 0 ? kBandMm / edges.length : 0;
    for (int pass = 0; pass < 20; ++pass) {
        Course course(line, scale);
        for (std::size_t i = 0; i < edges.u.size(); ++i) course.add(edges.u[i], edges.top[i], false, edges.weight[i]);
        for (std::size_t i = 0; i < edges.u_low.size(); ++i) course.add(edges.u_low[i], edges.bottom[i], true, edges.weight_low[i]);
        course.expect(0, first.top, kTopStdMm);
        course.expect(1, 0, kSlopeStdMm);
        course.expect(2, fit.gauge.height, gate);
        course.expect(3, 0, std::max(kLeastCurveStdMm, fit.place.curve_std * 1e4));
        line = course.solved(per_mm, gate);
        scale = std::max(0.05, 0.85 * scale);
    }
    return line;
}

/// Frames ride up and down in the gate by some hundredths: each frame's own height, pulled to the common line.
void ride(StripFit& fit, const LongEdges& edges, const LongFit& line) {
    constexpr double kRideStdMm = 0.04;  // Chosen
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        std::vector<double> off, off_low;
        double shown = 0;
        for (std::size_t k = 0; k < edges.u.size(); ++k) {
            const double r = edges.top[k] - line.top_at(edges.u[k]);
            if (edges.frame[k] != static_cast<int>(i) || std::abs(r) > 0.2) continue;
            off.push_back(r);
            shown += edges.weight[k] * kBandMm;
        }
        for (std::size_t k = 0; k < edges.u_low.size(); ++k) {
            const double r = edges.bottom[k] - line.height - line.top_at(edges.u_low[k]);
            if (edges.frame_low[k] != static_cast<int>(i) || std::abs(r) > 0.2) continue;
            off_low.push_back(r);
            shown += edges.weight_low[k] * kBandMm;
        }
        double sum = 0, weight = 1 / (kRideStdMm * kRideStdMm);
        for (const auto* side : {&off, &off_low}) {
            if (side->size() < 20) continue;
            const double centre = median(*side), std = std::hypot(0.02, spread(*side, centre) / std::sqrt(static_cast<double>(side->size()) / 4));
            sum += centre / (std * std);
            weight += 1 / (std * std);
        }
        const bool seen = off.size() >= 20 || off_low.size() >= 20;
        fit.frames[i].top += sum / weight;
        // Where hardly any of the long edges shows, what shows may be something else.
        const double doubt = kDoubtMm / std::sqrt(std::clamp(line.share, 0.005, 1.0)) - kDoubtMm;
        // And so it may where the height is one that no camera has: a black bar along a side passes for the edge.
        const double odd = std::max(0.0, std::abs(line.height - fit.gauge.height) - kOddGate * fit.gauge.gate_std);
        fit.frames[i].v_std = std::hypot(std::hypot(line.std, seen ? std::sqrt(1 / weight) : kRideStdMm), std::hypot(doubt, odd));
        fit.frames[i].top_share = line.top_share;
        fit.frames[i].bottom_share = line.bottom_share;
        fit.frames[i].long_share = shown / (2 * std::max(1.0, last_on_film(fit, fit.frames[i]) - first_on_film(fit, fit.frames[i])));
    }
}

}  // namespace basefog::frames
