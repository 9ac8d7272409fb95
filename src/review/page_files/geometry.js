// SPDX-License-Identifier: GPL-3.0-or-later
// Corners and what moving them means. Corners run top left, top right, bottom right, bottom left as the picture is read.
'use strict';
const geometry = (() => {
    const minus = (a, b) => [a[0] - b[0], a[1] - b[1]];
    const plus = (a, b) => [a[0] + b[0], a[1] + b[1]];
    const times = (a, k) => [a[0] * k, a[1] * k];
    const dot = (a, b) => a[0] * b[0] + a[1] * b[1];
    const length = (a) => Math.hypot(a[0], a[1]);
    const unit = (a) => times(a, 1 / (length(a) || 1));
    const centre = (quad) => times(quad.reduce(plus), 0.25);
    const round = (point) => point.map((v) => Math.round(v * 100) / 100);

    /** Along and across a quad, as unit vectors: of its two long sides' and two short sides' means. */
    const axes = (quad) => [
        unit(plus(minus(quad[1], quad[0]), minus(quad[2], quad[3]))),
        unit(plus(minus(quad[3], quad[0]), minus(quad[2], quad[1]))),
    ];

    /** A corner goes to `to`. A frame stays a parallelogram whose opposite corner keeps its place, unless the corner goes `alone`. */
    const moveCorner = (quad, index, to, alone) => {
        const moved = quad.map((point) => [...point]);
        moved[index] = to;
        if (alone) return moved.map(round);
        const opposite = quad[(index + 2) % 4];
        const [along, across] = axes(quad);
        // The diagonal in the quad's own two directions, which need not be square to each other.
        const way = minus(to, opposite);
        const det = along[0] * across[1] - along[1] * across[0];
        const u = (way[0] * across[1] - way[1] * across[0]) / det;
        const v = (along[0] * way[1] - along[1] * way[0]) / det;
        // Corners 0 and 1, 2 and 3 lie along; 1 and 2, 3 and 0 across.
        const alongNeighbour = index % 2 === 0 ? (index + 1) % 4 : (index + 3) % 4;
        const acrossNeighbour = index % 2 === 0 ? (index + 3) % 4 : (index + 1) % 4;
        moved[alongNeighbour] = plus(opposite, times(across, v));
        moved[acrossNeighbour] = plus(opposite, times(along, u));
        return moved.map(round);
    };

    /** The edge from corner `index` to the next goes outwards by the part of `by` that lies across it. */
    const moveEdge = (quad, index, by) => {
        const a = index;
        const b = (index + 1) % 4;
        const [along, across] = axes(quad);
        const direction = index % 2 === 0 ? across : along;
        const shift = times(direction, dot(by, direction));
        return quad.map((point, i) => (i === a || i === b ? round(plus(point, shift)) : [...point]));
    };

    const moveAll = (quad, by) => quad.map((point) => round(plus(point, by)));
    /** The same place read from the other end: half a turn. */
    const turned = (quad) => [quad[2], quad[3], quad[0], quad[1]];
    const bounds = (points) => {
        const xs = points.map((p) => p[0]);
        const ys = points.map((p) => p[1]);
        return { x0: Math.min(...xs), y0: Math.min(...ys), x1: Math.max(...xs), y1: Math.max(...ys) };
    };
    return { minus, plus, times, dot, length, unit, centre, axes, moveCorner, moveEdge, moveAll, turned, bounds };
})();
