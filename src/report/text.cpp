// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/text.h"

#include <fmt/format.h>

#include <cmath>
#include <cstdint>

namespace basefog::report {
namespace {

constexpr std::string_view kReplacement = "\xef\xbf\xbd";  // U+FFFD in UTF-8. Defined [RFC3629].
constexpr std::string_view kMinus = "\xe2\x88\x92";        // U+2212
constexpr std::string_view kDash = "\xe2\x80\x93";         // U+2013

struct Decoded {
    char32_t code = 0;
    int length = 0;  // 0: no valid character starts here
};

/// One character at the start of a non-empty text, strictly [RFC3629 section 4]: no overlong form, no surrogate.
Decoded decode(std::string_view text) {
    const auto byte = [&](std::size_t i) { return static_cast<std::uint8_t>(text[i]); };
    const std::uint8_t first = byte(0);
    if (first < 0x80) return {first, 1};
    const int length = first >= 0xf0 ? 4 : first >= 0xe0 ? 3 : 2;
    if (first < 0xc2 || first > 0xf4 || text.size() < static_cast<std::size_t>(length)) return {};
    char32_t code = first & (0xffu >> (length + 1));
    for (int i = 1; i < length; ++i) {
        if ((byte(static_cast<std::size_t>(i)) & 0xc0) != 0x80) return {};
        code = (code << 6) | (byte(static_cast<std::size_t>(i)) & 0x3f);
    }
    constexpr char32_t kSmallest[] = {0, 0, 0x80, 0x800, 0x10000};
    const bool surrogate = code >= 0xd800 && code <= 0xdfff;
    if (code < kSmallest[length] || code > 0x10ffff || surrogate) return {};
    return {code, length};
}

bool is_unwelcome(char32_t c) {
    const bool control = c < 0x20 || (c >= 0x7f && c <= 0x9f) || c == 0x2028 || c == 0x2029;
    const bool direction = (c >= 0x202a && c <= 0x202e) || (c >= 0x2066 && c <= 0x2069) || c == 0x200e || c == 0x200f || c == 0x061c;
    const bool not_a_character = (c & 0xfffe) == 0xfffe || (c >= 0xfdd0 && c <= 0xfdef) || c == 0xfeff;
    return control || direction || not_a_character;
}

std::string fixed_ascii(double value, int digits) {
    std::string text = fmt::format("{:.{}f}", value, digits);
    if (text.front() == '-' && text.find_first_of("123456789") == std::string::npos) text.erase(0, 1);
    return text;
}

std::string with_true_minus(std::string text) {
    if (!text.empty() && text.front() == '-') text.replace(0, 1, kMinus);
    return text;
}

}  // namespace

std::string clean(std::string_view text) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        const Decoded d = decode(text);
        const std::size_t length = d.length == 0 ? 1 : static_cast<std::size_t>(d.length);
        if (d.length == 0)
            out += kReplacement;
        else if (d.code == '\n' || d.code == '\r' || d.code == '\t')
            out += ' ';
        else
            out += is_unwelcome(d.code) ? kReplacement : text.substr(0, length);
        text.remove_prefix(length);
    }
    return out;
}

std::string shortened(std::string_view text, std::size_t longest) {
    std::string whole = clean(text);
    std::size_t count = 0, cut = 0;
    for (std::size_t i = 0; i < whole.size(); ++i) {
        const bool starts = (static_cast<std::uint8_t>(whole[i]) & 0xc0) != 0x80;
        if (starts && ++count == longest) cut = i;
    }
    if (count > longest) whole.replace(cut, std::string::npos, "\xe2\x80\xa6");
    return whole;
}

std::string escape(std::string_view text) {
    std::string out;
    for (const char c : clean(text)) {
        switch (c) {
            case '&':
                out += "&amp;";
                break;
            case '<':
                out += "&lt;";
                break;
            case '>':
                out += "&gt;";
                break;
            case '"':
                out += "&quot;";
                break;
            case '\'':
                out += "&#39;";
                break;
            default:
                out += c;
        }
    }
    return out;
}

std::string link_to(std::string_view path) {
    std::string out = !path.empty() && path.front() == '/' ? "." : "";
    for (const char c : path) {
        const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
        if (letter || c == '-' || c == '.' || c == '_' || c == '~' || c == '/')
            out += c;
        else
            out += fmt::format("%{:02X}", static_cast<std::uint8_t>(c));
    }
    return out;
}

std::string base64(std::string_view bytes) {
    constexpr std::string_view kAlphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string out;
    out.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        const std::size_t have = std::min<std::size_t>(3, bytes.size() - i);
        std::uint32_t group = 0;
        for (std::size_t k = 0; k < 3; ++k) group = (group << 8) | (k < have ? static_cast<std::uint8_t>(bytes[i + k]) : 0u);
        for (std::size_t k = 0; k < 4; ++k) out += k <= have ? kAlphabet[(group >> (18 - 6 * k)) & 63u] : '=';
    }
    return out;
}

std::string fixed(double value, int digits) {
    if (!std::isfinite(value)) return std::string(kDash);
    return with_true_minus(fixed_ascii(value, digits));
}

std::string with_sign(double value, int digits) {
    if (!std::isfinite(value)) return std::string(kDash);
    std::string text = fixed_ascii(value, digits);
    const bool zero = text.find_first_of("123456789") == std::string::npos;
    return zero || text.front() == '-' ? with_true_minus(std::move(text)) : "+" + text;
}

std::string with_uncertainty(std::string text, double std_uncertainty, int digits) {
    if (!std::isfinite(std_uncertainty) || std_uncertainty <= 0) return text;
    const double smallest = std::pow(10.0, -digits);
    return text + " \xc2\xb1 " + fixed_ascii(std::max(std_uncertainty, smallest), digits);
}

std::string percent(double value) {
    if (!std::isfinite(value)) return std::string(kDash);
    if (value > 0 && value < 0.05) return "under 0.1";
    return fixed(value, value < 9.95 && value != 0 ? 1 : 0);
}

std::string percent_with_uncertainty(double value, double std_uncertainty) {
    if (!std::isfinite(value) || !std::isfinite(std_uncertainty) || std_uncertainty <= 0) return percent(value);
    const int digits = std::abs(value) < 9.95 ? 1 : 0;
    return with_uncertainty(fixed(value, digits), std_uncertainty, digits);
}

std::string short_number(double value) {
    if (!std::isfinite(value)) return std::string(kDash);
    std::string text = fixed_ascii(value, 4);
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return with_true_minus(std::move(text));
}

std::string svg_number(double value, int digits) {
    if (!std::isfinite(value)) return "0";
    std::string text = fixed_ascii(value, digits);
    if (text.find('.') == std::string::npos) return text;
    text.erase(text.find_last_not_of('0') + 1);
    if (text.back() == '.') text.pop_back();
    return text;
}

std::string counted(long long n, std::string_view one, std::string_view many) { return fmt::format("{} {}", n, n == 1 ? one : many); }

}  // namespace basefog::report
