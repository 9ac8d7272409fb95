// SPDX-License-Identifier: GPL-3.0-or-later
// Takes dust, fibres, scratches and leftover backing out of a picture. See docs/stages/mend.md.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/pixel_source.h"
#include "basefog/core/scratch.h"
#include "basefog/mend/options.h"
#include "basefog/mend/types.h"

#include <memory>

namespace basefog {

/// A picture with its defects' pixels replaced. Changes colour where the marks say so and nowhere else; infrared is left as it is.
class MendedPixels final : public PixelSource {
public:
    struct State;
    explicit MendedPixels(std::unique_ptr<const State> state);
    MendedPixels(MendedPixels&&) noexcept;
    MendedPixels& operator=(MendedPixels&&) noexcept;
    ~MendedPixels() override;
    [[nodiscard]] PxRect rect() const override;
    [[nodiscard]] Result<void> read(PxRect part, View<LinearRgbi> out) const override;
    [[nodiscard]] const MendCounts& counts() const;
    /// What was done to each pixel of a part of rect(). Any number of threads at once. Errors: unreadable.
    [[nodiscard]] Result<void> marks(PxRect part, View<Mended> out) const;

private:
    std::unique_ptr<const State> state_;
};

/// What mending may use while it works.
struct MendMeans {
    Scratch& scratch;                                ///< holds some 5 bytes a pixel, and 16 for each that is mended; outlives the result
    ForEach for_each;                                ///< the result does not depend on it
    std::int64_t memory_bytes = 64LL * 1024 * 1024;  ///< beside the scratch; at least one tile
};

/// Works tile by tile, so the picture may be of any size. Changes nothing when the mode is off, and by infrared nothing on silver. `source` must outlive the
/// result. Errors: the source's and the scratch's.
[[nodiscard]] Result<MendedPixels> mend(const PixelSource& source, const DefectMap& map, const MendFacts& facts, const MendOptions& options,
                                        const MendMeans& means);

/// The same in place, on pixels in memory; `rect` is where they lie on the scan and has their size.
[[nodiscard]] Mending mend(View<LinearRgbi> pixels, PxRect rect, const DefectMap& map, const MendFacts& facts, const MendOptions& options);

}  // namespace basefog
