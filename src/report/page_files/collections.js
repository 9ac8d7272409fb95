// SPDX-License-Identifier: GPL-3.0-or-later
// Sorting and filtering. A list's items carry data-of="LIST" and a data- attribute for every key; its controls are the
// .tools with data-tools="LIST". Items of one list may stand in several places (cards, rows): each place is sorted in itself.
'use strict';
(() => {
    const all = (selector, root = document) => [...root.querySelectorAll(selector)];

    /** Numbers before words, what is missing last whichever way round. */
    const compare = (a, b, down) => {
        const none = (v) => v === undefined || v === '';
        if (none(a) || none(b)) return none(a) - none(b);
        const byNumber = Number(a) - Number(b);
        const order = Number.isNaN(byNumber) ? a.localeCompare(b, undefined, { numeric: true, sensitivity: 'base' }) : byNumber;
        return down ? -order : order;
    };

    class Collection {
        constructor(tools) {
            this.tools = tools;
            this.list = tools.dataset.tools;
            this.items = all(`[data-of="${this.list}"]`).map((node, order) => ({ node, order, home: node.parentNode, text: node.textContent.toLowerCase() }));
            this.flat = document.querySelector(`[data-flat="${this.list}"]`);
            this.heads = all(`th[data-tools-of="${this.list}"]`);
            this.find = tools.querySelector('[name=find]');
            this.sort = tools.querySelector('[name=sort]');
            this.down = tools.querySelector('[name=down]');
            this.filters = all('[data-filter]', tools);
            this.heads.forEach((head) => this.makeSortable(head));
            tools.addEventListener('input', () => this.apply());
            tools.querySelector('[name=reset]').addEventListener('click', () => this.reset());
            const finder = tools.closest('details');
            finder.hidden = this.count(() => true) < 2;
            finder.open = window.matchMedia('(min-width:44rem)').matches; // on a phone it would fill the screen before the first verdict
            this.apply();
        }

        makeSortable(head) {
            const button = document.createElement('button');
            button.type = 'button';
            button.append(...head.childNodes);
            button.addEventListener('click', () => {
                const again = this.sort.value === head.dataset.sort;
                this.down.checked = again && !this.down.checked;
                this.sort.value = head.dataset.sort;
                this.apply();
            });
            head.append(button);
        }

        reset() {
            this.find.value = this.sort.value = '';
            this.down.checked = false;
            for (const filter of this.filters) filter.value = '';
            this.apply();
        }

        fits(item) {
            const words = this.find.value.toLowerCase().split(/\s+/).filter(Boolean);
            return words.every((word) => item.text.includes(word)) &&
                this.filters.every((filter) => filter.value === '' || item.node.dataset[filter.dataset.filter] === filter.value);
        }

        /** How many things the list's items stand for. */
        count(which) {
            return new Set(this.items.filter(which).map((item) => item.node.dataset.id)).size;
        }

        apply() {
            const key = this.sort.value;
            const down = this.down.checked;
            const shown = new Set(this.items.filter((item) => this.fits(item)).map((item) => item.node.dataset.id));
            for (const item of this.items) item.node.hidden = !shown.has(item.node.dataset.id);
            const sorted = [...this.items].sort((a, b) =>
                (key === '' ? (down ? b.order - a.order : 0) : compare(a.node.dataset[key], b.node.dataset[key], down)) || a.order - b.order);
            // Sorted by anything but their own order, grouped items leave their groups.
            const flat = this.flat && (key !== '' || down);
            for (const item of sorted) (flat ? this.flat : item.home).append(item.node);
            if (this.flat) {
                this.flat.hidden = !flat;
                for (const home of new Set(this.items.map((item) => item.home)))
                    home.closest('details').hidden = flat || ![...home.children].some((node) => !node.hidden);
            }
            for (const head of this.heads) {
                const here = key !== '' && head.dataset.sort === key;
                if (here) head.setAttribute('aria-sort', down ? 'descending' : 'ascending');
                else head.removeAttribute('aria-sort');
            }
            const total = this.count(() => true);
            const words = shown.size === total ? `All ${total} ${this.tools.dataset.noun}` : `${shown.size} of ${total} ${this.tools.dataset.noun}`;
            const output = this.tools.querySelector('output');
            if (output.textContent !== words) output.textContent = words;
        }
    }

    const collections = all('.tools').map((tools) => new Collection(tools));

    // A link may lead to what a filter hides: then the filter goes.
    const reveal = () => {
        const target = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
        if (!target) return;
        for (const collection of collections)
            if (collection.items.some((item) => item.node === target && item.node.hidden)) collection.reset();
        target.closest('details')?.setAttribute('open', '');
        target.scrollIntoView();
    };
    window.addEventListener('hashchange', reveal);
})();
