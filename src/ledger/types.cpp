// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/ledger/types.h"

#include <algorithm>

namespace basefog {
namespace {

template <class T>
const T* find_by_id(const std::vector<T>& all, const std::string& id) {
    const auto found = std::find_if(all.begin(), all.end(), [&](const T& one) { return one.id == id; });
    return found == all.end() ? nullptr : &*found;
}

}  // namespace

const Stock* Ledger::find_stock(const std::string& id) const { return find_by_id(stocks, id); }
const Bath* Ledger::find_bath(const std::string& id) const { return find_by_id(baths, id); }
const Session* Ledger::find_session(const std::string& id) const { return find_by_id(sessions, id); }
const Roll* Ledger::find_roll(const std::string& id) const { return find_by_id(rolls, id); }

}  // namespace basefog
