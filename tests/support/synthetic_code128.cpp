// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_code128.h"

#include <stdexcept>

namespace synthetic {
namespace {

constexpr int kStartC = 105, kModulus = 103;
constexpr std::array<int, 7> kStop{2, 3, 3, 1, 1, 1, 2};

constexpr int kWidths[106] = {212222, 222122, 222221, 121223, 121322, 131222, 122213, 122312, 132212, 221213, 221312, 231212, 112232, 122132, 122231, 113222,
                              123122, 123221, 223211, 221132, 221231, 213212, 223112, 312131, 311222, 321122, 321221, 312212, 322112, 322211, 212123, 212321,
                              232121, 111323, 131123, 131321, 112313, 132113, 132311, 211313, 231113, 231311, 112133, 112331, 132131, 113123, 113321, 133121,
                              313121, 211331, 231131, 213113, 213311, 213131, 311123, 311321, 331121, 312113, 312311, 332111, 314111, 221411, 431111, 111224,
                              111422, 121124, 121421, 141122, 141221, 112214, 112412, 122114, 122411, 142112, 142211, 241211, 221114, 413111, 241112, 134111,
                              111242, 121142, 121241, 114212, 124112, 124211, 411212, 421112, 421211, 212141, 214121, 412121, 111143, 111341, 131141, 114113,
                              114311, 411113, 411311, 113141, 114131, 311141, 411131, 211412, 211214, 211232};

}  // namespace

const std::array<std::array<int, 6>, 106>& code128_widths() {
    static const auto table = [] {
        std::array<std::array<int, 6>, 106> out{};
        for (std::size_t value = 0; value < out.size(); ++value) {
            int rest = kWidths[value];
            for (std::size_t i = 6; i-- > 0; rest /= 10) out[value][i] = rest % 10;
        }
        return out;
    }();
    return table;
}

int code128_check(const std::vector<int>& values) {
    int sum = values.front();
    for (std::size_t i = 1; i < values.size(); ++i) sum += static_cast<int>(i) * values[i];
    return sum % kModulus;
}

std::vector<int> code128_values(const std::string& digits) {
    if (digits.empty() || digits.size() % 2 != 0 || digits.find_first_not_of("0123456789") != std::string::npos)
        throw std::invalid_argument("a symbol of digit pairs needs an even number of digits");
    std::vector<int> values{kStartC};
    for (std::size_t i = 0; i < digits.size(); i += 2) values.push_back(10 * (digits[i] - '0') + (digits[i + 1] - '0'));
    values.push_back(code128_check(values));
    return values;
}

std::vector<bool> code128_modules(const std::string& digits) {
    std::vector<bool> modules;
    const auto draw = [&](const auto& widths) {
        bool bar = true;
        for (const int width : widths) {
            modules.insert(modules.end(), static_cast<std::size_t>(width), bar);
            bar = !bar;
        }
    };
    for (const int value : code128_values(digits)) draw(code128_widths()[static_cast<std::size_t>(value)]);
    draw(kStop);
    return modules;
}

}  // namespace synthetic
