// SPDX-License-Identifier: GPL-3.0-or-later
// The page: what is chosen, moved, undone, saved and run again. Nothing is written before Save.
'use strict';
(() => {
    const token = document.querySelector('meta[name=token]').content;
    const page = crypto.randomUUID();
    history.replaceState(null, '', '/'); // the token need not stay where it can be read over a shoulder
    const byId = (id) => document.getElementById(id);
    const view = byId('view');

    let sheets = [];
    let rolls = null; // each roll's choices of print; null: the run made no positives
    let revision = 0;
    let saved = '';
    let chosen = { sheet: 0, strip: -1, frame: -1 };
    let box = null; // what of the sheet is seen, in scan pixels
    let past = [];
    let future = [];
    let running = false;
    let fresh = 0; // counts runs: proofs are loaded anew after each
    let onProof = false; // the proof is shown large, with what may be moved of it; else the sheet
    let ofRoll = false; // what is moved is the whole roll's

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
        rolls = state.rolls;
        revision = state.revision;
        saved = snapshot();
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

    const snapshot = () => JSON.stringify({ sheets, rolls });
    const restore = (text) => { ({ sheets, rolls } = JSON.parse(text)); };
    const dirty = () => snapshot() !== saved;
    const remember = (before) => {
        if (snapshot() === before) return;
        past.push(before);
        future = [];
    };
    const change = (act) => {
        const before = snapshot();
        act();
        remember(before);
        draw();
    };
    const back = (from, to) => {
        if (from.length === 0) return;
        to.push(snapshot());
        restore(from.pop());
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

    const drawPlace = (s, f) => {
        if (!s) return [make('p', { class: 'caption' }, 'Choose a strip or a frame in the list or on the sheet.')];
        if (!f)
            return [field('Roll', 'roll', s.roll, (value) => change(() => { if (value.trim()) rename(s, value.trim()); })),
                make('div', { class: 'acts' },
                    make('button', { type: 'button', name: 'add', click: addFrame }, 'Add a frame'), make('button', { type: 'button', name: 'turn', click: turn }, 'Turn it the other way round'),
                    make('button', { type: 'button', name: 'add-strip', click: addStrip }, 'Add a strip beside it'), make('button', { type: 'button', name: 'delete', click: remove }, 'Delete the strip'))];
        const kind = make('select', { name: 'kind', change: (event) => change(() => { f.kind = event.target.value; }) }, ...['picture', 'blank', 'fogged'].map((word) => make('option', { value: word }, word)));
        kind.value = f.kind;
        return [field('Number', 'number', f.number, (value) => change(() => { f.number = Math.max(0, Math.min(9999, Number.parseInt(value, 10) || 0)); }), { type: 'number', min: 0, max: 9999 }),
            make('label', {}, 'Kind', kind),
            make('div', { class: 'acts' }, make('button', { type: 'button', name: 'add', click: addFrame }, 'Add a frame after it'), make('button', { type: 'button', name: 'delete', click: remove }, 'Delete the frame'))];
    };

    /** Is something typed that was not taken yet? It would be lost with the field. */
    const typing = () => {
        const field = document.activeElement;
        return Boolean(field?.closest?.('#details')) && field.dataset.drawn !== undefined && field.value !== field.dataset.drawn;
    };
    const drawDetails = () => {
        const s = strip();
        const f = frame();
        const focused = document.activeElement?.closest?.('#details') && document.activeElement.name;
        const heading = make('h2', {}, f ? `Strip ${chosen.strip + 1}, ${nameOf(f)}` : s ? `Strip ${chosen.strip + 1}` : 'Nothing is chosen');
        const parts = onProof && f && rolls ? drawPrint(s, f) : drawPlace(s, f);
        byId('details').replaceChildren(heading, ...parts);
        for (const input of byId('details').querySelectorAll('input')) input.dataset.drawn = input.value;
        if (focused) byId('details').querySelector(`[name="${focused}"]`)?.focus();
    };

    // --- how a picture is wanted

    const wanted = () => printing.valuesOf(rolls[strip().roll], frame().print);
    const choosePrint = (key, value) => {
        const [s, f] = [strip(), frame()];
        if (ofRoll) rolls[s.roll] = { ...rolls[s.roll], [key]: value };
        else f.print = printing.withOwn(rolls[s.roll], f.print, key, value);
    };
    /** A frame of a roll renamed goes on as it was wanted. */
    const rename = (s, name) => {
        if (rolls && !rolls[name]) rolls[name] = { ...rolls[s.roll] };
        s.roll = name;
    };

    let held = null; // as it was before the hand took the slider
    /** A slider and a number for one value; `take` puts it. While the slider moves, only the proof follows. */
    const slider = (scale, value, take, back) => {
        const moved = (event) => {
            held ??= snapshot();
            const number = Number(event.target.value);
            if (event.target.value === '' || !Number.isFinite(number)) return;
            take(printing.within(number, ...scale.utmost));
            for (const other of event.target.closest('.scale').querySelectorAll('input')) if (other !== event.target) other.value = event.target.value;
            proof.want();
        };
        const settled = (event) => {
            moved(event);
            if (held) remember(held);
            held = null;
            draw();
        };
        const inputs = [make('input', { type: 'number', name: scale.key, value, step: 'any', min: scale.utmost[0], max: scale.utmost[1] }),
            make('input', { type: 'range', name: `${scale.key}-slider`, min: scale.least, max: scale.most, step: scale.step, value, 'aria-label': scale.word })];
        for (const input of inputs) {
            input.disabled = value === null;
            input.addEventListener('input', moved);
            input.addEventListener('change', settled);
        }
        return make('div', { class: 'scale' }, make('label', {}, scale.word, inputs[0]), inputs[1],
            make('button', { type: 'button', name: `${scale.key}-back`, 'aria-label': `${scale.word}: ${back.words}`, title: back.words, click: () => change(back.act) }, '\u21ba'));
    };

    const drawBalance = (values) => {
        const balance = values.balance;
        const way = make('select', { name: 'balance', change: (event) => balanceBy(event.target.value) },
            ...printing.ways.map(([value, words]) => make('option', { value }, ofRoll && value === 'frame' ? 'each picture grey on the whole' : words)));
        way.value = balance.by;
        const parts = [make('label', {}, 'Balance', way)];
        const known = proof.balance();
        if (known && !known.coloured) return [make('p', { class: 'caption' }, 'Black-and-white film: nothing to balance.')];
        // The roll's numbers hold for its own light; a frame in another shows them with that light's difference.
        const moved = (numbers, way) => numbers && known && numbers.map((value, layer) => value + way * known.shift[layer]);
        const ofItsOwn = !ofRoll && 'balance' in frame().print;
        const own = known && (ofRoll ? known.own : moved(known.own, 1));
        const numbers = balance.by === 'numbers' ? (ofRoll || ofItsOwn ? balance.stops : moved(balance.stops, 1)) : null;
        const stops = numbers || (ofRoll ? moved(known?.stops, -1) : known?.stops);
        const tint = known && stops ? printing.tintOf(stops, own) : null;
        const tinted = (part) => (value) => choosePrint('balance', { by: 'numbers', stops: printing.stopsOf({ ...tint, [part]: value }, own) });
        const untinted = { words: 'as the roll', act: () => choosePrint('balance', ofRoll ? { by: 'roll' } : rolls[strip().roll].balance) };
        const span = { least: -1.5, most: 1.5, step: 0.02, utmost: [-10, 10] };
        parts.push(make('div', { class: 'acts' }, make('button', { type: 'button', name: 'pick', 'aria-pressed': String(proof.picking()), click: () => proof.pick(!proof.picking()) }, 'Click on a grey')));
        parts.push(slider({ ...span, key: 'warmth', word: 'Cooler to warmer, stops' }, tint && tint.warmth, tinted('warmth'), untinted));
        parts.push(slider({ ...span, key: 'magenta', word: 'Green to magenta, stops' }, tint && tint.magenta, tinted('magenta'), untinted));
        if (stops) parts.push(make('p', { class: 'caption', id: 'balance-stops' }, `Stops off red, green, blue: ${stops.map((value) => (Math.round(value * 100) / 100 + 0).toFixed(2)).join(', ')}`));
        return parts;
    };
    const balanceBy = (way) => {
        if (way === 'patch') return proof.pick(true);
        const known = proof.balance();
        const shown = (known?.stops || [0, 0, 0]).map((value, layer) => value - (ofRoll && known?.shift ? known.shift[layer] : 0));
        change(() => choosePrint('balance', way === 'numbers' ? { by: 'numbers', stops: shown.map(printing.rounded) } : { by: way }));
    };

    const drawPrint = (s, f) => {
        const values = ofRoll ? rolls[s.roll] : wanted();
        const whose = (roll, words) => make('button', { type: 'button', name: roll ? 'of-roll' : 'of-frame', 'aria-pressed': String(ofRoll === roll), click: () => { ofRoll = roll; draw(); } }, words);
        const own = Object.keys(f.print).length;
        const backTo = (scale) => (ofRoll ? { words: `back to ${scale.usual}`, act: () => choosePrint(scale.key, scale.usual) } : { words: 'as the roll', act: () => choosePrint(scale.key, rolls[s.roll][scale.key]) });
        return [make('div', { class: 'acts', role: 'group', 'aria-label': 'What is moved' }, whose(false, 'This frame'), whose(true, `Roll ${s.roll}`)),
            ...printing.scales.slice(0, 1).map((scale) => slider(scale, values[scale.key], (value) => choosePrint(scale.key, value), backTo(scale))),
            ...drawBalance(values),
            ...printing.scales.slice(1).map((scale) => slider(scale, values[scale.key], (value) => choosePrint(scale.key, value), backTo(scale))),
            make('p', { class: 'caption' }, ofRoll ? 'Frames with a choice of their own keep it.' : own ? `${own} ${own === 1 ? 'choice' : 'choices'} of its own.` : 'As its roll in everything.'),
            make('div', { class: 'acts' }, make('button', { type: 'button', name: 'as-roll', click: () => change(() => { f.print = {}; }) }, 'Frame as its roll'))];
    };

    // --- the proof: made by the program, of the picture's own negative

    const proof = (() => {
        const figure = byId('proof');
        const picture = figure.querySelector('img');
        const mark = figure.querySelector('.patch');
        const aim = figure.querySelector('.aim');
        let ready = false; // the sheets are measured
        let measuring = '';
        let busy = false;
        let settle = 0;
        let shown = { key: '', exact: false, url: '', where: '' };
        let told = null; // of the balance: what is taken off, and what the roll's own would
        let toldOf = '';
        let aiming = false;
        let at = [0.5, 0.5];
        let before = false;

        const place = () => `${chosen.sheet},${chosen.strip},${chosen.frame},${fresh}`;
        const wish = () => ({ sheet: chosen.sheet, corners: frame().corners, print: wanted(), balanceOfRoll: !('balance' in frame().print) });
        const note = (words) => { byId('proof-note').textContent = words; };
        const there = () => rolls && frame() && frame().kind !== 'blank';

        const refresh = async () => {
            if (busy || !ready || !there()) return;
            const asked = wish();
            const key = JSON.stringify([asked, fresh]);
            const exact = shown.key === key;
            if (exact && shown.exact) return;
            busy = true;
            const where = place();
            try {
                const answer = await fetch('/proof', { method: 'POST', headers: { 'X-Basefog-Token': token, 'X-Basefog-Page': page }, body: JSON.stringify({ ...asked, exact, long: exact ? 1200 : 800 }) });
                const pictured = answer.ok && answer.headers.get('Content-Type') === 'image/jpeg';
                if (pictured) {
                    const url = URL.createObjectURL(await answer.blob());
                    if (shown.url) URL.revokeObjectURL(shown.url);
                    shown = { key, exact, url, where };
                    const numbers = (name) => answer.headers.get(name)?.split(',').map(Number);
                    const stops = numbers('X-Basefog-Balance');
                    told = stops ? { coloured: true, stops, own: numbers('X-Basefog-Roll-Balance'), shift: numbers('X-Basefog-Light-Shift') } : { coloured: false };
                    const news = toldOf !== JSON.stringify([where, told]);
                    toldOf = JSON.stringify([where, told]);
                    note(answer.headers.get('X-Basefog-Note') || '');
                    show();
                    if (news && onProof && !held && !typing()) drawDetails();
                } else {
                    const { none, error, measuring: goesOn } = await answer.json();
                    if (goesOn) ready = false; // the next watch says when it is done
                    else shown = { key, exact: true, url: '', where };
                    show();
                    note(none || error);
                }
            } catch {
                note('The program does not answer. Is it still running?');
            }
            busy = false;
            if (!there()) return;
            clearTimeout(settle);
            // What a run writes takes longer: it follows once the hand rests.
            if (JSON.stringify([wish(), fresh]) !== key) refresh();
            else if (!shown.exact) settle = setTimeout(refresh, 250);
        };

        const show = () => {
            const f = frame();
            figure.hidden = !f || (!f.proof && !there());
            if (!f) return;
            figure.dataset.made = shown.where === place() && shown.key === (there() ? JSON.stringify([wish(), fresh]) : '') ? (shown.exact ? 'exact' : 'quick') : '';
            const old = f.proof ? `/file?${new URLSearchParams({ path: f.proof, token, fresh })}` : '';
            const own = shown.where === place() && shown.url;
            const source = before || !own ? old : shown.url;
            if (picture.getAttribute('src') !== source) source ? picture.setAttribute('src', source) : picture.removeAttribute('src');
            picture.alt = `Proof of ${strip().roll}, frame ${f.number}`;
            picture.classList.toggle('waiting', !own && !before && Boolean(rolls));
            byId('before').setAttribute('aria-pressed', String(before));
            byId('before').hidden = !f.proof || !rolls;
            if (!rolls) note('As the last run cut it.');
            else if (!ready) note(measuring);
            const patch = rolls && wanted().balance.by === 'patch' && (wanted().balance.frame ?? f.number) === f.number ? wanted().balance.patch : null;
            mark.hidden = !patch;
            if (patch) [mark.style.left, mark.style.top, mark.style.width, mark.style.height] = [patch[0], patch[1], patch[2] - patch[0], patch[3] - patch[1]].map((share) => `${share * 100}%`);
            aim.hidden = !aiming;
            [aim.style.left, aim.style.top] = at.map((share) => `${share * 100}%`);
            figure.classList.toggle('aiming', aiming);
        };

        const pick = (on) => {
            aiming = on;
            before = false;
            if (on) say('Click on a part of the picture that was grey');
            draw();
            if (on) aim.focus();
        };
        const take = (point) => {
            aiming = false;
            at = point;
            const patch = printing.patchAt(point, picture.naturalWidth / (picture.naturalHeight || 1));
            change(() => choosePrint('balance', ofRoll ? { by: 'patch', patch, frame: frame().number } : { by: 'patch', patch }));
        };
        figure.addEventListener('click', (event) => {
            if (!aiming || event.target.closest('figcaption') || event.detail === 0) return;
            const box = picture.getBoundingClientRect();
            take([(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height]);
        });
        aim.addEventListener('keydown', (event) => {
            const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
            if (event.key === 'Escape') pick(false);
            else if (event.key === 'Enter' || event.key === ' ') take(at);
            else if (way) at = at.map((share, i) => printing.within(share + way[i] * (event.shiftKey ? 0.1 : 0.01), 0, 1));
            else return;
            event.preventDefault();
            show();
        });
        picture.addEventListener('load', () => { figure.style.setProperty('--aspect', picture.naturalWidth / picture.naturalHeight); });
        byId('before').addEventListener('click', () => {
            before = !before;
            show();
        });

        return {
            want: () => { clearTimeout(settle); show(); refresh(); },
            balance: () => (shown.where === place() ? told : null),
            picking: () => aiming,
            waiting: () => Boolean(rolls) && !ready,
            pick,
            /** What the program says of measuring. */
            hear: (state) => {
                const was = ready;
                ready = state.state === 'done';
                measuring = state.state === 'failed' ? state.message : `The sheets are measured for proofs: ${Math.round(state.share * 100)} %`;
                if (ready && !was) note('');
                if (ready !== was) proof.want();
                else if (!ready) show();
            },
        };
    })();

    const draw = () => {
        if (!sheet()) return;
        onProof = onProof && Boolean(rolls) && Boolean(frame());
        byId('show-sheet').setAttribute('aria-pressed', String(!onProof));
        byId('show-proof').setAttribute('aria-pressed', String(onProof));
        byId('modes').hidden = !rolls;
        byId('zooms').hidden = onProof;
        byId('on-sheet').hidden = onProof;
        byId('large').hidden = !onProof;
        const home = byId(onProof ? 'large' : 'small');
        if (byId('proof').parentNode !== home) home.append(byId('proof'));
        if (!onProof) drawSheet();
        drawList();
        drawDetails();
        proof.want();
        const unsaved = dirty();
        byId('undo').disabled = past.length === 0;
        byId('redo').disabled = future.length === 0;
        byId('save').disabled = !unsaved || running;
        byId('run').disabled = unsaved || running;
        document.title = `${unsaved ? '* ' : ''}Review`;
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
        s.frames.splice(at + 1, 0, { number: nextNumber(s), kind: 'picture', corners, confidence: 1, by_hand: true, proof: '', print: {} });
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
            const state = await ask('/save', { method: 'POST', body: JSON.stringify({ page, revision, sheets, ...(rolls && { rolls }) }) });
            take(state);
            past = [];
            future = [];
            alarm('');
            say(state.written.length > 0 ? `Saved to ${state.written.join(' and ')}` : 'Nothing differs from what is saved');
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
            proof.hear(now.measuring);
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
            else if (now.stale || now.revision !== revision) alarm('Layout, settings or report have changed on disk. Load this page again; what is not saved here would be lost.');
        } catch {
            alarm('The program does not answer. Is it still running?');
        }
        setTimeout(watch, running || proof.waiting() ? 500 : 2000);
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
        drag = { target, from: toScan(event), before: snapshot(), corners: item().corners };
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
        if (JSON.stringify(item().corners) === JSON.stringify(drag.corners)) restore(drag.before);
        else remember(drag.before);
        drag = null;
        draw();
    });
    view.addEventListener('pointercancel', () => {
        if (drag) restore(drag.before);
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
    const showProof = (on) => {
        onProof = on;
        if (on && !frame()) {
            const first = sheet().strips.findIndex((s) => s.frames.length > 0);
            const at = chosen.strip >= 0 && strip().frames.length > 0 ? chosen.strip : first;
            if (at >= 0) chosen = { ...chosen, strip: at, frame: Math.max(0, sheet().strips[at].frames.findIndex((f) => f.kind === 'picture')) };
        }
        draw();
    };
    byId('show-sheet').addEventListener('click', () => showProof(false));
    byId('show-proof').addEventListener('click', () => showProof(true));
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
