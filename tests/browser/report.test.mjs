// SPDX-License-Identifier: GPL-3.0-or-later
// The report and the page of trends as people use them: with mouse, keyboard and on paper. What stands on the pages comes from the
// invented records of tests/report.
import assert from 'node:assert/strict';
import { after, before, describe, test } from 'node:test';
import { accessibilityFaults, assertQuiet, launch, pageUrl, until, watchedPage } from './browser.mjs';

let browser;
before(async () => { browser = await launch(); });
after(async () => { await browser.close(); });

/** A page opened, used and closed; whatever a test does, it makes no request elsewhere and throws nothing. */
const on = (name, options, use) => async () => {
    const { page, seen } = await watchedPage(browser, options);
    await page.goto(pageUrl(name));
    await use(page);
    assertQuiet(seen);
    await page.context().close();
};

/** Names of a list's items as they stand, hidden ones left out. */
const names = (page, selector) => page.$$eval(selector, (nodes) => nodes.filter((node) => node.offsetParent !== null).map((node) => node.dataset.name));
const frameIds = (page) => page.$$eval('article.frame-card', (nodes) => nodes.filter((node) => node.offsetParent !== null).map((node) => node.id));
const tools = (page, list) => page.locator(`[data-tools="${list}"]`);

describe('rolls', () => {
    test('sort by column, twice the other way round, and cards and film follow', on('report.html', {}, async (page) => {
        assert.deepEqual(await names(page, 'tr[data-of=rolls]'), ['R1', 'R2', 'R3', 'R4']);
        const head = page.locator('th[data-sort=shadows] button');
        await head.click();
        // Shadows lost by sample_record.h: R4 0.9, R1 1.4, R2 3.8, R3 34.
        for (const place of ['tr[data-of=rolls]', '.verdict', '.film']) assert.deepEqual(await names(page, place), ['R4', 'R1', 'R2', 'R3'], place);
        assert.equal(await page.getAttribute('th[data-sort=shadows]', 'aria-sort'), 'ascending');
        await head.click();
        assert.deepEqual(await names(page, 'tr[data-of=rolls]'), ['R3', 'R2', 'R1', 'R4']);
        assert.equal(await page.getAttribute('th[data-sort=shadows]', 'aria-sort'), 'descending');
        await tools(page, 'rolls').locator('[name=reset]').click();
        assert.deepEqual(await names(page, 'tr[data-of=rolls]'), ['R1', 'R2', 'R3', 'R4']);
        assert.equal(await page.getAttribute('th[data-sort=shadows]', 'aria-sort'), null);
    }));

    test('filter by grade, verdict and words, and say how many are left', on('report.html', {}, async (page) => {
        const bar = tools(page, 'rolls');
        await bar.locator('[data-filter=grade]').selectOption('heavy');
        assert.deepEqual(await names(page, '.verdict'), ['R3']);
        assert.equal(await bar.locator('output').textContent(), '1 of 4 rolls');
        await bar.locator('[data-filter=grade]').selectOption('');
        await bar.locator('[data-filter=verdict]').selectOption('paid_off');
        assert.deepEqual(await names(page, 'tr[data-of=rolls]'), ['R2']);
        await bar.locator('[data-filter=verdict]').selectOption('');
        await bar.locator('[name=find]').fill('Panchromatic');
        assert.deepEqual(await names(page, '.verdict'), ['R4']);
        await bar.locator('[name=find]').fill('no such words');
        assert.deepEqual(await names(page, '.verdict'), []);
        assert.equal(await bar.locator('output').textContent(), '0 of 4 rolls');
    }));

    test('two side by side: verdict, curves and every number in one table', on('report.html', {}, async (page) => {
        await page.getByRole('button', { name: 'Compare Roll R1', exact: true }).click();
        assert.match(await page.locator('#tray').textContent(), /choose a second one/);
        await page.getByRole('button', { name: 'Compare Roll R3', exact: true }).click();
        await page.locator('#tray [name=compare]').click();
        const viewer = page.locator('#viewer');
        assert.deepEqual(await viewer.locator('thead th').allTextContents(), ['Roll R1', 'Roll R3']);
        assert.equal(await viewer.locator('.view').count(), 2);
        assert.equal(await viewer.locator('.plot').count(), 2);
        const rated = viewer.locator('tbody tr', { has: page.locator('th', { hasText: /^Rated$/ }) });
        assert.deepEqual((await rated.locator('td').allTextContents()).map((text) => text.slice(0, 6)), ['EI 400', 'EI 500']);
        const boxes = await viewer.locator('.view').evaluateAll((nodes) => nodes.map((node) => node.getBoundingClientRect().toJSON()));
        assert.ok(boxes[1].left >= boxes[0].right && Math.abs(boxes[0].top - boxes[1].top) < 1, 'columns stand side by side');
    }));
});

