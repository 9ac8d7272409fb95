// SPDX-License-Identifier: GPL-3.0-or-later
// The sheets of a run measured and kept, so that proofs of their frames are made as often as someone changes his mind.
#pragma once

#include "basefog/core/proof.h"
#include "basefog/pipeline/run.h"

#include <memory>

namespace basefog {

/// Not safe from several threads at once. Holds the measurements and one frame's negative: some megabytes to a frame, and 16 bytes to a pixel of that one.
class ProofTable {
public:
    /// Measures the run's sheets and fits their rolls, as the run does; writes nothing. Errors: as for a run. A scan that cannot be used has no proofs.
    [[nodiscard]] static Result<ProofTable> measure(const RunOptions& options, Observer& observer);
    ProofTable(ProofTable&&) noexcept;
    ProofTable& operator=(ProofTable&&) noexcept;
    ~ProofTable();

    /// The proof of the frame that lay where the corners' centre is. Its film, its level and what stands on its film are as measured; corners may have
    /// been moved since. Errors: usage (no such frame, a blank one, a file that changed), and those of reading the scan.
    [[nodiscard]] Result<Proof> proof(const ProofWish& wish, Observer& observer);

private:
    struct Impl;
    explicit ProofTable(std::unique_ptr<Impl> impl);
    std::unique_ptr<Impl> impl_;
};

}  // namespace basefog
