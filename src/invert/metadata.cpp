// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/metadata.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <exiv2/exiv2.hpp>
#include <mutex>

namespace basefog::invert {
namespace {

/// Exiv2's XMP engine keeps global state: one thread at a time, and started once.
std::mutex& exiv2_mutex() {
    static std::mutex mutex;
    return mutex;
}
void start_exiv2() {
    static const bool started = [] {
        Exiv2::LogMsg::setHandler(nullptr);  // the library never prints
        return Exiv2::XmpParser::initialize();
    }();
    (void)started;
}

/// Length of a valid UTF-8 sequence at `at`, 0 if there is none. [RFC3629]
std::size_t utf8_length(const std::string& text, std::size_t at) {
    const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0u; };
    const unsigned lead = byte(at);
    if (lead < 0x80) return 1;
    const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
    if (lead < 0xC2 || lead > 0xF4) return 0;
    for (std::size_t i = 1; i < length; ++i)
        if ((byte(at + i) & 0xC0) != 0x80) return 0;
    const unsigned second = byte(at + 1);
    const bool overlong = (lead == 0xE0 && second < 0xA0) || (lead == 0xF0 && second < 0x90);
    const bool outside = (lead == 0xED && second >= 0xA0) || (lead == 0xF4 && second >= 0x90);
    return overlong || outside ? 0 : length;
}

/// IPTC-IIM limits a field's octets [IIM4.2]; cut at a whole character.
std::string at_most(const std::string& text, std::size_t octets) {
    if (text.size() <= octets) return text;
    std::size_t end = octets;
    while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;
    return text.substr(0, end);
}

/// Each once, in the order given.
std::vector<std::string> distinct_keywords(const PhotoMetadata& metadata) {
    std::vector<std::string> words;
    for (const std::string& word : metadata.keywords)
        if (const std::string clean = clean_text(word); !clean.empty() && std::find(words.begin(), words.end(), clean) == words.end()) words.push_back(clean);
    return words;
}

Exiv2::XmpData make_xmp(const PhotoMetadata& metadata) {
    Exiv2::XmpData xmp;
    const auto language = [&](const char* key, const std::string& text) {
        if (text.empty()) return;
        Exiv2::LangAltValue value;
        value.value_["x-default"] = text;
        xmp.add(Exiv2::XmpKey(key), &value);
    };
    language("Xmp.dc.title", clean_text(metadata.title));
    language("Xmp.dc.description", clean_text(metadata.description));
    if (const auto words = distinct_keywords(metadata); !words.empty()) {
        Exiv2::XmpArrayValue bag(Exiv2::xmpBag);
        for (const std::string& word : words) bag.read(word);
        xmp.add(Exiv2::XmpKey("Xmp.dc.subject"), &bag);
    }
    if (!metadata.software.empty()) xmp["Xmp.xmp.CreatorTool"] = clean_text(metadata.software);
    if (!exif_date(metadata.date).empty()) xmp["Xmp.exif.DateTimeOriginal"] = metadata.date;
    if (const std::uint16_t speed = exif_speed(metadata); speed != 0) {
        Exiv2::XmpArrayValue list(Exiv2::xmpSeq);
        list.read(std::to_string(speed));
        xmp.add(Exiv2::XmpKey("Xmp.exif.ISOSpeedRatings"), &list);
    }
    return xmp;
}

Exiv2::IptcData make_iptc(const PhotoMetadata& metadata) {
    Exiv2::IptcData iptc;
    const auto add = [&](const char* key, const std::string& text, std::size_t octets) {
        if (text.empty()) return;
        Exiv2::StringValue value;
        value.value_ = at_most(text, octets);
        iptc.add(Exiv2::IptcKey(key), &value);
    };
    add("Iptc.Envelope.CharacterSet", "\033%G", 3);  // ISO 2022's name for UTF-8
    add("Iptc.Application2.ObjectName", clean_text(metadata.title), 64);
    add("Iptc.Application2.Caption", clean_text(metadata.description), 2000);
    for (const std::string& word : distinct_keywords(metadata)) add("Iptc.Application2.Keywords", word, 64);
    if (const std::string date = exif_date(metadata.date); !date.empty()) {
        Exiv2::DateValue value;
        value.read(date.substr(0, 4) + "-" + date.substr(5, 2) + "-" + date.substr(8, 2));
        iptc.add(Exiv2::IptcKey("Iptc.Application2.DateCreated"), &value);
    }
    return iptc;
}

Exiv2::ExifData make_exif(const PhotoMetadata& metadata) {
    Exiv2::ExifData exif;
    if (const std::string text = clean_text(metadata.description.empty() ? metadata.title : metadata.description); !text.empty())
        exif["Exif.Image.ImageDescription"] = text;
    if (!metadata.software.empty()) exif["Exif.Image.Software"] = clean_text(metadata.software);
    if (const std::string date = exif_date(metadata.date); !date.empty()) exif["Exif.Photo.DateTimeOriginal"] = date;
    if (const std::uint16_t speed = exif_speed(metadata); speed != 0) exif["Exif.Photo.ISOSpeedRatings"] = speed;
    return exif;
}

}  // namespace

