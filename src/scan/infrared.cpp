// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/infrared.h"

#include <algorithm>
#include <cstring>
#include <vector>

namespace basefog::scan {
namespace {

/// Each pixel's colours, then its infrared.
class StoredPair final : public StoredFormat {
public:
    StoredPair(std::shared_ptr<const StoredFormat> colours, std::shared_ptr<const StoredFormat> infrared)
        : colours_(std::move(colours)), infrared_(std::move(infrared)) {}
    [[nodiscard]] std::int64_t pixel_bytes() const override { return colours_->pixel_bytes() + infrared_->pixel_bytes(); }
    void linear(const std::byte* stored, PxRect where, View<LinearRgbi> out) const override {
        const std::int64_t width = where.width(), a = colours_->pixel_bytes(), b = infrared_->pixel_bytes();
        std::vector<std::byte> colours(static_cast<std::size_t>(width * a)), infrared(static_cast<std::size_t>(width * b));
        std::vector<LinearRgbi> light(static_cast<std::size_t>(width));
        for (std::int64_t y = 0; y < where.height(); ++y) {
            for (std::int64_t x = 0; x < width; ++x, stored += a + b) {
                std::memcpy(colours.data() + x * a, stored, static_cast<std::size_t>(a));
                std::memcpy(infrared.data() + x * b, stored + a, static_cast<std::size_t>(b));
            }
            const PxRect row{where.x0, where.y0 + y, where.x1, where.y0 + y + 1};
            colours_->linear(colours.data(), row, out.part(0, y, width, 1));
            infrared_->linear(infrared.data(), row, {light.data(), width, 1, width});
            for (std::int64_t x = 0; x < width; ++x) out(x, y).ir = light[static_cast<std::size_t>(x)].r;
        }
    }

private:
    std::shared_ptr<const StoredFormat> colours_, infrared_;
};

class InfraredPair final : public ScanReader {
public:
    InfraredPair(std::unique_ptr<ScanReader> colours, std::unique_ptr<ScanReader> infrared, const std::string& from)
        : colours_(std::move(colours)), infrared_(std::move(infrared)), info_(colours_->info()) {
        info_.has_infrared = true;
        info_.infrared_from = from;
        if (infrared_->info().lossy)
            info_.warnings.push_back("The infrared was compressed with loss (JPEG), which disturbs dust and residue; save it as TIFF.");
    }
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    void will_average(std::int64_t factor) override { colours_->will_average(factor); }
    [[nodiscard]] std::int64_t held_bytes() const override { return colours_->held_bytes() + infrared_->held_bytes(); }
    [[nodiscard]] Access access() const override {
        const bool random = colours_->access() == Access::random && infrared_->access() == Access::random;
        return random ? Access::random : Access::sequential;
    }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override {
        if (rect.empty()) return {};
        if (auto read = colours_->read_region(rect, out); !read) return read;
        constexpr std::int64_t kPixelsAtOnce = 1 << 18;  // Chosen: 4 MiB of pixels beside the caller's own
        const std::int64_t rows = std::max<std::int64_t>(1, kPixelsAtOnce / rect.width());
        Image<LinearRgbi> band(rect.width(), std::min(rows, rect.height()));
        for (std::int64_t y = rect.y0; y < rect.y1; y += band.height()) {
            const std::int64_t height = std::min(band.height(), rect.y1 - y);
            if (auto read = infrared_->read_region({rect.x0, y, rect.x1, y + height}, band.view().part(0, 0, rect.width(), height)); !read) return read;
            for (std::int64_t row = 0; row < height; ++row)
                for (std::int64_t x = 0; x < rect.width(); ++x) out(x, y - rect.y0 + row).ir = band(x, row).r;
        }
        take_news();
        return {};
    }
    [[nodiscard]] std::shared_ptr<const StoredFormat> stored_format() const override {
        return std::make_shared<StoredPair>(colours_->stored_format(), infrared_->stored_format());
    }
    [[nodiscard]] Result<void> read_stored(PxRect rect, std::byte* out) override {
        const std::int64_t a = colours_->stored_format()->pixel_bytes(), b = infrared_->stored_format()->pixel_bytes(), n = rect.width() * rect.height();
        std::vector<std::byte> part(static_cast<std::size_t>(n * std::max(a, b)));
        const auto take = [&](ScanReader& reader, std::int64_t bytes, std::int64_t place) -> Result<void> {
            if (auto read = reader.read_stored(rect, part.data()); !read) return read;
            for (std::int64_t i = 0; i < n; ++i) std::memcpy(out + i * (a + b) + place, part.data() + i * bytes, static_cast<std::size_t>(bytes));
            return {};
        };
        if (auto taken = take(*colours_, a, 0); !taken) return taken;
        auto taken = take(*infrared_, b, a);
        take_news();
        return taken;
    }

private:
    /// What the two have met while they were read.
    void take_news() {
        const auto add = [&](const std::vector<std::string>& warnings, std::size_t& told, const char* of) {
            for (; told < warnings.size(); ++told) info_.warnings.push_back(of + warnings[told]);
        };
        add(colours_->info().warnings, told_of_colours_, "");
        add(infrared_->info().warnings, told_of_infrared_, "Infrared: ");
    }

    std::unique_ptr<ScanReader> colours_, infrared_;
    ScanInfo info_;
    std::size_t told_of_colours_ = colours_->info().warnings.size(), told_of_infrared_ = infrared_->info().warnings.size();
};

std::string size_text(const ScanInfo& info) { return std::to_string(info.width) + " x " + std::to_string(info.height); }

}  // namespace

std::unique_ptr<ScanReader> pair_with_infrared(std::unique_ptr<ScanReader> colours, std::unique_ptr<ScanReader> infrared, const std::string& from) {
    BASEFOG_ASSERT(colours->info().width == infrared->info().width && colours->info().height == infrared->info().height);
    return std::make_unique<InfraredPair>(std::move(colours), std::move(infrared), from);
}

Result<std::unique_ptr<ScanReader>> add_infrared_file(std::unique_ptr<ScanReader> colours, const ScanOptions& options, Observer& observer) {
    ScanOptions own = options;
    own.infrared_path.clear();
    own.ignore_infrared = true;
    own.light_frame_path.clear(), own.dark_frame_path.clear(), own.other_exposures.clear();  // these are of visible light
    auto infrared = open_scan(options.infrared_path, own, observer);
    if (!infrared) return Failure(infrared.error());
    const ScanInfo &a = colours->info(), &b = (*infrared)->info();
    if (a.width != b.width || a.height != b.height)
        return fail(ErrorCode::malformed, "its infrared has " + size_text(b) + " pixels where the scan " + a.path + " has " + size_text(a),
                    options.infrared_path, "scan both with the same area and resolution");
    return pair_with_infrared(std::move(colours), std::move(*infrared), options.infrared_path);
}

}  // namespace basefog::scan
