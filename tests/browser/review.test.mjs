// SPDX-License-Identifier: GPL-3.0-or-later
// Correcting by hand as a person does it: the program's own page in a browser, on a small drawn sheet.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { accessibilityFaults, assertQuiet, watchedPage } from './browser.mjs';
import { Review, choose, words } from './review.mjs';

const review = new Review('results');
const { results, layout } = review;
const report = () => review.report();
const open = (options) => review.open(options);

/** Width and height by a TIFF's own tags (256, 257) [TIFF6, section 3]. */
const tiffSize = (path) => {
    const bytes = readFileSync(path);
    const little = bytes.toString('latin1', 0, 2) === 'II';
    const u16 = (at) => (little ? bytes.readUInt16LE(at) : bytes.readUInt16BE(at));
    const u32 = (at) => (little ? bytes.readUInt32LE(at) : bytes.readUInt32BE(at));
    const size = {};
    for (let i = 0, at = u32(4) + 2; i < u16(u32(4)); ++i, at += 12)
        if (u16(at) === 256 || u16(at) === 257) size[u16(at)] = u16(at + 2) === 3 ? u16(at + 8) : u32(at + 8);
    return { width: size[256], height: size[257] };
};

before(() => review.start());
after(() => review.stop());

const cornersOf = (page, frame) => page.$eval(`polygon.frame[data-strip="0"][data-frame="${frame}"]`, (node) => node.getAttribute('points').split(' ').map((pair) => pair.split(',').map(Number)));
/** Drags a handle by scan pixels. */
const drag = async (page, selector, dx, dy) => {
    const box = await page.locator(selector).boundingBox();
    const scale = await page.$eval('#view', (node) => node.getScreenCTM().a);
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + dx * scale / 2, y + dy * scale / 2);
    await page.mouse.move(x + dx * scale, y + dy * scale);
    await page.mouse.up();
};

