// SPDX-License-Identifier: GPL-3.0-or-later
// The inversion stages alone: frames that are in memory, rendered into memory on all threads; prints the seconds they take, by the wall and of processors.
//   basefog-bench-stages SCAN THREADS < frames        a frame per line: x0 y0 x1 y1
#include "basefog/scan/reader.h"

#include "invert/invert_world.h"

#include <atomic>
#include <chrono>
#include <cstdio>
#include <ctime>
#include <iostream>
#include <string>
#include <thread>
#include <vector>

using namespace basefog;

namespace {

constexpr std::int64_t kRows = 64;

struct Seconds {
    double wall = 0, processor = 0;
};

Seconds render(const PixelSource& source, const LightField& light, const Inverter& inverter, const OutputProfile& profile, int threads) {
    // Leaning by half a degree within the rectangle, so that no pixel of the positive falls on one of the scan.
    constexpr double kLean = 0.0087;
    const PxRect r = source.rect();
    const double over = kLean * double(r.height()), down = kLean * double(r.width());
    const Quad corners{PointPx{double(r.x0) + over, double(r.y0)}, PointPx{double(r.x1), double(r.y0) + down}, PointPx{double(r.x1) - over, double(r.y1)},
                       PointPx{double(r.x0), double(r.y1) - down}};
    const PositiveSize size = positive_size(corners);
    Image<EncodedRgb16> positive(size.width, size.height);
    std::atomic<std::int64_t> next{0};
    const auto begun = std::chrono::steady_clock::now();
    const std::clock_t used = std::clock();  // of all threads
    std::vector<std::thread> workers;
    for (int i = 0; i < threads; ++i)
        workers.emplace_back([&] {
            for (std::int64_t y = next.fetch_add(kRows); y < size.height; y = next.fetch_add(kRows))
                (void)render_rows(source, corners, light, inverter, profile, y, positive.view().part(0, y, size.width, std::min(kRows, size.height - y)));
        });
    for (std::thread& worker : workers) worker.join();
    return {std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count(), double(std::clock() - used) / CLOCKS_PER_SEC};
}

}  // namespace

int main(int argc, char** argv) {
    auto reader = argc == 3 ? open_scan(argv[1], {}) : fail(ErrorCode::usage, "basefog-bench-stages SCAN THREADS < frames");
    if (!reader) {
        std::fprintf(stderr, "%s\n", describe(reader.error()).c_str());
        return 1;
    }
    const test::FilmWorld film;
    const Inverter inverter = film.inverter();
    const OutputProfile profile = OutputProfile::make({}).value();
    LightField light;
    light.scan_width = double((*reader)->info().width);
    light.scan_height = double((*reader)->info().height);
    Seconds all;
    for (PxRect rect; std::cin >> rect.x0 >> rect.y0 >> rect.x1 >> rect.y1;) {
        Image<LinearRgbi> pixels(rect.width(), rect.height());
        if (!(*reader)->read_region(rect, pixels.view())) return 1;
        const Seconds one = render(ViewSource(rect, pixels.view()), light, inverter, profile, std::stoi(argv[2]));
        all.wall += one.wall;
        all.processor += one.processor;
    }
    std::printf("%f %f\n", all.wall, all.processor);
    return 0;
}
