// SPDX-License-Identifier: GPL-3.0-or-later
// Scenes of solids and scenes painted in layers; private to the generator. Each returns linear light, unmetered.
#pragma once

#include <opencv2/core.hpp>

#include <cstdint>

namespace synthetic {

[[nodiscard]] cv::Mat still_life(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat crates(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat lamp_room(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat night_street(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat portrait(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat painted_houses(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat stairs(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat blocks(int width, int height, std::uint64_t seed);

[[nodiscard]] cv::Mat hills(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat coast(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat meadow(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat forest(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat snow(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat dusk(int width, int height, std::uint64_t seed);

[[nodiscard]] cv::Mat texture(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat shapes(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat night(int width, int height, std::uint64_t seed);
[[nodiscard]] cv::Mat high_key(int width, int height, std::uint64_t seed);

}  // namespace synthetic