std::string clean_text(const std::string& text) {
    std::string clean;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t length = utf8_length(text, at);
        if (length == 0)
            clean += "\xEF\xBF\xBD";
        else if (length == 1 && (static_cast<unsigned char>(text[at]) < 0x20 || text[at] == 0x7F))
            clean += ' ';
        else
            clean.append(text, at, length);
        at += std::max<std::size_t>(length, 1);
    }
    return clean;
}

std::string exif_date(const std::string& iso8601) {
    // "YYYY-MM-DD", perhaps followed by "T" or " " and "HH:MM:SS"; what comes after is left out.
    constexpr std::string_view kForm = "dddd-dd-ddTdd:dd:dd";
    constexpr std::size_t kDateOnly = 10;
    if (iso8601.size() < kDateOnly) return {};
    const std::size_t length = iso8601.size() >= kForm.size() ? kForm.size() : kDateOnly;
    std::string out = "0000:00:00 00:00:00";
    for (std::size_t i = 0; i < length; ++i) {
        const char c = iso8601[i];
        const bool digit = c >= '0' && c <= '9';
        const bool fits = kForm[i] == 'd' ? digit : kForm[i] == 'T' ? c == 'T' || c == ' ' : c == kForm[i];
        if (!fits) return {};
        if (digit) out[i] = c;
    }
    return out;
}

std::uint16_t exif_speed(const PhotoMetadata& metadata) {
    const double speed = std::round(metadata.exposure_index.value_or(0));
    return speed >= 1 && speed <= 65534 ? static_cast<std::uint16_t>(speed) : std::uint16_t{0};
}

Result<MetadataBlocks> encode_blocks(const PhotoMetadata& metadata) try {
    const std::lock_guard lock(exiv2_mutex());
    start_exiv2();
    MetadataBlocks blocks;
    const Exiv2::XmpData xmp = make_xmp(metadata);
    if (!xmp.empty() && Exiv2::XmpParser::encode(blocks.xmp, xmp, Exiv2::XmpParser::useCompactFormat) != 0)
        return fail(ErrorCode::unwritable, "the picture's description could not be encoded");
    const Exiv2::IptcData iptc = make_iptc(metadata);
    constexpr std::ptrdiff_t kCharacterSetOnly = 1;
    if (iptc.count() > kCharacterSetOnly) {
        const Exiv2::DataBuf bytes = Exiv2::IptcParser::encode(iptc);
        blocks.iptc.assign(reinterpret_cast<const char*>(bytes.pData_), static_cast<std::size_t>(bytes.size_));
    }
    return blocks;
} catch (const std::exception& error) {
    return fail(ErrorCode::unwritable, std::string("the picture's description could not be encoded: ") + error.what());
}

Result<std::string> add_to_jpeg(const std::string& jpeg, const std::string& icc_bytes, const PhotoMetadata& metadata) try {
    const std::lock_guard lock(exiv2_mutex());
    start_exiv2();
    auto image = Exiv2::ImageFactory::open(reinterpret_cast<const Exiv2::byte*>(jpeg.data()), static_cast<long>(jpeg.size()));
    image->readMetadata();
    Exiv2::DataBuf icc(reinterpret_cast<const Exiv2::byte*>(icc_bytes.data()), static_cast<long>(icc_bytes.size()));
    image->setIccProfile(icc);
    image->setExifData(make_exif(metadata));
    image->setIptcData(make_iptc(metadata));
    image->setXmpData(make_xmp(metadata));
    image->writeMetadata();
    Exiv2::BasicIo& io = image->io();
    if (io.open() != 0) return fail(ErrorCode::unwritable, "the proof's description could not be written");
    const Exiv2::DataBuf bytes = io.read(static_cast<long>(io.size()));
    return std::string(reinterpret_cast<const char*>(bytes.pData_), static_cast<std::size_t>(bytes.size_));
} catch (const std::exception& error) {
    return fail(ErrorCode::unwritable, std::string("the proof's description could not be written: ") + error.what());
}

}  // namespace basefog::invert
