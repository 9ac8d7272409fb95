// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_files.h"

#include <tiffio.h>

#include <algorithm>
#include <locale>
#include <memory>
#include <sstream>
#include <stdexcept>
#include <vector>

namespace synthetic {
namespace {

std::string quoted(const std::string& text) {
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\') out += '\\';
        out += c;
    }
    return out + '"';
}

/// Key and value pairs of one JSON object, in the order they were added.
class Object {
public:
    Object() { text_.imbue(std::locale::classic()); }
    Object& add(const std::string& key, const std::string& json) {
        text_ << (text_.tellp() > 0 ? ", " : "") << quoted(key) << ": " << json;
        return *this;
    }
    Object& add(const std::string& key, double value) { return add(key, number(value)); }
    template <class List>
    Object& list(const std::string& key, const List& values) {
        return add(key, joined(values, [](double v) { return number(v); }));
    }
    Object& corners(const std::string& key, const Corners& q) {
        return add(key, joined(q, [](const std::array<double, 2>& p) { return std::string("[") + number(p[0]) + ", " + number(p[1]) + "]"; }));
    }
    template <class List, class Text>
    static std::string joined(const List& values, Text&& text) {
        std::string out = "[";
        for (const auto& value : values) out += (out.size() > 1 ? ", " : "") + text(value);
        return out + "]";
    }
    static std::string number(double value) {
        std::ostringstream out;
        out.imbue(std::locale::classic());
        out.precision(10);
        out << value;
        return out.str();
    }
    [[nodiscard]] std::string text() const { return std::string("{").append(text_.str()).append("}"); }

private:
    std::ostringstream text_;
};

std::string texts(const std::vector<std::string>& values) { return Object::joined(values, quoted); }

std::string frame_json(const FrameTruth& frame) {
    constexpr const char* kContents[] = {"picture", "blank", "fogged"};
    Object out;
    out.add("number", frame.number).add("scene", quoted(frame.scene)).add("ev", frame.stops).corners("corners_px", frame.corners_px);
    out.add("kind", quoted(kContents[static_cast<int>(frame.content)])).corners("on_film_px", frame.on_film_px).add("visible_share", frame.visible_share);
    out.add("cut_off", frame.cut_off ? "true" : "false").add("overlapped", frame.overlapped ? "true" : "false");
    out.list("edge_step", frame.edge_step);
    return out.add("difficulties", texts(frame.difficulties)).text();
}

std::string code_json(const KeyCodeTruth& code) { return Object().add("digits", quoted(code.digits)).corners("corners_px", code.corners_px).text(); }

std::string strip_json(const StripTruth& strip) {
    Object out;
    out.add("roll", quoted(strip.roll)).add("stock", quoted(strip.stock)).add("angle_deg", strip.angle_deg);
    out.corners("corners_px", strip.corners_px).corners("film_corners_px", strip.film_corners_px);
    out.list("base_density", std::vector<double>(strip.base_density.begin(), strip.base_density.begin() + 3)).add("base_density_ir", strip.base_density[3]);
    out.list("gamma", strip.gamma).list("fog_dye", strip.fog).list("toe_log_h", strip.toe_log_h).list("layer_offset_log_h", strip.layer_offset_log_h);
    out.add("residue_level", quoted(strip.residue_level)).add("residue_area_percent", strip.residue_area_percent);
    out.add("residue_veil_density", strip.residue_veil).add("residue_mean_density", strip.residue_mean_density);
    out.add("key_codes", Object::joined(strip.codes, code_json)).add("difficulties", texts(strip.difficulties));
    out.add("frames", Object::joined(strip.frames, [](const FrameTruth& f) { return std::string("\n   ").append(frame_json(f)); }));
    return out.text();
}

}  // namespace

void write_tiff(const std::string& path, const cv::Mat& samples, double dpi, Packing packing) {
    const std::unique_ptr<TIFF, void (*)(TIFF*)> tiff(TIFFOpen(path.c_str(), "w"), [](TIFF* t) {
        if (t) TIFFClose(t);
    });
    if (!tiff) throw std::runtime_error("cannot write " + path);
    const int bits = samples.depth() == CV_8U ? 8 : 16, channels = samples.channels();
    TIFFSetField(tiff.get(), TIFFTAG_IMAGEWIDTH, samples.cols);
    TIFFSetField(tiff.get(), TIFFTAG_IMAGELENGTH, samples.rows);
    TIFFSetField(tiff.get(), TIFFTAG_BITSPERSAMPLE, bits);
    TIFFSetField(tiff.get(), TIFFTAG_SAMPLESPERPIXEL, channels);
    TIFFSetField(tiff.get(), TIFFTAG_PHOTOMETRIC, channels >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK);
    TIFFSetField(tiff.get(), TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(tiff.get(), TIFFTAG_ROWSPERSTRIP, 64);
    if (dpi > 0) {
        TIFFSetField(tiff.get(), TIFFTAG_XRESOLUTION, dpi);
        TIFFSetField(tiff.get(), TIFFTAG_YRESOLUTION, dpi);
        TIFFSetField(tiff.get(), TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH);
    }
    if (channels == 4) {
        const std::uint16_t extra = EXTRASAMPLE_UNSPECIFIED;
        TIFFSetField(tiff.get(), TIFFTAG_EXTRASAMPLES, 1, &extra);
    }
    if (packing == Packing::deflate) {
        TIFFSetField(tiff.get(), TIFFTAG_COMPRESSION, COMPRESSION_ADOBE_DEFLATE);
        TIFFSetField(tiff.get(), TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
        TIFFSetField(tiff.get(), TIFFTAG_ZIPQUALITY, 4);
    } else {
        TIFFSetField(tiff.get(), TIFFTAG_COMPRESSION, COMPRESSION_NONE);
    }
    std::vector<std::uint8_t> line(static_cast<std::size_t>(samples.cols) * samples.elemSize());  // the predictor works in place
    for (int row = 0; row < samples.rows; ++row) {
        std::copy_n(samples.ptr<std::uint8_t>(row), line.size(), line.data());
        if (TIFFWriteScanline(tiff.get(), line.data(), static_cast<std::uint32_t>(row), 0) < 0) throw std::runtime_error("cannot write " + path);
    }
}

std::string truth_json(const SheetSpec& spec, const Sheet& sheet) {
    constexpr const char* kEncodings[] = {"linear", "gamma2.2", "srgb"};
    Object out;
    out.add("file", quoted(spec.file)).add("dpi", spec.dpi);
    out.list("size_px", std::vector<double>{static_cast<double>(sheet.light.cols), static_cast<double>(sheet.light.rows)});
    out.add("difficulties", texts(spec.difficulties));
    out.add("encoding", quoted(kEncodings[static_cast<int>(spec.encoding)])).add("scanner", quoted(spec.scanner.name));
    out.add("strips", Object::joined(sheet.strips, [](const StripTruth& s) { return std::string("\n ").append(strip_json(s)); }));
    return out.text() + "\n";
}

}  // namespace synthetic
