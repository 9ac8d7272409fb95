// SPDX-License-Identifier: GPL-3.0-or-later
// history show on 120, 1,000 and 10,000 rolls: reading the file, finding the trends, and both with the page.
#include "basefog/history/find_trends.h"
#include "basefog/history/history_file.h"
#include "basefog/history/read_results.h"
#include "basefog/report/write_history.h"

#include "support/synthetic_history.h"
#include "support/temporary_folder.h"

#include <benchmark/benchmark.h>
#include <map>

using namespace basefog;

namespace {

const std::vector<HistoryRoll>& rolls(int count) {
    static std::map<int, std::vector<HistoryRoll>> made;
    std::vector<HistoryRoll>& all = made[count];
    if (!all.empty()) return all;
    synthetic::YearsSpec spec;
    spec.rolls = count;
    spec.litres = count / 15;
    for (const synthetic::SessionReport& session : synthetic::simulate_years(spec).sessions) {
        const auto read = parse_results(session.json, "", "/results/" + session.folder + "/report.html").value();
        all.insert(all.end(), read.begin(), read.end());
    }
    return all;
}

const std::string& file_of(int count) {
    static TemporaryFolder folder;
    static std::map<int, std::string> made;
    std::string& path = made[count];
    if (path.empty()) {
        path = folder.file(std::to_string(count) + ".sqlite");
        HistoryFile::open(path, HistoryAccess::write, silent_observer()).value().add(rolls(count)).value();
    }
    return path;
}

std::vector<HistoryRoll> read(int count) { return HistoryFile::open(file_of(count), HistoryAccess::read, silent_observer()).value().rolls().value(); }

void read_file(benchmark::State& state) {
    (void)file_of(static_cast<int>(state.range(0)));  // made before the clock starts
    for (auto _ : state) benchmark::DoNotOptimize(read(static_cast<int>(state.range(0))));
}
void trends(benchmark::State& state) {
    (void)rolls(static_cast<int>(state.range(0)));
    for (auto _ : state) benchmark::DoNotOptimize(find_trends(rolls(static_cast<int>(state.range(0))), TrendOptions{}).value());
}
/// All that `history show` does but printing.
void show(benchmark::State& state) {
    (void)file_of(static_cast<int>(state.range(0)));
    for (auto _ : state) benchmark::DoNotOptimize(find_trends(read(static_cast<int>(state.range(0))), TrendOptions{}).value());
}
void show_with_page(benchmark::State& state) {
    (void)file_of(static_cast<int>(state.range(0)));
    for (auto _ : state) {
        const HistoryTrends found = find_trends(read(static_cast<int>(state.range(0))), TrendOptions{}).value();
        benchmark::DoNotOptimize(history_html(found, "/pages", ""));
    }
}
void add(benchmark::State& state) {
    const TemporaryFolder folder;
    int file = 0;
    for (auto _ : state)
        HistoryFile::open(folder.file(std::to_string(file++) + ".sqlite"), HistoryAccess::write, silent_observer())
            .value()
            .add(rolls(static_cast<int>(state.range(0))))
            .value();
}

}  // namespace

BENCHMARK(read_file)->Arg(120)->Arg(1000)->Arg(10000)->Unit(benchmark::kMillisecond);
BENCHMARK(trends)->Arg(120)->Arg(1000)->Arg(10000)->Unit(benchmark::kMillisecond);
BENCHMARK(show)->Arg(120)->Arg(1000)->Arg(10000)->Unit(benchmark::kMillisecond);
BENCHMARK(show_with_page)->Arg(120)->Arg(1000)->Arg(10000)->Unit(benchmark::kMillisecond);
BENCHMARK(add)->Arg(120)->Arg(1000)->Unit(benchmark::kMillisecond);
BENCHMARK_MAIN();
