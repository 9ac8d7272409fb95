// SPDX-License-Identifier: GPL-3.0-or-later
#include <catch2/catch.hpp>
