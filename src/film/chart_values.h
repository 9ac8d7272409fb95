// SPDX-License-Identifier: GPL-3.0-or-later
// The usual 24-patch chart, six patches by four, as published: what its patches reflect.
#pragma once

#include <array>
#include <cstddef>

namespace basefog::film {

inline constexpr std::size_t kPatches = 24, kChartColumns = 6, kChartRows = 4;
/// The last row holds the greys, white first.
inline constexpr std::size_t kFirstGrey = 18;

/// CIE L*a*b* under D50, 2 degrees, row by row: the edition made until November 2014 [ChartValues2016]. Later charts differ by 1.0 CIEDE2000 on
/// average and 1.7 at most, the greys by less: which edition was photographed need not be told.
inline constexpr std::array<std::array<double, 3>, kPatches> kChartLab{
    {{37.986, 13.555, 14.059},  {65.711, 18.130, 17.810},  {49.927, -4.880, -21.905},  {43.139, -13.095, 21.905}, {55.112, 8.844, -25.399},
     {70.719, -33.397, -0.199}, {62.661, 36.067, 57.096},  {40.020, 10.410, -45.964},  {51.124, 48.239, 16.248},  {30.325, 22.976, -21.587},
     {72.532, -23.709, 57.255}, {71.941, 19.363, 67.857},  {28.778, 14.179, -50.297},  {55.261, -38.342, 31.370}, {42.101, 53.378, 28.190},
     {81.733, 4.039, 79.819},   {51.935, 49.986, -14.574}, {51.038, -28.631, -28.638}, {96.539, -0.425, 1.186},   {81.257, -0.638, -0.335},
     {66.766, -0.734, -0.504},  {50.867, -0.153, -0.270},  {35.656, -0.421, -1.231},   {20.461, -0.079, -0.973}}};

}  // namespace basefog::film