describe('frames', () => {
    test('sort by a number leaves the rolls\' groups, and back', on('report.html', {}, async (page) => {
        const before = await frameIds(page);
        const bar = tools(page, 'frames');
        await bar.locator('[name=sort]').selectOption('shadows');
        await bar.locator('[name=down]').check();
        const lost = await page.$$eval('article.frame-card', (nodes) => nodes.filter((n) => n.offsetParent !== null).map((n) => n.dataset.shadows));
        const told = lost.filter((value) => value !== undefined).map(Number);
        assert.ok(told.length > 20);
        assert.deepEqual(told, [...told].sort((a, b) => b - a));
        assert.ok(lost.slice(told.length).every((value) => value === undefined), 'frames without the number come last');
        assert.equal(await page.locator('.roll-frames:visible').count(), 0);
        await bar.locator('[name=reset]').click();
        assert.deepEqual(await frameIds(page), before);
    }));

    test('filter by roll, kind and findings', on('report.html', {}, async (page) => {
        const bar = tools(page, 'frames');
        await bar.locator('[data-filter=roll]').selectOption({ label: 'R3' });
        assert.deepEqual(new Set(await names(page, 'article.frame-card')), new Set(['R3']));
        assert.equal(await page.locator('.roll-frames:visible').count(), 1);
        await bar.locator('[data-filter=roll]').selectOption('');
        await bar.locator('[data-filter=kind]').selectOption('blank');
        assert.deepEqual(await frameIds(page), ['frame-1-2-6']);
        await bar.locator('[data-filter=kind]').selectOption('');
        await bar.locator('[data-filter=worst]').selectOption('Caution');
        assert.deepEqual(await frameIds(page), ['frame-1-4-3']);
    }));

    test('a link to a frame that a filter hides brings it back', on('report.html', {}, async (page) => {
        await tools(page, 'frames').locator('[data-filter=kind]').selectOption('blank');
        await page.evaluate(() => { location.hash = '#frame-1-1-2'; });
        await until(page, () => document.getElementById('frame-1-1-2').offsetParent !== null);
    }));

    test('a click on a proof shows it large, with its densities and its place on the curve', on('report.html', {}, async (page) => {
        await page.locator('#frame-1-1-1 a:has(> img)').click();
        const viewer = page.locator('#viewer');
        assert.equal(await viewer.locator('#viewer-title').textContent(), 'Roll R1, frame 1');
        // Beside the report lies a proof of this frame only; the others keep the picture the report carries.
        await until(page, () => document.querySelector('#viewer .stage img').naturalWidth > 0);
        assert.match(await viewer.locator('.stage img').first().getAttribute('src'), /proofs\/R1-01\.jpg$/);
        assert.ok((await viewer.locator('.stage').boundingBox()).width > 600, 'large');
        assert.equal(await viewer.locator('.histogram polyline').count(), 3);
        assert.equal(await viewer.locator('.plot .here .place:visible').count(), 1);
        assert.equal(await viewer.locator('.plot .place:visible').count(), 1, 'this frame and no other is marked');
        await viewer.locator('[data-step="1"]').click();
        assert.equal(await viewer.locator('#viewer-title').textContent(), 'Roll R1, frame 2');
        await until(page, () => document.querySelector('#viewer .stage img').src.startsWith('data:'));
    }));

    test('the overlay of backing and dust is switched on and off, and stays so from frame to frame', on('report.html', {}, async (page) => {
        await page.getByRole('button', { name: 'Look closer at Roll R1, frame 2', exact: true }).click();
        const overlay = page.locator('#viewer img.defects');
        assert.equal(await overlay.isVisible(), false);
        await page.locator('#viewer [name=overlay]').check();
        assert.equal(await overlay.isVisible(), true);
        assert.ok(await page.locator('#viewer .legend').isVisible(), 'what the overlay means stands below it');
        const [over, under] = await page.locator('#viewer .stage img').evaluateAll((nodes) => nodes.map((node) => JSON.stringify(node.getBoundingClientRect())));
        assert.equal(over, under, 'it lies over the picture');
        await page.keyboard.press('ArrowRight');
        await page.keyboard.press('ArrowRight');
        assert.equal(await page.locator('#viewer-title').textContent(), 'Roll R1, frame 4');
        assert.equal(await overlay.isVisible(), true);
        await page.locator('#viewer [name=overlay]').uncheck();
        assert.equal(await overlay.isVisible(), false);
        assert.equal(await page.locator('#viewer .legend').isVisible(), false, 'and goes with it');
    }));

    test('two side by side; a third takes the place of the first', on('report.html', {}, async (page) => {
        for (const frame of [1, 2, 4]) await page.getByRole('button', { name: `Compare Roll R1, frame ${frame}`, exact: true }).click();
        assert.equal(await page.locator('.choose[aria-pressed=true]').count(), 2);
        await page.locator('#tray [name=compare]').click();
        assert.deepEqual(await page.locator('#viewer thead th').allTextContents(), ['Roll R1, frame 2', 'Roll R1, frame 4']);
        const exposure = page.locator('#viewer tbody tr', { has: page.locator('th', { hasText: /^Exposure$/ }) });
        const stops = (await exposure.locator('td').allTextContents()).map((text) => Number(text.replace('\u2212', '-').split(' ')[0]));
        // By sample_record.h: 0.2 + 0.9 sin(1.7 n).
        assert.ok(Math.abs(stops[0] - (0.2 + 0.9 * Math.sin(3.4))) < 0.006 && Math.abs(stops[1] - (0.2 + 0.9 * Math.sin(6.8))) < 0.006, String(stops));
        await page.keyboard.press('Escape');
        await page.locator('#tray [name=clear]').click();
        assert.equal(await page.locator('#tray').isVisible(), false);
        assert.equal(await page.locator('.choose[aria-pressed=true]').count(), 0);
    }));
});

