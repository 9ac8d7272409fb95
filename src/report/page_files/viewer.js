// SPDX-License-Identifier: GPL-3.0-or-later
// Frames and rolls large, by themselves or two side by side. What is shown is cloned from the page, which holds every number.
'use strict';
(() => {
    const dialog = document.getElementById('viewer');
    const tray = document.getElementById('tray');
    if (!dialog || !dialog.showModal) return;
    const all = (selector, root = document) => [...root.querySelectorAll(selector)];

    const make = (tag, attributes = {}, ...content) => {
        const node = document.createElement(tag);
        for (const [name, value] of Object.entries(attributes)) {
            if (name === 'click') node.addEventListener('click', value);
            else if (value === true) node.setAttribute(name, '');
            else if (value !== false) node.setAttribute(name, value);
        }
        node.append(...content);
        return node;
    };
    const button = (label, click, attributes = {}) => make('button', { type: 'button', click, ...attributes }, label);

    /** A copy for the viewer: no ids twice on the page, nothing unseen left out. */
    const copy = (node) => {
        const clone = node.cloneNode(true);
        for (const inner of [clone, ...all('[id]', clone)]) inner.removeAttribute('id');
        all('defs', clone).forEach((defs) => defs.remove());
        return clone;
    };

    const titleOf = (item) => {
        const roll = `Roll ${item.dataset.name.replace(/\s+/g, ' ').trim()}`;
        return item.dataset.of === 'frames' ? `${roll}, frame ${item.dataset.number}` : roll;
    };

    // --- what a column shows

    /** The proof beside the report where there is one, else the small picture the report carries. */
    const stage = (card) => {
        const small = card.querySelector('img:not(.defects)');
        if (!small) return copy(card.querySelector('.no-picture'));
        const picture = copy(small);
        picture.removeAttribute('loading');
        const proof = small.closest('a');
        if (proof) {
            picture.addEventListener('error', () => { picture.src = small.src; }, { once: true });
            picture.src = proof.href;
        }
        const box = make('div', { class: 'stage' }, picture);
        const defects = card.querySelector('img.defects');
        if (defects) box.append(copy(defects));
        return box;
    };

    const curveOf = (card) => {
        const plot = document.querySelector(`#${card.dataset.roll} .plot`);
        if (!plot) return [];
        const clone = copy(plot);
        const marks = all(`[data-frame="${card.dataset.id}"]`, clone);
        for (const mark of marks) mark.classList.add('here');
        return marks.length > 0 ? [make('h3', {}, 'Its place on the curve'), clone] : [];
    };

    const legend = 'Laid over: diagonal lines, leftover backing; filled, dust and fibres; upright lines, scratches.';

    const frameColumn = (card) => {
        const main = make('div', { class: 'main' }, make('h3', {}, titleOf(card)), stage(card));
        if (card.querySelector('img.defects')) main.append(make('p', { class: 'caption legend' }, legend));
        const findings = card.querySelector('.find');
        if (findings) main.append(copy(findings.parentNode));
        const side = make('div', { class: 'side' });
        const histogram = card.querySelector('.histogram');
        if (histogram) side.append(make('h3', {}, 'Its densities'), copy(histogram));
        side.append(...curveOf(card));
        const whatIf = card.querySelector('.whatif');
        if (whatIf) side.append(make('h3', {}, 'Had it been given more or less'), copy(whatIf));
        return make('section', { class: 'view', 'aria-label': titleOf(card) }, main, side);
    };

    const rollColumn = (item) => {
        const id = item.dataset.id;
        const column = make('section', { class: 'view', 'aria-label': titleOf(item) }, make('h3', {}, titleOf(item)));
        const verdict = document.querySelector(`.verdict[data-id="${id}"]`);
        if (verdict) column.append(...all(':scope > .outcome, :scope > .outcome + p, :scope > .residue', verdict).map(copy));
        const plot = document.querySelector(`#${id} .plot`);
        if (plot) column.append(copy(plot));
        return column;
    };

    /** Terms and values of an item, in order: from its description lists, or from its row's cells. */
    const factsOf = (item) => {
        const facts = new Map();
        const film = item.dataset.of === 'rolls' && document.querySelector(`.film[data-id="${item.dataset.id}"]`);
        for (const pair of all('.facts > div', film || item)) facts.set(pair.querySelector('dt').textContent, pair.querySelector('dd'));
        if (facts.size === 0)
            for (const cell of all('[data-label]', item)) facts.set(cell.dataset.label, cell);
        return facts;
    };

    const table = (items) => {
        const facts = items.map(factsOf);
        const terms = [...new Set(facts.flatMap((map) => [...map.keys()]))];
        const head = make('tr', {}, make('td'), ...items.map((item) => make('th', { scope: 'col' }, titleOf(item))));
        const rows = terms.map((term) => make('tr', {}, make('th', { scope: 'row' }, term), ...facts.map((map) => {
            const value = map.get(term);
            return make('td', {}, ...(value ? [...copy(value).childNodes] : ['\u2013']));
        })));
        return make('div', { class: 'scroll' }, make('table', {}, make('caption', {}, items.length > 1 ? 'Side by side' : 'Its numbers'), make('thead', {}, head), make('tbody', {}, ...rows)));
    };

    // --- the dialog

    let current = null;
    let opener = null;
    let overlay = false;

    const neighbours = () => all('[data-of="frames"]').filter((card) => !card.hidden && !card.closest('[hidden]'));

    const step = (by) => {
        const cards = neighbours();
        const next = cards[cards.indexOf(current) + by];
        if (next) show([next], by);
    };

    const setOverlay = (on) => {
        overlay = on;
        for (const part of all('img.defects, .legend', dialog)) part.hidden = !on;
    };

    const bar = (items) => {
        const parts = [make('h2', { id: 'viewer-title', tabindex: '-1' }, items.map(titleOf).join(' and '))];
        if (items.length === 1 && items[0].dataset.of === 'frames') {
            const cards = neighbours();
            const at = cards.indexOf(items[0]);
            parts.push(button('Previous', () => step(-1), { 'data-step': '-1', disabled: at <= 0 }), button('Next', () => step(1), { 'data-step': '1', disabled: at + 1 >= cards.length }));
        }
        if (items.some((item) => item.querySelector('img.defects'))) {
            const tick = make('input', { type: 'checkbox', name: 'overlay' });
            tick.checked = overlay;
            tick.addEventListener('change', () => setOverlay(tick.checked));
            parts.push(make('label', {}, tick, ' show backing and dust'));
        }
        parts.push(button('Close', () => dialog.close(), { name: 'close' }));
        return make('div', { class: 'viewer-bar' }, ...parts);
    };

    const show = (items, by = 0) => {
        current = items[0];
        const frames = items[0].dataset.of === 'frames';
        const columns = make('div', { class: `columns of-${items.length}` }, ...items.map(frames ? frameColumn : rollColumn));
        (items.length === 1 && columns.querySelector('.main') || columns).append(table(items));
        dialog.replaceChildren(bar(items), columns);
        dialog.setAttribute('aria-labelledby', 'viewer-title');
        setOverlay(overlay);
        if (!dialog.open) dialog.showModal();
        const wanted = by && dialog.querySelector(`[data-step="${by}"]:not([disabled])`);
        (wanted || dialog.querySelector('#viewer-title')).focus();
        dialog.scrollTop = 0;
    };

    const open = (items, from) => {
        opener = from;
        show(items);
    };

    dialog.addEventListener('close', () => {
        dialog.replaceChildren();
        if (opener && opener.isConnected) opener.focus();
    });
    dialog.addEventListener('click', (event) => {
        if (event.target === dialog) dialog.close(); // beside the page: the backdrop
        else if (event.target.closest('a[href^="#"]')) dialog.close();
    });
    dialog.addEventListener('keydown', (event) => {
        const by = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
        if (!by || event.target.matches('select,input:not([type=checkbox])') || !dialog.querySelector('[data-step]')) return;
        event.preventDefault();
        step(by);
    });

    // --- choosing two to compare

    let chosen = [];

    const showTray = () => {
        tray.hidden = chosen.length === 0;
        if (chosen.length === 0) return tray.replaceChildren();
        const words = chosen.length === 1 ? `${titleOf(chosen[0])}: choose a second one to compare it with.` : `${chosen.map(titleOf).join(' and ')} are chosen.`;
        const parts = [make('p', { role: 'status' }, words)];
        if (chosen.length === 2) parts.push(button('Compare', (event) => open(chosen, event.currentTarget), { name: 'compare' }));
        tray.replaceChildren(...parts, button('Clear', () => choose(null), { name: 'clear' }));
    };

    const choose = (item) => {
        if (item === null) chosen = [];
        else if (chosen.some((other) => other.dataset.id === item.dataset.id)) chosen = chosen.filter((other) => other.dataset.id !== item.dataset.id);
        else chosen = [...chosen.filter((other) => other.dataset.of === item.dataset.of).slice(-1), item];
        for (const toggle of all('button.choose')) {
            const owner = toggle.closest('[data-of]').dataset;
            toggle.setAttribute('aria-pressed', String(chosen.some((other) => other.dataset.of === owner.of && other.dataset.id === owner.id)));
        }
        showTray();
    };

    const controls = (item, ...more) => {
        const toggle = button('Compare', () => choose(item), { class: 'choose', 'aria-pressed': 'false', 'aria-label': `Compare ${titleOf(item)}` });
        return make('p', { class: 'controls' }, ...more, toggle);
    };

    for (const card of all('article[data-of="frames"]')) {
        const look = button('Look closer', () => open([card], look), { class: 'look', 'aria-label': `Look closer at ${titleOf(card)}` });
        card.querySelector('h4').after(controls(card, look));
        const link = card.querySelector('a > img')?.parentNode;
        link?.addEventListener('click', (event) => {
            if (event.ctrlKey || event.metaKey || event.shiftKey) return;
            event.preventDefault();
            open([card], link);
        });
    }
    for (const card of all('article.verdict[data-of="rolls"]')) card.querySelector('h3').after(controls(card));
    for (const row of all('tr[data-of="history"]')) row.querySelector('th').append(controls(row));
})();
