// SPDX-License-Identifier: GPL-3.0-or-later
// The page: what is chosen, moved, undone, saved and run again. Nothing leaves it before Save.
'use strict';
(() => {
    const token = document.querySelector('meta[name=token]').content;
    const page = crypto.randomUUID();
    history.replaceState(null, '', '/'); // the token need not stay where it can be read over a shoulder
    const byId = (id) => document.getElementById(id);
    const view = byId('view');

    let sheets = [];
    let layoutName = '';
    let revision = 0;
    let saved = '';
    let chosen = { sheet: 0, strip: -1, frame: -1 };
    let box = null; // what of the sheet is seen, in scan pixels
    let past = [];
    let future = [];
    let running = false;
    let fresh = 0; // counts runs: proofs are loaded anew after each

    // --- talking to the program

    const ask = async (path, options = {}) => {
        const answer = await fetch(path, { ...options, headers: { 'X-Basefog-Token': token, 'X-Basefog-Page': page, ...options.headers } });
        const json = await answer.json();
        if (!answer.ok) throw new Error(json.error);
        return json;
    };
    const alarm = (words) => {
        byId('alarm').hidden = !words;
        byId('alarm').textContent = words || '';
    };
    const say = (words) => { byId('status').textContent = words; };

    const take = (state) => {
        sheets = state.sheets;
        layoutName = state.layout;
        revision = state.revision;
        saved = JSON.stringify(sheets);
    };
    const load = async () => {
        take(await ask(`/state?page=${page}`));
        past = [];
        future = [];
        alarm('');
        say(`${sheets.length} ${sheets.length === 1 ? 'sheet' : 'sheets'}; nothing changed`);
        box = null;
        draw();
    };

    // --- changes, and taking them back

    const dirty = () => JSON.stringify(sheets) !== saved;
    const change = (act) => {
        const before = JSON.stringify(sheets);
        act();
        if (JSON.stringify(sheets) !== before) {
            past.push(before);
            future = [];
        }
        draw();
    };
    const back = (from, to) => {
        if (from.length === 0) return;
        to.push(JSON.stringify(sheets));
        sheets = JSON.parse(from.pop());
        const strip = sheet().strips[chosen.strip];
        if (!strip) chosen = { ...chosen, strip: -1, frame: -1 };
        else if (chosen.frame >= strip.frames.length) chosen.frame = -1;
        draw();
    };
    const sheet = () => sheets[chosen.sheet];
    const strip = () => sheet()?.strips[chosen.strip];
    const frame = () => strip()?.frames[chosen.frame];
    const item = () => frame() || strip();

    // --- drawing

    const svg = (tag, attributes = {}, ...content) => {
        const node = document.createElementNS('http://www.w3.org/2000/svg', tag);
        for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
        node.append(...content);
        return node;
    };
    const make = (tag, attributes = {}, ...content) => {
        const node = document.createElement(tag);
        for (const [name, value] of Object.entries(attributes)) {
            if (name === 'click' || name === 'change') node.addEventListener(name, value);
            else if (name === 'value') node.value = value;
            else if (value === true) node.setAttribute(name, '');
            else if (value !== false) node.setAttribute(name, value);
        }
        node.append(...content);
        return node;
    };
    const list = (quad) => quad.map((point) => point.join(',')).join(' ');

    const picture = (part, long) => {
        const query = new URLSearchParams({ sheet: chosen.sheet, x0: part.x0, y0: part.y0, x1: part.x1, y1: part.y1, long, token });
        return svg('image', { href: `/picture?${query}`, x: part.x0, y: part.y0, width: part.x1 - part.x0, height: part.y1 - part.y0, preserveAspectRatio: 'none' });
    };

    /** The whole sheet below, and what is seen of it in more detail above. */
    const drawPictures = () => {
        const one = sheet();
        const whole = { x0: 0, y0: 0, x1: one.width, y1: one.height };
        const parts = [picture(whole, 1600)];
        const seen = {
            x0: Math.max(0, Math.floor(box.x)), y0: Math.max(0, Math.floor(box.y)),
            x1: Math.min(one.width, Math.ceil(box.x + box.width)), y1: Math.min(one.height, Math.ceil(box.y + box.height)),
        };
        if (box.width < one.width * 0.7 && seen.x1 > seen.x0 && seen.y1 > seen.y0) parts.push(picture(seen, 1600));
        const group = view.querySelector('.pictures');
        const key = JSON.stringify([chosen.sheet, parts.map((part) => part.getAttribute('href')), fresh]);
        if (group.dataset.key === key) return;
        group.dataset.key = key;
        group.replaceChildren(...parts);
    };

    const unsure = (one) => one.kind === 'picture' && !one.by_hand && one.confidence < 0.9;
    const nameOf = (one) => `frame ${one.number}${one.kind === 'picture' ? '' : `, ${one.kind}`}${unsure(one) ? ', uncertain' : ''}`;
    const cornerNames = ['top left', 'top right', 'bottom right', 'bottom left'];
    const edgeNames = ['top', 'right', 'bottom', 'left'];

    const drawHandles = (group) => {
        const one = item();
        if (!one) return;
        const screen = box.width / (view.clientWidth || 1);
        const radius = 7 * screen;
        const handle = (point, words, attributes) => {
            const node = svg('circle', { class: 'handle', cx: point[0], cy: point[1], r: radius, tabindex: 0, role: 'button', 'aria-label': words, ...attributes });
            group.append(node);
        };
        one.corners.forEach((point, i) => handle(point, `${cornerNames[i]} corner, at ${point.map(Math.round).join(', ')}`, { 'data-corner': i }));
        one.corners.forEach((point, i) => {
            const middle = geometry.times(geometry.plus(point, one.corners[(i + 1) % 4]), 0.5);
            const words = frame() ? `${edgeNames[i]} edge` : ['upper edge', 'end', 'lower edge', 'begin'][i] + ' of the strip';
            handle(middle, words, { 'data-edge': i });
        });
    };

    const drawSheet = () => {
        const one = sheet();
        if (!box) box = { x: 0, y: 0, width: one.width, height: one.height };
        view.setAttribute('viewBox', `${box.x} ${box.y} ${box.width} ${box.height}`);
        if (!view.querySelector('.pictures')) view.replaceChildren(svg('g', { class: 'pictures' }), svg('g', { class: 'shapes' }));
        drawPictures();
        const shapes = view.querySelector('.shapes');
        const focused = document.activeElement?.closest?.('#view') && { ...document.activeElement.dataset };
        shapes.replaceChildren();
        one.strips.forEach((s, si) => {
            shapes.append(svg('polygon', { class: 'halo', points: list(s.corners) }));
            shapes.append(svg('polygon', { class: `strip${si === chosen.strip && chosen.frame < 0 ? ' chosen' : ''}`, points: list(s.corners) }));
            s.frames.forEach((f, fi) => {
                const here = si === chosen.strip && fi === chosen.frame;
                shapes.append(svg('polygon', { class: 'halo', points: list(f.corners) }));
                shapes.append(svg('polygon', {
                    class: `frame${f.by_hand ? ' hand' : ''}${unsure(f) ? ' unsure' : ''}${here ? ' chosen' : ''}`,
                    points: list(f.corners), 'data-strip': si, 'data-frame': fi,
                }, svg('title', {}, `${s.roll}, ${nameOf(f)}`)));
                const middle = geometry.centre(f.corners);
                const size = Math.min(geometry.length(geometry.minus(f.corners[3], f.corners[0])) * 0.3, 22 * box.width / (view.clientWidth || 1));
                shapes.append(svg('text', { class: 'label', x: middle[0], y: middle[1], 'font-size': size, 'stroke-width': size * 0.2 }, `${f.number}${unsure(f) ? ' ?' : ''}`));
            });
        });
        drawHandles(shapes);
        if (focused?.corner !== undefined) shapes.querySelector(`[data-corner="${focused.corner}"]`)?.focus();
        else if (focused?.edge !== undefined) shapes.querySelector(`[data-edge="${focused.edge}"]`)?.focus();
    };

    const drawList = () => {
        const parts = [];
        sheet().strips.forEach((s, si) => {
            parts.push(make('h2', {}, make('button', { type: 'button', 'data-strip': si, 'aria-pressed': String(si === chosen.strip && chosen.frame < 0), click: () => choose(si, -1) }, `Strip ${si + 1}, ${s.roll}`)));
            parts.push(make('ul', {}, ...s.frames.map((f, fi) => make('li', {}, make('button', {
                type: 'button', 'data-strip': si, 'data-frame': fi, 'aria-pressed': String(si === chosen.strip && fi === chosen.frame),
                'aria-label': `strip ${si + 1}, ${nameOf(f)}`, click: () => choose(si, fi),
            }, `${f.number}${f.kind === 'picture' ? '' : ` ${f.kind}`}${unsure(f) ? ' ?' : ''}`)))));
        });
        const focused = document.activeElement?.closest?.('#list') && { ...document.activeElement.dataset };
        byId('list').replaceChildren(...parts);
        if (focused) byId('list').querySelector(`button[data-strip="${focused.strip}"]${focused.frame === undefined ? ':not([data-frame])' : `[data-frame="${focused.frame}"]`}`)?.focus();
    };

    const field = (label, name, value, set, attributes = {}) => make('label', {}, label, make('input', { name, value, change: (event) => set(event.target.value), ...attributes }));

    const drawDetails = () => {
        const s = strip();
        const f = frame();
        const parts = [make('h2', {}, f ? `Strip ${chosen.strip + 1}, ${nameOf(f)}` : s ? `Strip ${chosen.strip + 1}` : 'Nothing is chosen')];
        if (!s) parts.push(make('p', { class: 'caption' }, 'Choose a strip or a frame in the list or on the sheet.'));
        if (f) {
            parts.push(field('Number', 'number', f.number, (value) => change(() => { f.number = Math.max(0, Math.min(9999, Number.parseInt(value, 10) || 0)); }), { type: 'number', min: 0, max: 9999 }));
            const kind = make('select', { name: 'kind', change: (event) => change(() => { f.kind = event.target.value; }) }, ...['picture', 'blank', 'fogged'].map((word) => make('option', { value: word }, word)));
            kind.value = f.kind;
            parts.push(make('label', {}, 'Kind', kind));
            parts.push(make('div', { class: 'acts' }, make('button', { type: 'button', name: 'add', click: addFrame }, 'Add a frame after it'), make('button', { type: 'button', name: 'delete', click: remove }, 'Delete the frame')));
            if (f.proof) parts.push(make('p', { class: 'caption' }, 'As the last run cut it:'), make('img', { alt: `Proof of ${s.roll}, frame ${f.number}`, src: `/file?${new URLSearchParams({ path: f.proof, token, fresh })}` }));
        } else if (s) {
            parts.push(field('Roll', 'roll', s.roll, (value) => change(() => { if (value.trim()) s.roll = value.trim(); })));
            parts.push(make('div', { class: 'acts' },
                make('button', { type: 'button', name: 'add', click: addFrame }, 'Add a frame'), make('button', { type: 'button', name: 'turn', click: turn }, 'Turn it the other way round'),
                make('button', { type: 'button', name: 'add-strip', click: addStrip }, 'Add a strip beside it'), make('button', { type: 'button', name: 'delete', click: remove }, 'Delete the strip')));
        }
        byId('details').replaceChildren(...parts);
    };

    const draw = () => {
        if (!sheet()) return;
        drawSheet();
        drawList();
        drawDetails();
        const unsaved = dirty();
        byId('undo').disabled = past.length === 0;
        byId('redo').disabled = future.length === 0;
        byId('save').disabled = !unsaved || running;
        byId('run').disabled = unsaved || running;
        document.title = `${unsaved ? '* ' : ''}Review of frames`;
        if (unsaved) say('Changed, not saved');
    };

    const choose = (stripIndex, frameIndex) => {
        chosen = { ...chosen, strip: stripIndex, frame: frameIndex };
        draw();
    };

    // --- acts

    const nextNumber = (s) => Math.max(0, ...s.frames.map((f) => f.number)) + 1;

    /** One advance further along the strip than the chosen frame or the last: as far as its neighbours lie apart, else 38 mm. */
    const addFrame = () => change(() => {
        const s = strip();
        const at = chosen.frame >= 0 ? chosen.frame : s.frames.length - 1;
        const [along, across] = geometry.axes(s.corners);
        const scale = sheet().px_per_mm;
        let corners;
        if (at >= 0) {
            const near = s.frames[at].corners;
            const apart = s.frames.slice(1).map((f, i) => geometry.length(geometry.minus(geometry.centre(f.corners), geometry.centre(s.frames[i].corners)))).sort((a, b) => a - b);
            const advance = apart.length > 0 ? apart[apart.length >> 1] : geometry.length(geometry.minus(near[1], near[0])) * 38 / 36;
            corners = geometry.moveAll(near, geometry.times(along, advance));
        } else {
            const start = geometry.plus(geometry.plus(s.corners[0], geometry.times(along, 2 * scale)), geometry.times(across, 5.5 * scale));
            const to = (u, v) => geometry.plus(geometry.plus(start, geometry.times(along, u * scale)), geometry.times(across, v * scale));
            corners = geometry.moveAll([to(0, 0), to(36, 0), to(36, 24), to(0, 24)], [0, 0]);
        }
        s.frames.splice(at + 1, 0, { number: nextNumber(s), kind: 'picture', corners, confidence: 1, by_hand: true, proof: '' });
        chosen.frame = at + 1;
    });

    const addStrip = () => change(() => {
        const s = strip();
        const across = geometry.minus(s.corners[3], s.corners[0]);
        const by = geometry.times(across, 1.15);
        const copy = { ...s, corners: geometry.moveAll(s.corners, by), frames: s.frames.map((f) => ({ ...f, corners: geometry.moveAll(f.corners, by), by_hand: true, proof: '' })) };
        sheet().strips.splice(chosen.strip + 1, 0, copy);
        chosen = { ...chosen, strip: chosen.strip + 1, frame: -1 };
    });

    const remove = () => change(() => {
        if (frame()) strip().frames.splice(chosen.frame, 1);
        else if (strip()) sheet().strips.splice(chosen.strip, 1);
        chosen.frame = -1;
        if (!strip()) chosen.strip = -1;
    });

    /** Half a turn: read from its other end. Numbers run up in the new direction from the lowest. */
    const turn = () => change(() => {
        const s = strip();
        const numbers = s.frames.map((f) => f.number).sort((a, b) => a - b);
        s.corners = geometry.turned(s.corners);
        s.frames = s.frames.reverse().map((f, i) => ({ ...f, number: numbers[i], corners: geometry.turned(f.corners), by_hand: true }));
    });

    const save = async () => {
        if (!dirty() || running) return;
        try {
            take(await ask('/save', { method: 'POST', body: JSON.stringify({ page, revision, sheets }) }));
            past = [];
            future = [];
            alarm('');
            say(`Saved to ${layoutName}`);
        } catch (error) {
            alarm(error.message);
        }
        draw();
    };

    const runAgain = async () => {
        try {
            await ask('/run', { method: 'POST' });
            running = true;
            alarm('');
            say('Running again');
        } catch (error) {
            alarm(error.message);
        }
        draw();
    };

    const watch = async () => {
        try {
            const now = await ask(`/watch?page=${page}`);
            if (running) {
                say(`Running again: ${now.run.step}, ${Math.round(now.run.share * 100)} %`);
                if (now.run.state === 'done' || now.run.state === 'failed') {
                    running = false;
                    fresh += 1;
                    if (now.run.state === 'failed') alarm(now.run.message);
                    else {
                        const kept = { ...chosen };
                        await load();
                        chosen = kept;
                        say('Run again: positives, proofs and report are new');
                    }
                    draw();
                }
            } else if (!now.mine) alarm('Another page is open on these results. Load this one again to go on here.');
            else if (now.stale || now.revision !== revision) alarm(`${layoutName} or the report has changed on disk. Load this page again; what is not saved here would be lost.`);
        } catch {
            alarm('The program does not answer. Is it still running?');
        }
        setTimeout(watch, running ? 500 : 2000);
    };

    // --- pointer and keys

    const toScan = (event) => {
        const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(view.getScreenCTM().inverse());
        return [point.x, point.y];
    };
    let drag = null;
    const moved = (one, target, from, to, alone) => {
        if (target.corner !== undefined) return geometry.moveCorner(one, Number(target.corner), geometry.plus(one[target.corner], geometry.minus(to, from)), alone);
        if (target.edge !== undefined) return geometry.moveEdge(one, Number(target.edge), geometry.minus(to, from));
        return geometry.moveAll(one, geometry.minus(to, from));
    };
    view.addEventListener('pointerdown', (event) => {
        const target = { ...event.target.dataset };
        if (target.frame !== undefined) choose(Number(target.strip), Number(target.frame));
        else if (target.corner === undefined && target.edge === undefined) return;
        drag = { target, from: toScan(event), before: JSON.stringify(sheets), corners: item().corners };
        view.setPointerCapture(event.pointerId);
        event.preventDefault();
        if (target.corner !== undefined) view.querySelector(`[data-corner="${target.corner}"]`).focus();
    });
    view.addEventListener('pointermove', (event) => {
        if (!drag) return;
        item().corners = moved(drag.corners, drag.target, drag.from, toScan(event), event.shiftKey);
        if (frame()) frame().by_hand = true;
        drawSheet();
    });
    view.addEventListener('pointerup', () => {
        if (!drag) return;
        if (JSON.stringify(item().corners) === JSON.stringify(drag.corners)) sheets = JSON.parse(drag.before);
        else {
            past.push(drag.before);
            future = [];
        }
        drag = null;
        draw();
    });
    view.addEventListener('pointercancel', () => {
        if (drag) sheets = JSON.parse(drag.before);
        drag = null;
        draw();
    });
    view.addEventListener('keydown', (event) => {
        const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
        const target = { ...event.target.dataset };
        if (!way || (target.corner === undefined && target.edge === undefined)) return;
        event.preventDefault();
        const by = geometry.times(way, sheet().px_per_mm * (event.shiftKey ? 1 : 0.1));
        change(() => {
            item().corners = moved(item().corners, target, [0, 0], by, false);
            if (frame()) frame().by_hand = true;
        });
    });
    document.addEventListener('keydown', (event) => {
        const typing = event.target.matches('input,select');
        if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === 's') save();
        else if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === 'z' && !typing) event.shiftKey ? back(future, past) : back(past, future);
        else if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === 'y' && !typing) back(future, past);
        else if (event.key === 'Delete' && !typing && item()) remove();
        else return;
        event.preventDefault();
    });

    const zoom = (factor) => {
        const one = item();
        const middle = one ? geometry.centre(one.corners) : [box.x + box.width / 2, box.y + box.height / 2];
        const width = Math.min(sheet().width * 1.05, box.width * factor);
        const height = width * (sheet().height / sheet().width);
        box = { x: middle[0] - width / 2, y: middle[1] - height / 2, width, height };
        draw();
    };
    const closer = () => {
        const f = frame();
        const { x0, x1 } = f ? geometry.bounds(f.corners) : { x0: 0, x1: 0 };
        const wanted = (x1 - x0) * 1.6;
        zoom(f && box.width > wanted * 1.5 ? wanted / box.width : 0.5);
    };

    byId('sheet').addEventListener('change', () => {
        chosen = { sheet: Number(byId('sheet').value), strip: -1, frame: -1 };
        box = null;
        draw();
    });
    byId('whole').addEventListener('click', () => { box = null; draw(); });
    byId('closer').addEventListener('click', closer);
    byId('further').addEventListener('click', () => zoom(2));
    byId('undo').addEventListener('click', () => back(past, future));
    byId('redo').addEventListener('click', () => back(future, past));
    byId('save').addEventListener('click', save);
    byId('run').addEventListener('click', runAgain);
    window.addEventListener('beforeunload', (event) => { if (dirty()) event.preventDefault(); });
    window.addEventListener('resize', () => draw());

    load().then(() => {
        byId('sheet').replaceChildren(...sheets.map((one, i) => make('option', { value: i }, one.file)));
        watch();
    }).catch((error) => alarm(error.message));
})();