describe('without a mouse, without a script, on paper, by night', () => {
    test('keyboard: to a frame, through its neighbours, and back to where one was', on('report.html', {}, async (page) => {
        const look = page.locator('#frame-1-1-1 .look');
        await look.focus();
        await page.keyboard.press('Enter');
        assert.equal(await page.evaluate(() => document.activeElement.id), 'viewer-title');
        for (let i = 0; i < 30; ++i) {
            await page.keyboard.press('Tab');
            const where = await page.evaluate(() => document.activeElement === document.body || document.getElementById('viewer').contains(document.activeElement));
            assert.ok(where, 'the focus stays in the large view');
        }
        await page.keyboard.press('ArrowRight');
        assert.equal(await page.locator('#viewer-title').textContent(), 'Roll R1, frame 2');
        await page.keyboard.press('ArrowLeft');
        await page.keyboard.press('ArrowLeft');
        assert.equal(await page.locator('#viewer-title').textContent(), 'Roll R1, frame 1');
        await page.keyboard.press('Escape');
        assert.equal(await page.locator('#viewer').evaluate((node) => node.open), false);
        assert.ok(await look.evaluate((node) => node === document.activeElement));
    }));

    test('keyboard: a column\'s head sorts, and what has the focus can be seen', on('report.html', {}, async (page) => {
        await page.locator('th[data-sort=base] button').focus();
        await page.keyboard.press('Enter');
        assert.equal(await page.getAttribute('th[data-sort=base]', 'aria-sort'), 'ascending');
        await page.keyboard.press('Tab');
        const outline = await page.evaluate(() => getComputedStyle(document.activeElement).outlineStyle + getComputedStyle(document.activeElement).outlineWidth);
        assert.equal(outline, 'solid3px');
    }));

    test('without script everything is there, and nothing that would not work', on('report.html', { javaScriptEnabled: false }, async (page) => {
        assert.equal(await page.locator('.tools:visible').count(), 0);
        assert.equal(await page.locator('button:visible').count(), 0);
        assert.equal(await page.locator('article.frame-card:visible').count(), 35);
        await page.locator('#frame-1-1-1 .densities summary').click();
        assert.ok(await page.locator('#frame-1-1-1 .histogram').isVisible());
    }));

    test('paper: no controls, every frame, no wider than the sheet', on('report.html', {}, async (page) => {
        await page.emulateMedia({ media: 'print' });
        for (const control of ['.tools', '.controls', '#tray', 'nav', '#viewer']) assert.equal(await page.locator(`${control}:visible`).count(), 0, control);
        assert.equal(await page.locator('article.frame-card:visible').count(), 35);
        const ground = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
        assert.equal(ground, 'rgb(255, 255, 255)');
        const paper = await page.pdf({ format: 'A4' });
        const pagesPrinted = paper.toString('latin1').match(/\/Type\s*\/Page\b/g).length;
        assert.ok(pagesPrinted >= 4 && pagesPrinted <= 20, `${pagesPrinted} pages`);
        // 182 mm between the margins of an A4 sheet, at 96 px an inch.
        await page.setViewportSize({ width: 688, height: 971 });
        assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 688);
    }));

    test('a history on paper: no controls, and every roll', on('history.html', {}, async (page) => {
        await page.locator('#rolls > details > summary').click();
        await page.emulateMedia({ media: 'print' });
        for (const control of ['.tools', '.controls', '#tray', 'nav', '#viewer']) assert.equal(await page.locator(`${control}:visible`).count(), 0, control);
        assert.equal(await page.locator('tr[data-of=history]:visible').count(), 12);
        const paper = await page.pdf({ format: 'A4' });
        const pagesPrinted = paper.toString('latin1').match(/\/Type\s*\/Page\b/g).length;
        assert.ok(pagesPrinted >= 2 && pagesPrinted <= 8, `${pagesPrinted} pages`);
    }));

    test('by night the page is dark', on('report.html', { colorScheme: 'dark' }, async (page) => {
        const [ground, ink] = await page.evaluate(() => [getComputedStyle(document.body).backgroundColor, getComputedStyle(document.body).color]);
        const level = (colour) => colour.match(/\d+/g).map(Number).reduce((a, b) => a + b) / 3;
        assert.ok(level(ground) < 40 && level(ink) > 200, `${ground} ${ink}`);
    }));

    for (const name of ['report.html', 'history.html'])
        for (const width of [1440, 390])
            test(`${name} fits ${width} px`, on(name, { viewport: { width, height: 800 } }, async (page) => {
                assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width);
            }));
});

