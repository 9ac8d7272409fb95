// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/raw_reader.h"

#include "scan/bad_pixels.h"
#include "scan/decoded_source.h"
#include "scan/sample_reader.h"
#include "scan/settle.h"

#include <libraw/libraw.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <vector>

namespace basefog::scan {
namespace {

/// The library's turn (bit 0: mirrored columns, 1: mirrored rows, 2: rows are columns) as an orientation tag.
constexpr std::array<int, 8> kTagOfFlip{1, 2, 4, 3, 5, 8, 6, 7};

/// Linear light of the sensor, and no more.
void set_parameters(LibRaw& raw) {
    auto& p = raw.imgdata.params;
    p.output_color = 0;  // the sensor's own channels
    p.output_bps = 16;
    p.gamm[0] = p.gamm[1] = 1.0;
    p.use_camera_wb = p.use_auto_wb = 0;
    for (float& factor : p.user_mul) factor = 1.0f;
    p.no_auto_bright = 1;
    p.adjust_maximum_thr = 0.0f;  // saturation as the file states it, not as the picture happens to reach it
    p.highlight = 0;              // cut at saturation
    p.user_flip = 0;              // turned here, as for every kind of file
    p.user_qual = 3;              // adaptive homogeneity-directed interpolation: follows edges, adds no sharpening
    p.use_fuji_rotate = 0;        // no turning, no stretching
    p.fbdd_noiserd = 0;
    p.med_passes = 0;
}

/// What a mosaic's codes are while its colours are interpolated. Where film is dense, blue is a hundredth of green, and an interpolation that takes the
/// difference of two colours for even makes nonsense of it along every edge. Densities differ evenly: so light is written as its logarithm, straight
/// only where it sinks into noise, and a little below black, as noise cut off on one side would make darkness brighter than it is.
class DensityCode {
public:
    /// Light, of full scale, to code, 0 to 1, and back. What is darker or brighter than can be written is cut there.
    [[nodiscard]] static double code(double light) { return std::clamp((std::asinh(light / kStraight) - lowest()) / (highest() - lowest()), 0.0, 1.0); }
    [[nodiscard]] static double light(double code) { return code >= 1 ? 1.0 : kStraight * std::sinh(lowest() + code * (highest() - lowest())); }

private:
    /// Chosen: four times a usual sensor's noise, 16 electrons of 40,000; a code is then .02 % of the light, or .0001 of density.
    static constexpr double kStraight = 4e-4;
    static constexpr double kBelowBlack = 1.0 / 128;  // Chosen: fifty times a usual sensor's noise
    [[nodiscard]] static double lowest() {
        static const double value = std::asinh(-kBelowBlack / kStraight);
        return value;
    }
    [[nodiscard]] static double highest() {
        static const double value = std::asinh(1 / kStraight);
        return value;
    }
};
constexpr double kMostCode = 65535;
std::uint16_t whole_code(double light) { return static_cast<std::uint16_t>(std::lround(kMostCode * DensityCode::code(light))); }

/// Whether colours lie behind a mosaic of two by two.
bool is_two_by_two(std::uint32_t filters) {
    // Two bits for each of two columns and eight rows: two rows are a byte.
    return filters > 1000 && (filters & 0xFFU) * 0x01010101U == filters;
}

std::string words(int code) { return code < 0 ? libraw_strerror(code) : "damaged data"; }

/// The sensor's codes, where they lie behind a mosaic of two by two; else nothing to be mended.
Mosaic mosaic_of(LibRaw& raw) {
    const auto& sizes = raw.imgdata.sizes;
    const auto& colour = raw.imgdata.color;
    Mosaic mosaic;
    if (!is_two_by_two(raw.imgdata.idata.filters) || raw.imgdata.rawdata.raw_image == nullptr) return mosaic;
    if (colour.cblack[4] > 2 || colour.cblack[5] > 2) return mosaic;  // a longer pattern of blacks: the library takes it off
    mosaic.stride = sizes.raw_pitch / 2;
    mosaic.first = raw.imgdata.rawdata.raw_image + sizes.top_margin * mosaic.stride + sizes.left_margin;
    mosaic.width = sizes.width, mosaic.height = sizes.height;
    double most = 0;
    for (unsigned y = 0; y < 2; ++y)
        for (unsigned x = 0; x < 2; ++x) {
            double black = colour.black + colour.cblack[raw.COLOR(static_cast<int>(y), static_cast<int>(x))];
            if (colour.cblack[4] > 0 && colour.cblack[5] > 0) black += colour.cblack[6 + y % colour.cblack[4] * colour.cblack[5] + x % colour.cblack[5]];
            mosaic.black[y * 2 + x] = black;
            most = std::max(most, black);
        }
    mosaic.range = std::max(1.0, colour.maximum - most);
    return mosaic;
}

/// Turns a sensor's codes into density codes, each place's black taken off; tells the library that there is none left.
void write_as_density(LibRaw& raw, const Mosaic& mosaic) {
    std::array<std::vector<std::uint16_t>, 4> table;
    for (std::size_t place = 0; place < table.size(); ++place)
        for (int code = 0; code <= 65535; ++code) table[place].push_back(whole_code((code - mosaic.black[place]) / mosaic.range));
    for (std::int64_t y = 0; y < mosaic.height; ++y)
        for (std::int64_t x = 0; x < mosaic.width; ++x) {
            std::uint16_t& code = mosaic.first[y * mosaic.stride + x];
            code = table[static_cast<std::size_t>(y % 2 * 2 + x % 2)][code];
        }
    for (libraw_colordata_t* colour : {&raw.imgdata.color, &raw.imgdata.rawdata.color}) {
        colour->black = 0;
        std::fill(std::begin(colour->cblack), std::end(colour->cblack), 0U);
        colour->maximum = 65535;
    }
}

constexpr int kSamples = 3;  // to a pixel, as kept
/// What the library holds of a pixel while it develops: the sensor's code, and four samples.
constexpr std::int64_t kLibraryBytes = 10;

/// Each two by two as one colour, its greens averaged in light: as exact as an interpolated mosaic where these pixels are averaged anyway, in a tenth of the
/// time.
std::vector<std::uint16_t> fold_mosaic(LibRaw& raw, const Mosaic& mosaic) {
    std::array<std::vector<float>, 4> light;
    std::vector<float> of_code;
    for (std::size_t place = 0; place < light.size(); ++place)
        for (int code = 0; code <= 65535; ++code) light[place].push_back(static_cast<float>((code - mosaic.black[place]) / mosaic.range));
    std::array<std::size_t, 4> colour{};
    std::array<float, 3> share{};
    for (std::size_t place = 0; place < 4; ++place) {
        const int c = raw.COLOR(static_cast<int>(place / 2), static_cast<int>(place % 2));
        colour[place] = c == 3 ? 1U : static_cast<std::size_t>(c);  // 3: a second green
        share[colour[place]] += 1;
    }
    std::vector<std::uint16_t> out(static_cast<std::size_t>(mosaic.width * mosaic.height * kSamples));
    for (std::int64_t y = 0; y < mosaic.height; y += 2)
        for (std::int64_t x = 0; x < mosaic.width; x += 2) {
            // At an odd edge the two by two before it stands in for what is missing.
            const std::int64_t y0 = std::min(y, mosaic.height - 2), x0 = std::min(x, mosaic.width - 2);
            std::array<float, 3> sum{};
            for (std::size_t place = 0; place < 4; ++place) {
                const std::int64_t py = y0 + static_cast<std::int64_t>(place / 2), px = x0 + static_cast<std::int64_t>(place % 2);
                const auto at = static_cast<std::size_t>(py % 2 * 2 + px % 2);
                sum[colour[at]] += light[at][mosaic.first[py * mosaic.stride + px]];
            }
            std::array<std::uint16_t, kSamples> pixel{};
            for (std::size_t c = 0; c < kSamples; ++c) pixel[c] = whole_code(static_cast<double>(sum[c] / share[c]));
            for (std::int64_t py = y; py < std::min(y + 2, mosaic.height); ++py)
                for (std::int64_t px = x; px < std::min(x + 2, mosaic.width); ++px)
                    std::copy(pixel.begin(), pixel.end(), out.begin() + (py * mosaic.width + px) * kSamples);
        }
    return out;
}

/// The same for what the library developed from light itself.
void write_developed_as_density(LibRaw& raw) {
    std::vector<std::uint16_t> table;
    for (int code = 0; code <= 65535; ++code) table.push_back(whole_code(code / kMostCode));
    const std::int64_t pixels = std::int64_t{raw.imgdata.sizes.iwidth} * raw.imgdata.sizes.iheight;
    for (std::int64_t i = 0; i < pixels; ++i)
        for (int c = 0; c < 4; ++c) raw.imgdata.image[i][c] = table[raw.imgdata.image[i][c]];
}

const char* const kHintDamaged = "copy it from the card again";

Result<void> unpack(LibRaw& raw, const std::string& path) {
    int code = raw.unpack();
    if (code == LIBRAW_SUCCESS && raw.error_count() > 0) code = LIBRAW_IO_ERROR;
    if (code != LIBRAW_SUCCESS) return fail(ErrorCode::malformed, "its sensor data cannot be decoded (" + words(code) + ")", path, kHintDamaged);
    return {};
}

/// What the library developed, without the fourth sample that it keeps beside every three; the library lets go of all it holds.
std::vector<std::uint16_t> take_developed(LibRaw& raw) {
    const std::int64_t pixels = std::int64_t{raw.imgdata.sizes.iwidth} * raw.imgdata.sizes.iheight;
    std::vector<std::uint16_t> out(static_cast<std::size_t>(pixels * kSamples));
    for (std::int64_t i = 0; i < pixels; ++i) std::copy(raw.imgdata.image[i], raw.imgdata.image[i] + kSamples, out.begin() + i * kSamples);
    raw.recycle();
    return out;
}

DecodedSource::Pixels pixels_of(const std::vector<std::uint16_t>& kept, const SampleLayout& layout) {
    return {reinterpret_cast<const std::byte*>(kept.data()), layout.width * kSamples * 2};
}

/// `kept` holds the pixels, here and below.
Result<DecodedSource::Pixels> develop(LibRaw& raw, const std::string& path, const SampleLayout& layout, std::vector<std::uint16_t>& kept) {
    const Mosaic mosaic = mosaic_of(raw);
    if (mosaic.first != nullptr) {
        mend_bad_pixels(mosaic);
        write_as_density(raw, mosaic);
    }
    set_parameters(raw);
    const int code = raw.dcraw_process();
    if (code != LIBRAW_SUCCESS || raw.imgdata.image == nullptr)
        return fail(ErrorCode::malformed, "its sensor data cannot be developed (" + words(code) + ")", path, kHintDamaged);
    if (raw.imgdata.sizes.iwidth != layout.width || raw.imgdata.sizes.iheight != layout.height)
        return fail(ErrorCode::unsupported, "comes from a sensor whose rows do not run along its edges", path, "export it as a linear TIFF of 16 bits");
    if (mosaic.first == nullptr && is_two_by_two(raw.imgdata.idata.filters)) write_developed_as_density(raw);
    kept = take_developed(raw);
    return pixels_of(kept, layout);
}

Result<DecodedSource::Pixels> decode(LibRaw& raw, const std::string& path, const SampleLayout& layout, std::vector<std::uint16_t>& kept) {
    if (auto unpacked = unpack(raw, path); !unpacked) return Failure(std::move(unpacked.error()));
    return develop(raw, path, layout, kept);
}

/// For averages over two by two and more.
Result<DecodedSource::Pixels> decode_folded(LibRaw& raw, const std::string& path, const SampleLayout& layout, std::vector<std::uint16_t>& kept) {
    if (auto unpacked = unpack(raw, path); !unpacked) return Failure(std::move(unpacked.error()));
    const Mosaic mosaic = mosaic_of(raw);
    if (mosaic.first == nullptr || mosaic.width != layout.width || mosaic.height != layout.height || std::min(mosaic.width, mosaic.height) < 2)
        return develop(raw, path, layout, kept);
    mend_bad_pixels(mosaic);
    kept = fold_mosaic(raw, mosaic);
    raw.recycle();  // what it holds of the file
    return pixels_of(kept, layout);
}

Result<void> check(LibRaw& raw, const std::string& path, const ScanOptions& options) {
    const auto& sizes = raw.imgdata.sizes;
    const std::int64_t width = std::max(sizes.raw_width, sizes.width), height = std::max(sizes.raw_height, sizes.height);
    const int colours = raw.imgdata.idata.colors;
    const char* hint = "export it as a linear TIFF of 16 bits";
    if (raw.imgdata.idata.raw_count == 0 || sizes.width == 0 || sizes.height == 0)
        return fail(ErrorCode::unsupported, "holds no sensor data, only metadata or a small picture", path, "name the RAW file itself");
    if (colours != 1 && colours != 3) return fail(ErrorCode::unsupported, "comes from a sensor with " + std::to_string(colours) + " colours", path, hint);
    if (raw.is_fuji_rotated() != 0) return fail(ErrorCode::unsupported, "comes from a sensor whose rows do not run along its edges", path, hint);
    if (sizes.left_margin + sizes.width > sizes.raw_width || sizes.top_margin + sizes.height > sizes.raw_height)
        return fail(ErrorCode::malformed, "says that its picture reaches beyond its sensor", path, kHintDamaged);
    // Half as many rows as columns, as of some old cameras, would need a picture stretched; a per cent is within what the finder allows between two axes.
    constexpr double kSquare = 0.01;
    if (const double aspect = sizes.pixel_aspect; !(std::abs(aspect - 1) <= kSquare))
        return fail(ErrorCode::unsupported, "comes from a sensor whose pixels are not square", path, hint);
    if (width > options.max_pixels / height)
        return fail(ErrorCode::too_large, "has more pixels than the limit of " + std::to_string(options.max_pixels), path,
                    "raise the limit if the file is sound");
    return {};
}

/// The turn the camera asks for; some of its sources are in degrees.
int orientation_tag(int flip) {
    switch ((flip + 3600) % 360) {
        case 270:
            flip = 5;
            break;
        case 180:
            flip = 3;
            break;
        case 90:
            flip = 6;
            break;
        default:
            break;
    }
    return kTagOfFlip[static_cast<std::size_t>(flip & 7)];
}

CameraSettings settings_of(const libraw_data_t& raw) {
    CameraSettings settings;
    settings.camera = raw.idata.make;
    if (raw.idata.model[0] != 0) settings.camera += (settings.camera.empty() ? "" : " ") + std::string(raw.idata.model);
    // The library may give what it cannot find as nonsense.
    const auto positive = [](float value) { return std::isfinite(value) && value > 0 ? static_cast<double>(value) : 0.0; };
    settings.seconds = positive(raw.other.shutter);
    settings.f_number = positive(raw.other.aperture);
    settings.iso = positive(raw.other.iso_speed);
    return settings;
}

}  // namespace

bool looks_like_raw(const std::string& path) {
    const auto raw = std::make_unique<LibRaw>();
    raw->set_dataerror_handler(nullptr, nullptr);
    return raw->open_file(path.c_str()) == LIBRAW_SUCCESS;
}

Result<std::unique_ptr<ScanReader>> open_raw(const std::string& path, const std::string& date, const ScanOptions& options, Observer& observer) {
    // Its own reports of damaged data would go to the terminal; error_count() tells as much.
    const auto raw = std::make_shared<LibRaw>();
    raw->set_dataerror_handler(nullptr, nullptr);
    if (raw->open_file(path.c_str()) != LIBRAW_SUCCESS)
        return fail(ErrorCode::unsupported, "is no scan: its content is neither TIFF, PNG, JPEG nor a known camera RAW, whatever its name says", path,
                    "name a scan");
    if (auto good = check(*raw, path, options); !good) return Failure(good.error());
    const int tag = options.orientation.value_or(orientation_tag(raw->imgdata.sizes.flip));
    const SampleLayout layout{raw->imgdata.sizes.width, raw->imgdata.sizes.height, kSamples, SampleType::u16};
    const Orientation orientation(tag, layout.width, layout.height);

    ScanInfo info;
    info.path = path;
    info.kind = FileKind::raw;
    info.orientation = tag;
    info.width = orientation.width();
    info.height = orientation.height();
    info.colour_channels = raw->imgdata.idata.colors;
    info.encoding_origin = Origin::file;
    info.date = date;
    info.settings = settings_of(raw->imgdata);
    settle_resolution(info, std::nullopt, options);
    if (options.encoding && options.encoding->kind != Encoding::Kind::linear)
        info.warnings.push_back("A stated encoding does not apply to a RAW file, which is linear.");
    Linearisation how;
    how.identity = !is_two_by_two(raw->imgdata.idata.filters);
    how.infrared = curve_of({});
    how.colour.fill(DensityCode::light);
    const auto kept = std::make_shared<std::vector<std::uint16_t>>();
    auto source = std::make_unique<DecodedSource>(
        layout, [raw, path, layout, kept] { return decode(*raw, path, layout, *kept); },
        [raw, path, layout, kept] { return decode_folded(*raw, path, layout, *kept); }, kLibraryBytes);
    return std::make_unique<SampleReader>(std::move(info), std::move(source), tag, std::move(how), options, observer);
}

}  // namespace basefog::scan
