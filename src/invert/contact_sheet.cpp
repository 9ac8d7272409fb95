// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/write.h"
#include "invert/page_text.h"

#include <algorithm>
#include <vector>

namespace basefog {
namespace {

using invert::TextStyle;

// Chosen: six frames of a strip side by side, on a page that fills a wide screen and prints at 300 dpi on letter-sized paper.
constexpr int kColumns = 6;
constexpr int kCell = 340;  ///< a picture's long side, px
constexpr int kGap = 26, kMargin = 64;
constexpr int kHeadingSpace = 78;  ///< heading and the room under it
constexpr int kCaptionLines = 2, kCaptionLine = 22, kCaptionRoom = 12, kRowGap = 26;
constexpr EncodedRgb8 kPage{250, 250, 250}, kHairline{208, 208, 208};
constexpr TextStyle kHeading{22, 1.15, 30}, kCaption{11, 1.05, 70};

struct Cell {
    Image<EncodedRgb8> picture;
    std::vector<std::string> caption;
};

Cell make_cell(const ContactItem& item) {
    return {reduce_srgb(item.picture, kCell), invert::wrap_text(invert::plain_letters(item.caption), kCaption, kCell, kCaptionLines)};
}

void put_picture(View<EncodedRgb8> page, const Image<EncodedRgb8>& picture, std::int64_t x0, std::int64_t y0) {
    for (std::int64_t y = -1; y <= picture.height(); ++y)
        for (std::int64_t x = -1; x <= picture.width(); ++x) {
            const bool inside = x >= 0 && y >= 0 && x < picture.width() && y < picture.height();
            page(x0 + x, y0 + y) = inside ? picture(x, y) : kHairline;
        }
}

}  // namespace

Image<EncodedRgb8> compose_contact_sheet(const std::string& heading, const std::vector<ContactItem>& items) {
    std::vector<Cell> cells;
    std::int64_t picture_height = 0, lines = 1;
    for (const ContactItem& item : items) {
        cells.push_back(make_cell(item));
        picture_height = std::max(picture_height, cells.back().picture.height());
        lines = std::max(lines, static_cast<std::int64_t>(cells.back().caption.size()));
    }
    const auto count = static_cast<std::int64_t>(cells.size());
    const std::int64_t columns = std::clamp<std::int64_t>(count, 1, kColumns), rows = (count + columns - 1) / columns;
    const std::int64_t row_height = picture_height + kCaptionRoom + lines * kCaptionLine + kRowGap;
    const std::int64_t width = 2 * kMargin + columns * kCell + (columns - 1) * kGap;
    Image<EncodedRgb8> page(width, kMargin + kHeadingSpace + rows * row_height + kMargin - kRowGap, kPage);

    const std::string title = invert::plain_letters(heading);
    const auto heading_lines = invert::wrap_text(title, kHeading, static_cast<int>(width - 2 * kMargin), 1);
    if (!heading_lines.empty()) invert::draw_text(page.view(), heading_lines.front(), kHeading, kMargin, kMargin + kHeading.height_px);
    for (std::int64_t i = 0; i < count; ++i) {
        const Cell& cell = cells[static_cast<std::size_t>(i)];
        const std::int64_t x = kMargin + i % columns * (kCell + kGap), y = kMargin + kHeadingSpace + i / columns * row_height;
        if (!cell.picture.empty())
            put_picture(page.view(), cell.picture, x + (kCell - cell.picture.width()) / 2, y + (picture_height - cell.picture.height()) / 2);
        for (std::size_t line = 0; line < cell.caption.size(); ++line)
            invert::draw_text(page.view(), cell.caption[line], kCaption, x,
                              y + picture_height + kCaptionRoom + kCaption.height_px + static_cast<std::int64_t>(line) * kCaptionLine);
    }
    return page;
}

}  // namespace basefog