describe('accessibility', () => {
    for (const colorScheme of ['light', 'dark'])
        for (const name of ['report.html', 'plain.html', 'history.html'])
            test(`${name}, ${colorScheme}: axe-core finds no fault`, on(name, { colorScheme, bypassCSP: true }, async (page) => {
                for (const details of await page.locator('details:not([open]) > summary').all()) if (await details.isVisible()) await details.click();
                assert.deepEqual(await accessibilityFaults(page), []);
            }));

    for (const colorScheme of ['light', 'dark'])
        test(`the large view and two side by side, ${colorScheme}: axe-core finds no fault`, on('report.html', { colorScheme, bypassCSP: true }, async (page) => {
            await page.locator('#frame-1-1-2 .look').click();
            await page.locator('#viewer [name=overlay]').check();
            assert.deepEqual(await accessibilityFaults(page, '#viewer'), []);
            await page.keyboard.press('Escape');
            for (const frame of [1, 2]) await page.getByRole('button', { name: `Compare Roll R1, frame ${frame}`, exact: true }).click();
            assert.deepEqual(await accessibilityFaults(page, '#tray'), []);
            await page.locator('#tray [name=compare]').click();
            assert.deepEqual(await accessibilityFaults(page, '#viewer'), []);
        }));
});

describe('what comes from outside', () => {
    test('hostile names stay text, in the page, the large view and the table', on('hostile.html', {}, async (page) => {
        const scripts = await page.locator('script').count();
        await page.locator('article.frame-card .look').first().click();
        assert.match(await page.locator('#viewer-title').textContent(), /<script>alert\(1\)<\/script>/);
        await page.keyboard.press('Escape');
        const choose = page.locator('.verdict .choose');
        await choose.nth(0).click();
        await choose.nth(1).click();
        await page.locator('#tray [name=compare]').click();
        assert.match(await page.locator('#viewer thead').textContent(), /<script>/);
        await page.keyboard.press('Escape');
        await tools(page, 'rolls').locator('[name=find]').fill('<script>');
        assert.equal(await page.locator('.verdict:visible').count(), 4);
        assert.equal(await page.locator('script').count(), scripts, 'no script came in');
    }));

    test('hostile names stay text on the page of trends', on('hostile-history.html', {}, async (page) => {
        await page.locator('#rolls > details > summary').click();
        await page.locator('tr[data-of=history] .choose').nth(0).click();
        await page.locator('tr[data-of=history] .choose').nth(3).click();
        await page.locator('#tray [name=compare]').click();
        assert.match(await page.locator('#viewer thead').textContent(), /<script>/);
    }));

    test('the page\'s policy refuses what slips in all the same', async () => {
        const { page } = await watchedPage(browser);
        await page.goto(pageUrl('report.html'));
        const ran = await page.evaluate(async () => {
            window.ran = [];
            const script = document.createElement('script');
            try { script.textContent = 'window.ran.push("inline")'; document.body.append(script); } catch { /* trusted types refuse it */ }
            const image = document.createElement('img');
            image.src = 'http://elsewhere.invalid/x.png';
            const loaded = new Promise((resolve) => { image.onload = () => resolve(true); image.onerror = () => resolve(false); });
            document.body.append(image);
            const link = document.createElement('div');
            try { link.innerHTML = '<p onclick="window.ran.push(1)">x</p>'; } catch { /* trusted types refuse it */ }
            if (await loaded) window.ran.push('image');
            try { await fetch('http://elsewhere.invalid/'); window.ran.push('fetch'); } catch { /* the policy refuses it */ }
            return window.ran;
        });
        assert.deepEqual(ran, []);
        await page.context().close();
    });
});

