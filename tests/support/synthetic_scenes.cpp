// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_scenes.h"

#include "support/synthetic_random.h"
#include "support/synthetic_solids.h"
#include "support/synthetic_views.h"

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>
#include <stdexcept>
#include <tuple>

namespace synthetic {
namespace {

/// Nominal sRGB values of the usual 24-patch chart, 8 bits, row by row ([McCamy1976] chose the
/// patches; these rounded values are common practice, from memory).
constexpr int kChart[24][3] = {{115, 82, 68},   {194, 150, 130}, {98, 122, 157},  {87, 108, 67},   {133, 128, 177}, {103, 189, 170},
                               {214, 126, 44},  {80, 91, 166},   {193, 90, 99},   {94, 60, 108},   {157, 188, 64},  {224, 163, 46},
                               {56, 61, 150},   {70, 148, 73},   {175, 54, 60},   {231, 199, 31},  {187, 86, 149},  {8, 133, 161},
                               {243, 243, 242}, {200, 200, 200}, {160, 160, 160}, {122, 122, 121}, {85, 85, 85},    {52, 52, 52}};

double linear_from_srgb8(int code) {
    const double v = code / 255.0;
    return v <= 0.04045 ? v / 12.92 : std::pow((v + 0.055) / 1.055, 2.4);  // [IEC61966-2-1]
}

/// Patches 0.9 wide on a grid of 1, a border of 0.25 left and above (6.4 x 4.4 in all), on a dark mount.
cv::Mat chart(int width, int height) {
    cv::Mat image(height, width, CV_32FC3, cv::Scalar::all(0.035));
    for (int i = 0; i < 24; ++i) {
        cv::Scalar colour;
        for (int c = 0; c < 3; ++c) colour[c] = linear_from_srgb8(kChart[i][c]);
        const double x = (0.25 + i % 6) / 6.4 * width, y = (0.25 + i / 6) / 4.4 * height;
        const cv::Point from(static_cast<int>(std::lround(x)), static_cast<int>(std::lround(y)));
        const cv::Point to(static_cast<int>(std::lround(x + 0.9 / 6.4 * width)), static_cast<int>(std::lround(y + 0.9 / 4.4 * height)));
        image(cv::Rect(from, to)).setTo(colour);
    }
    return image;
}

/// Log H from +1.5 at the left in steps of -0.15; the outer thirds of the height are grey.
cv::Mat wedge(int width, int height) {
    cv::Mat image(height, width, CV_32FC3, cv::Scalar::all(0.18));
    for (int col = 0; col < width; ++col) {
        const int step = std::min(20, col * 21 / width);
        image(cv::Rect(col, height / 5, 1, height - 2 * (height / 5))).setTo(cv::Scalar::all(0.18 * std::pow(10.0, 1.5 - 0.15 * step)));
    }
    return image;
}

cv::Mat fogged(int width, int height, std::uint64_t seed) {
    cv::Mat image(height, width, CV_32FC3);
    for (int row = 0; row < height; ++row) {
        for (int col = 0; col < width; ++col) {
            const double level = 6 * (1 + 0.25 * smooth_noise(1.5 * col / width, 1.0 * row / width, seed));
            image.ptr<cv::Vec3f>(row)[col] = cv::Vec3f(static_cast<float>(level * 1.05), static_cast<float>(level), static_cast<float>(level * 0.95));
        }
    }
    return image;
}

/// The meter: brings the picture's mean log luminance to `key`.
cv::Mat metered(cv::Mat image, double key) {
    double sum = 0;
    for (int row = 0; row < image.rows; ++row) {
        for (int col = 0; col < image.cols; ++col) {
            const auto& p = image.ptr<cv::Vec3f>(row)[col];
            sum += std::log(std::max(1e-4, 0.2126 * p[0] + 0.7152 * p[1] + 0.0722 * p[2]));
        }
    }
    image *= key / std::exp(sum / static_cast<double>(image.total()));
    return image;
}

cv::Mat photograph(const std::string& file, int w, int h) {
    cv::Mat codes = cv::imread(file, cv::IMREAD_COLOR);
    if (codes.empty()) throw std::runtime_error(file + " is no picture that can be read");
    if (codes.rows > codes.cols) cv::rotate(codes, codes, cv::ROTATE_90_CLOCKWISE);
    const int across = std::min(codes.cols, codes.rows * w / h), down = std::min(codes.rows, codes.cols * h / w);
    codes = codes(cv::Rect((codes.cols - across) / 2, (codes.rows - down) / 2, across, down));
    cv::Mat light(codes.size(), CV_32FC3);
    for (int y = 0; y < codes.rows; ++y)
        for (int x = 0; x < codes.cols; ++x) {
            const auto& bgr = codes.ptr<cv::Vec3b>(y)[x];
            for (int c = 0; c < 3; ++c) light.ptr<cv::Vec3f>(y)[x][c] = static_cast<float>(linear_from_srgb8(bgr[2 - c]));
        }
    cv::Mat out;
    cv::resize(light, out, {w, h}, 0, 0, across > w ? cv::INTER_AREA : cv::INTER_LINEAR);
    return out;
}

cv::Mat compute(SceneKind kind, std::uint64_t seed, int w, int h) {
    switch (kind) {
        case SceneKind::blank:
            return {};
        case SceneKind::fogged:
            return fogged(w, h, seed);
        case SceneKind::chart:
            return chart(w, h);
        case SceneKind::wedge:
            return wedge(w, h);
        case SceneKind::grey:
            return cv::Mat(h, w, CV_32FC3, cv::Scalar::all(0.18));
        case SceneKind::hills:
            return metered(hills(w, h, seed), 0.17);
        case SceneKind::coast:
            return metered(coast(w, h, seed), 0.26);
        case SceneKind::meadow:
            return metered(meadow(w, h, seed), 0.15);
        case SceneKind::forest:
            return metered(forest(w, h, seed), 0.11);
        case SceneKind::snow:
            return metered(snow(w, h, seed), 0.45);
        case SceneKind::dusk:
            return metered(dusk(w, h, seed), 0.10);
        case SceneKind::still_life:
            return metered(still_life(w, h, seed), 0.14);
        case SceneKind::crates:
            return metered(crates(w, h, seed), 0.15);
        case SceneKind::room:
            return metered(lamp_room(w, h, seed), 0.09);
        case SceneKind::street:
            return metered(night_street(w, h, seed), 0.035);
        case SceneKind::portrait:
            return metered(portrait(w, h, seed), 0.14);
        case SceneKind::houses:
            return metered(painted_houses(w, h, seed), 0.18);
        case SceneKind::stairs:
            return metered(stairs(w, h, seed), 0.20);
        case SceneKind::blocks:
            return metered(blocks(w, h, seed), 0.17);
        case SceneKind::texture:
            return texture(w, h, seed);
        case SceneKind::shapes:
            return shapes(w, h, seed);
        case SceneKind::night:
            return night(w, h, seed);
        case SceneKind::high_key:
            return high_key(w, h, seed);
        case SceneKind::photograph:
            return {};  // has a file instead of a seed
    }
    return {};
}

}  // namespace

std::string name(SceneKind kind) {
    constexpr const char* kNames[] = {"blank",  "fogged", "chart",  "step",       "grey",   "hills", "coast",    "meadow",
                                      "forest", "snow",   "dusk",   "still-life", "crates", "room",  "street",   "portrait",
                                      "houses", "stairs", "blocks", "texture",    "shapes", "night", "high-key", "photograph"};
    return kNames[static_cast<int>(kind)];
}

bool is_picture(SceneKind kind) { return kind != SceneKind::blank && kind != SceneKind::fogged; }

std::string name(const SceneSpec& spec) {
    if (spec.kind == SceneKind::photograph) return std::filesystem::path(spec.file).stem().string();
    return spec.kind < SceneKind::hills ? name(spec.kind) : name(spec.kind) + "-" + std::to_string(spec.seed);
}

cv::Mat render_scene(const SceneSpec& spec, int width) {
    static std::map<std::tuple<SceneKind, std::uint64_t, int, std::string>, cv::Mat> known;
    const int w = spec.width > 0 ? spec.width : width;
    const auto key = std::make_tuple(spec.kind, spec.seed, w, spec.file);
    auto found = known.find(key);
    if (found == known.end()) {
        if (known.size() > 64) known.clear();
        found = known.emplace(key, spec.kind == SceneKind::photograph ? photograph(spec.file, w, w * 2 / 3) : compute(spec.kind, mix(spec.seed), w, w * 2 / 3))
                    .first;
    }
    return found->second;
}

}  // namespace synthetic
