// SPDX-License-Identifier: GPL-3.0-or-later
// The ScanReader of every file kind: a source of stored samples, an orientation, a linearisation, and a spill if need be.
#pragma once

#include "basefog/scan/reader.h"
#include "scan/linearise.h"
#include "scan/orientation.h"
#include "scan/samples.h"

namespace basefog::scan {

class SampleReader final : public ScanReader {
public:
    /// The observer is told of a spill and must outlive the reader.
    SampleReader(ScanInfo info, std::unique_ptr<SampleSource> source, int orientation, Linearisation how, const ScanOptions& options, Observer& observer);
    [[nodiscard]] const ScanInfo& info() const override { return info_; }
    [[nodiscard]] Access access() const override;
    void will_average(std::int64_t factor) override { source_->will_average(factor); }
    [[nodiscard]] std::int64_t held_bytes() const override { return source_->held_bytes(); }
    [[nodiscard]] Result<void> read_region(PxRect rect, View<LinearRgbi> out) override;
    [[nodiscard]] std::shared_ptr<const StoredFormat> stored_format() const override;
    [[nodiscard]] Result<void> read_stored(PxRect rect, std::byte* out) override;

private:
    [[nodiscard]] Result<void> prepare(PxRect stored);
    /// Each stored row of a region: its first sample, how many, and where on the scan the first and the second of them lie.
    template <class Row>
    [[nodiscard]] Result<void> visit_rows(PxRect rect, const Row& row);

    ScanInfo info_;
    std::unique_ptr<SampleSource> source_;
    Orientation orientation_;
    std::shared_ptr<const Lineariser> lineariser_;
    std::int64_t memory_bytes_;
    std::string spill_folder_;
    Observer& observer_;
};

}  // namespace basefog::scan