describe('trends', () => {
    test('rolls of the history: sort, filter, two side by side', on('history.html', {}, async (page) => {
        await page.locator('#rolls > details > summary').click();
        assert.deepEqual((await names(page, 'tr[data-of=history]')).slice(0, 2), ['R11', 'R10']);
        await page.locator('th[data-sort=name] button').click();
        assert.deepEqual((await names(page, 'tr[data-of=history]')).slice(0, 3), ['R0', 'R1', 'R2'], 'numbers within names count as numbers');
        await tools(page, 'history').locator('[name=find]').fill('R11');
        assert.deepEqual(await names(page, 'tr[data-of=history]'), ['R11']);
        await tools(page, 'history').locator('[name=reset]').click();
        await page.getByRole('button', { name: 'Compare Roll R3', exact: true }).click();
        await page.getByRole('button', { name: 'Compare Roll R7', exact: true }).click();
        await page.locator('#tray [name=compare]').click();
        assert.deepEqual(await page.locator('#viewer thead th').allTextContents(), ['Roll R3', 'Roll R7']);
        const session = page.locator('#viewer tbody tr', { has: page.locator('th', { hasText: /^Session$/ }) });
        assert.deepEqual(await session.locator('td').allTextContents(), ['2026-01-04', '2026-01-08']);
    }));
});

describe('hundreds of frames', () => {
    /** How long a control takes to do its work, layout included, and that it did some. */
    const timed = (page, list, control, value) => page.evaluate(([tools, name, to]) => {
        const bar = document.querySelector(`[data-tools=${tools}]`);
        const input = bar.querySelector(`[name=${name}]`);
        const start = performance.now();
        input.value = to;
        input.dispatchEvent(new Event('input', { bubbles: true }));
        document.body.getBoundingClientRect();
        return performance.now() - start;
    }, [list, control, value]);
    // Chosen: a second is where a person's train of thought breaks (common practice, no source); a laden machine is allowed it all.
    const kPatience = 1000;

    test('of a run: load, sort and filter without a wait one would notice', on('many.html', {}, async (page) => {
        assert.equal(await page.locator('article.frame-card').count(), 315);
        for (const [control, value] of [['sort', 'shadows'], ['find', 'R1-3']]) {
            const took = await timed(page, 'frames', control, value);
            assert.ok(took < kPatience, `${control}: ${took} ms`);
        }
        assert.ok((await frameIds(page)).length < 315, 'filtered');
    }));

    test('hundreds of rolls of a history: load, sort and filter likewise', on('years.html', {}, async (page) => {
        await page.locator('#rolls > details > summary').click();
        assert.equal(await page.locator('tr[data-of=history]').count(), 360);
        for (const [control, value] of [['sort', 'name'], ['find', 'R11-']]) {
            const took = await timed(page, 'history', control, value);
            assert.ok(took < kPatience, `${control}: ${took} ms`);
        }
        assert.equal((await names(page, 'tr[data-of=history]')).length, 30, 'filtered');
        assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 1440);
    }));
});
