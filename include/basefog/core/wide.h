// SPDX-License-Identifier: GPL-3.0-or-later
// Loops over pixels, compiled for more than one processor.
#pragma once

/// Before a function's definition: it is compiled twice, for any processor of the platform and for those with vectors twice as wide (AVX2), and the
/// program chooses when it starts. Arithmetic is the same in both, operation by operation (nothing is contracted: `-ffp-contract=off`), and so are the
/// bits of the results. Elsewhere, and under sanitizers, which cannot bear the choice so early, it is compiled once; BASEFOG_NARROW asks for that.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__) && \
    !defined(BASEFOG_NARROW)
#define BASEFOG_WIDE __attribute__((target_clones("avx2", "default")))
#else
#define BASEFOG_WIDE
#endif

/// Before a small function that such a function calls: it becomes part of each of its compilations.
#define BASEFOG_INLINE inline __attribute__((always_inline))