describe('review', () => {
    test('drag a corner, undo, drag again, save, run again: the positive is the newly cropped one', async () => {
        const { page, seen } = await open();
        const was = report().scans[0].strips[0].frames[1];
        const before = tiffSize(join(results, was.positive));
        await choose(page, 0, 1);
        await page.click('#closer');
        const found = await cornersOf(page, 1);
        const scale = await page.$eval('#view', (node) => node.getScreenCTM().a);
        const tolerance = 1.5 / scale; // a pointer goes by whole pixels of the screen
        await drag(page, '[data-corner="2"]', -40, -20);
        const moved = await cornersOf(page, 1);
        assert.ok(Math.abs(moved[2][0] - found[2][0] + 40) <= tolerance && Math.abs(moved[2][1] - found[2][1] + 20) <= tolerance, `${found} to ${moved}`);
        assert.deepEqual(moved[0], found[0], 'the opposite corner stays');
        assert.match(await page.textContent('#status'), /not saved/);
        await page.click('#undo');
        assert.deepEqual(await cornersOf(page, 1), found);
        assert.ok(await page.isDisabled('#save'));
        await page.click('#redo');
        assert.deepEqual(await cornersOf(page, 1), moved);
        assert.ok(!existsSync(layout), 'nothing is written until saved');
        await page.click('#save');
        await words(page, 'status', /Saved to layout.toml/);
        assert.ok(existsSync(layout));
        await page.click('#run');
        await words(page, 'status', /are new/, 180);
        const now = report().scans[0].strips[0].frames[1];
        now.corners_px.forEach((corner, i) => corner.forEach((v, k) => assert.ok(Math.abs(v - moved[i][k]) < 0.02, `${now.corners_px} against ${moved}`)));
        assert.ok(now.by_hand);
        assert.ok(!report().scans[0].strips[0].frames[0].by_hand, 'the others stay as found');
        const cut = tiffSize(join(results, now.positive));
        assert.ok(Math.abs(cut.width - (before.width - 40)) <= tolerance + 1 && Math.abs(cut.height - (before.height - 20)) <= tolerance + 1, JSON.stringify([before, cut]));
        assertQuiet(seen);
        await page.context().close();
    });

    test('an edge by keyboard, a tenth of a millimetre at a time, and the focus stays', async () => {
        const { page, seen } = await open();
        await choose(page, 0, 0);
        const found = await cornersOf(page, 0);
        await page.focus('[data-edge="1"]');
        for (let i = 0; i < 5; ++i) await page.keyboard.press('ArrowRight');
        const moved = await cornersOf(page, 0);
        const mm = report().scans[0].dpi / 25.4;
        assert.ok(Math.abs(moved[1][0] - found[1][0] - 0.5 * mm) < 0.1 + 0.05 * mm);
        assert.deepEqual(moved[0], found[0]);
        assert.equal(await page.evaluate(() => document.activeElement.dataset.edge), '1');
        for (let i = 0; i < 5; ++i) await page.keyboard.press('Control+z');
        assert.deepEqual(await cornersOf(page, 0), found);
        assertQuiet(seen);
        await page.context().close();
    });

    test('delete, add, renumber, say what it is, rename, turn; all undone again', async () => {
        const { page, seen } = await open();
        const frames = () => page.$$eval('#list button[data-frame][data-strip="0"]', (nodes) => nodes.map((node) => node.textContent));
        const before = await frames();
        await choose(page, 0, 0);
        await page.click('#details [name=delete]');
        assert.deepEqual(await frames(), before.slice(1));
        await page.click('#undo');
        assert.deepEqual(await frames(), before);
        await choose(page, 0, before.length - 1);
        await page.click('#details [name=add]');
        assert.equal((await frames()).length, before.length + 1);
        await page.fill('#details [name=number]', '77');
        await page.keyboard.press('Enter');
        assert.ok((await frames()).includes('77'));
        await page.selectOption('#details [name=kind]', 'fogged');
        assert.ok((await frames()).includes('77 fogged'));
        await page.click('#list button[data-strip="0"]:not([data-frame])');
        await page.fill('#details [name=roll]', 'R <b>9</b>');
        await page.keyboard.press('Enter');
        assert.match(await page.textContent('#list h2'), /R <b>9<\/b>/);
        const corners = await cornersOf(page, 0);
        await page.click('#details [name=turn]');
        const last = (await frames()).length - 1;
        const turned = await cornersOf(page, last);
        assert.deepEqual(turned, [corners[2], corners[3], corners[0], corners[1]]);
        while (!(await page.isDisabled('#undo'))) await page.click('#undo');
        assert.deepEqual(await frames(), before);
        assert.ok(await page.isDisabled('#save'), 'back where it began');
        assertQuiet(seen);
        await page.context().close();
    });

    test('what a run would refuse is refused, in words, and nothing is written', async () => {
        const { page } = await open();
        const kept = readFileSync(layout, 'utf8');
        await choose(page, 0, 1);
        await page.fill('#details [name=number]', '1');
        await page.keyboard.press('Enter');
        await page.click('#save');
        await page.waitForSelector('#alarm:not([hidden])');
        assert.match(await page.textContent('#alarm'), /number 1/);
        assert.equal(readFileSync(layout, 'utf8'), kept);
        await page.context().close();
    });

    test('a second page and a file changed on disk are noticed', async () => {
        const first = await open();
        const second = await open();
        await words(first.page, 'alarm', /Another page/, 20);
        await second.page.context().close();
        await first.page.reload(); // the token is gone from the address, as meant
        assert.equal((await first.page.goto(review.address)).status(), 200);
        await first.page.waitForSelector('#list button[data-frame]');
        execFileSync('sh', ['-c', `echo '# by hand' >> '${layout}'`]);
        await words(first.page, 'alarm', /changed on disk/, 20);
        await first.page.context().close();
    });

    test('another page in the same browser gets nothing', async () => {
        const { page } = await watchedPage(review.browser);
        const origin = new URL(review.address).origin;
        const token = new URL(review.address).searchParams.get('token');
        // The sheet's picture, the state and an act, asked for from a page of another origin that even knows the token.
        await page.route('http://elsewhere.invalid/', (route) => route.fulfill({ contentType: 'text/html', body: '<p>elsewhere</p>' }));
        await page.goto('http://elsewhere.invalid/');
        const got = await page.evaluate(async ([where, secret]) => {
            const outcomes = [];
            for (const [path, options] of [['/state?page=x&token=' + secret, {}], ['/run', { method: 'POST', headers: { 'X-Basefog-Token': secret } }], ['/run?token=' + secret, { method: 'POST', mode: 'no-cors' }]])
                try {
                    const answer = await fetch(where + path, options);
                    outcomes.push(answer.type === 'opaque' ? 'opaque' : answer.status);
                } catch {
                    outcomes.push('refused');
                }
            return outcomes;
        }, [origin, token]);
        assert.ok(got.every((outcome) => outcome === 'refused' || outcome === 'opaque'), String(got));
        const watch = await fetch(`${origin}/watch?page=x`, { headers: { 'X-Basefog-Token': token } });
        assert.notEqual((await watch.json()).run.state, 'busy', 'no run was begun');
        assert.equal((await fetch(`${origin}/state?page=x&token=${token.replace(/.$/, (c) => (c === '0' ? '1' : '0'))}`)).status, 403);
        assert.equal((await fetch(`${origin}/file?path=..%2Fsheet.tif&token=${token}`)).status, 403);
        await page.context().close();
    });

    for (const colorScheme of ['light', 'dark'])
        for (const width of [1440, 390])
            test(`${width} px, ${colorScheme}: fits, and axe-core finds no fault`, async () => {
                const { page } = await open({ colorScheme, viewport: { width, height: 844 }, bypassCSP: true });
                await choose(page, 0, 1);
                assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width);
                assert.deepEqual(await accessibilityFaults(page), []);
                await page.context().close();
            });
});
