// SPDX-License-Identifier: GPL-3.0-or-later
// Touching a page that a file has no longer raises SIGBUS, which would end the program. The handler here lays an empty page there instead, and notes it.
#include "scan/mapping.h"

#include <sys/mman.h>
#include <unistd.h>
#include <array>
#include <atomic>
#include <csignal>
#include <mutex>

namespace basefog::scan {
namespace {

/// What the handler needs to know, and may touch: lock-free atomics only.
struct Slot {
    std::atomic<std::uintptr_t> begin{0}, end{0};
    std::atomic<bool> taken{false}, cut_short{false};
};
constexpr int kSlots = 64;  // Chosen: a scan has one for each plane at most
std::array<Slot, kSlots> slots;
static_assert(std::atomic<std::uintptr_t>::is_always_lock_free && std::atomic<bool>::is_always_lock_free);
std::uintptr_t page_bytes = 0;
struct sigaction before {};

void lay_empty_page(int, siginfo_t* info, void*) {
    const auto at = reinterpret_cast<std::uintptr_t>(info->si_addr);
    for (Slot& slot : slots) {
        if (at < slot.begin.load() || at >= slot.end.load()) continue;
        void* const page = reinterpret_cast<void*>(at / page_bytes * page_bytes);
        if (::mmap(page, page_bytes, PROT_READ, MAP_PRIVATE | MAP_ANONYMOUS | MAP_FIXED, -1, 0) == MAP_FAILED) break;
        slot.cut_short = true;
        return;
    }
    ::sigaction(SIGBUS, &before, nullptr);  // not ours: the fault comes again, and goes where it would have gone
}

void watch_faults() {
    static std::once_flag once;
    std::call_once(once, [] {
        page_bytes = static_cast<std::uintptr_t>(::sysconf(_SC_PAGESIZE));
        struct sigaction action {};
        action.sa_sigaction = lay_empty_page;
        action.sa_flags = SA_SIGINFO | SA_RESTART;
        ::sigemptyset(&action.sa_mask);
        ::sigaction(SIGBUS, &action, &before);
    });
}

}  // namespace

std::unique_ptr<Mapping> Mapping::make(int descriptor, std::int64_t bytes) {
    watch_faults();
    for (int i = 0; i < kSlots; ++i) {
        Slot& slot = slots[static_cast<std::size_t>(i)];
        if (slot.taken.exchange(true)) continue;
        void* const address = ::mmap(nullptr, static_cast<std::size_t>(bytes), PROT_READ, MAP_SHARED, descriptor, 0);
        if (address == MAP_FAILED) {
            slot.taken = false;
            return nullptr;
        }
        slot.cut_short = false;
        slot.begin = reinterpret_cast<std::uintptr_t>(address);
        slot.end = reinterpret_cast<std::uintptr_t>(address) + static_cast<std::uintptr_t>(bytes);
        return std::unique_ptr<Mapping>(new Mapping(address, bytes, i));
    }
    return nullptr;
}

Mapping::~Mapping() {
    Slot& slot = slots[static_cast<std::size_t>(slot_)];
    slot.end = 0;
    slot.begin = 0;
    ::munmap(address_, static_cast<std::size_t>(bytes_));
    slot.taken = false;
}

bool Mapping::cut_short() const { return slots[static_cast<std::size_t>(slot_)].cut_short; }

void Mapping::forget_pages() const { ::madvise(address_, static_cast<std::size_t>(bytes_), MADV_DONTNEED); }

}  // namespace basefog::scan
