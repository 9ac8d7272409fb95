// SPDX-License-Identifier: GPL-3.0-or-later
// How pictures are wanted, as values: a roll's choices, a frame's own over them, and balances as a hand moves them. Touches no page.
'use strict';
const printing = (() => {
    /** What may be moved: its key in settings, its word, its span on the slider and its utmost (PrintLimits). */
    const scales = [
        { key: 'exposure', word: 'Exposure, stops', least: -3, most: 3, step: 0.05, utmost: [-10, 10], usual: 0 },
        { key: 'contrast', word: 'Contrast', least: 0.5, most: 2, step: 0.01, utmost: [0.2, 5], usual: 1 },
        { key: 'black_point', word: 'Black point, stops', least: -12, most: -3, step: 0.1, utmost: [-14, -2], usual: -7 },
        { key: 'saturation', word: 'Saturation', least: 0, most: 2, step: 0.01, utmost: [0, 4], usual: 1 },
    ];
    const ways = [
        ['roll', 'as the roll shows it'],
        ['frame', 'this picture grey on the whole'],
        ['patch', 'a grey patch'],
        ['numbers', 'by hand'],
    ];
    const mostStops = 10;
    const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
    const rounded = (value) => Math.round(value * 1000) / 1000;
    const within = (value, least, most) => Math.min(most, Math.max(least, value));

    /** What holds for a frame. */
    const valuesOf = (roll, own) => ({ ...roll, ...own });

    /** A frame's own choices with one of them put to `value`; what is as its roll has it is not its own. */
    const withOwn = (roll, own, key, value) => {
        const { [key]: before, ...rest } = own;
        return same(value, roll[key]) ? rest : { ...rest, [key]: value };
    };

    /** Stops off the three layers, against the roll's own, as warmth and magenta. What is neither (all three alike) is `level`. */
    const tintOf = (stops, own) => {
        const [r, g, b] = stops.map((value, i) => value - own[i]);
        return { warmth: rounded((b - r) / 2), magenta: rounded(g - (r + b) / 2), level: (r + g + b) / 3 };
    };
    const stopsOf = ({ warmth, magenta, level }, own) =>
        [-warmth - magenta / 3, (2 * magenta) / 3, warmth - magenta / 3].map((value, i) => rounded(within(own[i] + value + level, -mostStops, mostStops)));

    /** A patch about a point of the picture, in shares of its width and height: 3 % of the width, and as high as wide. */
    const patchAt = ([u, v], aspect) => {
        const [du, dv] = [0.015, 0.015 * aspect];
        const [x, y] = [within(u, du, 1 - du), within(v, dv, 1 - dv)];
        return [x - du, y - dv, x + du, y + dv].map((share) => Math.round(share * 10000) / 10000);
    };
    return { scales, ways, valuesOf, withOwn, tintOf, stopsOf, patchAt, rounded, within };
})();
