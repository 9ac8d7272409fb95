// SPDX-License-Identifier: GPL-3.0-or-later
// Exposure, balance and tone moved by hand, and the proof that follows: made by the program itself, of the picture's own negative.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { after, before, describe, test } from 'node:test';
import { accessibilityFaults, assertQuiet, until } from './browser.mjs';
import { Review, choose, words } from './review.mjs';

const review = new Review('results-print');
const { results, layout, settings } = review;
const report = () => review.report();
const open = (options) => review.open(options);
before(() => review.start());
after(() => review.stop());

describe('exposure and balance', () => {
    /** Means of red, green and blue of a part of a picture the page shows, and how light its darkest 2 % are at most: read by a canvas. */
    const meansOf = (page, source = '#proof img', [u0, v0, u1, v1] = [0.05, 0.05, 0.95, 0.95]) => page.$eval(source, async (image, [l, t, r, b]) => {
        await image.decode();
        const canvas = document.createElement('canvas');
        const [width, height] = [canvas.width, canvas.height] = [image.naturalWidth, image.naturalHeight];
        const drawn = canvas.getContext('2d');
        drawn.drawImage(image, 0, 0);
        const [x, y] = [Math.floor(l * width), Math.floor(t * height)];
        const { data } = drawn.getImageData(x, y, Math.ceil(r * width) - x, Math.ceil(b * height) - y);
        const sum = [0, 0, 0];
        for (let i = 0; i < data.length; i += 4) for (let c = 0; c < 3; ++c) sum[c] += data[i + c];
        const lights = Array.from({ length: data.length / 4 }, (_, i) => data[4 * i] + data[4 * i + 1] + data[4 * i + 2]).sort((a, b) => a - b);
        return { width, height, means: sum.map((value) => value / (data.length / 4)), darkest: lights[Math.floor(lights.length / 50)] / 3 };
    }, [u0, v0, u1, v1]);
    const light = ({ means }) => (means[0] + means[1] + means[2]) / 3;
    /** The proof made of every pixel, as a run makes it, stands there. */
    const settled = (page) => page.waitForSelector('#proof[data-made=exact]', { timeout: 120000 });
    const onProof = async (page, strip, frame) => {
        await choose(page, strip, frame);
        await page.click('#show-proof');
        await settled(page);
    };
    const type = async (page, name, value) => {
        await page.fill(`#details [name=${name}]`, String(value));
        await page.keyboard.press('Enter');
        await settled(page);
    };
    /** Of the last run's own proof, the reduced positive, which the page can show in place of its own. */
    const asRun = async (page) => {
        await page.click('#before');
        assert.equal(await page.getAttribute('#before', 'aria-pressed'), 'true');
        const means = await meansOf(page);
        await page.click('#before');
        return means;
    };
    const runAgain = async (page) => {
        await page.click('#run');
        await words(page, 'status', /are new/, 180);
        await settled(page);
    };

    test('exposure changes the proof at once; undone it is as before; saved and run again, the positive is what the proof showed', async () => {
        const { page, seen } = await open();
        await onProof(page, 1, 2);
        const before = await meansOf(page);
        assert.ok(Math.abs(light(await asRun(page)) - light(before)) < 0.5, 'untouched, the proof is the last run\'s');
        await page.focus('#details [name=exposure-slider]');
        for (let i = 0; i < 14; ++i) await page.keyboard.press('ArrowRight');
        assert.equal(await page.inputValue('#details [name=exposure]'), '0.7');
        assert.equal(await page.evaluate(() => document.activeElement.name), 'exposure-slider', 'the focus stays');
        await settled(page);
        const brighter = await meansOf(page);
        assert.ok(light(brighter) > light(before) + 10, `${light(before)} to ${light(brighter)}`);
        while (!(await page.isDisabled('#undo'))) await page.click('#undo');
        await settled(page);
        assert.deepEqual((await meansOf(page)).means, before.means, 'undone');
        assert.ok(await page.isDisabled('#save'));
        while (!(await page.isDisabled('#redo'))) await page.click('#redo');
        await settled(page);
        assert.deepEqual((await meansOf(page)).means, brighter.means, 'and done again');
        assert.ok(!existsSync(settings), 'nothing is written until saved');
        const layoutBefore = existsSync(layout) ? readFileSync(layout, 'utf8') : '';
        await page.click('#save');
        await words(page, 'status', /Saved to print.toml$/);
        assert.match(readFileSync(settings, 'utf8'), /number = 3, print = \{ balance = "roll", exposure = 0.7,/);
        assert.equal(existsSync(layout) ? readFileSync(layout, 'utf8') : '', layoutBefore, 'the layout was not touched');
        const untouched = report().scans[0].strips[1].frames[0];
        const neighbour = readFileSync(join(results, untouched.positive));
        await runAgain(page);
        const made = report().scans[0].strips[1].frames[2];
        assert.equal(made.print.exposure_stops, 0.7);
        assert.ok(readFileSync(join(results, untouched.positive)).equals(neighbour), 'the frame beside it is the same to the byte');
        // The run's own proof, which is the reduced positive, against what was seen while choosing: means within half a code value of 255.
        const asMade = await asRun(page);
        assert.deepEqual([asMade.width, asMade.height], [brighter.width, brighter.height]);
        asMade.means.forEach((value, c) => assert.ok(Math.abs(value - brighter.means[c]) < 0.5, `${asMade.means} against ${brighter.means}`));
        assertQuiet(seen);
        await page.context().close();
    });

    test('a slider moves the proof while it is held, and is one step to undo', async () => {
        const { page, seen } = await open();
        await onProof(page, 0, 0);
        const before = light(await meansOf(page));
        const box = await page.locator('#details [name=exposure-slider]').boundingBox();
        await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
        await page.mouse.down();
        for (const share of [0.45, 0.4, 0.35, 0.3]) await page.mouse.move(box.x + box.width * share, box.y + box.height / 2);
        await until(page, () => ['quick', 'exact'].includes(document.getElementById('proof').dataset.made));
        assert.ok(light(await meansOf(page)) < before - 8, 'darker with the hand still on it');
        assert.ok(await page.isDisabled('#undo'), 'not yet a step');
        await page.mouse.up();
        await page.click('#undo');
        assert.ok(await page.isDisabled('#undo'), 'one step');
        await settled(page);
        assert.ok(Math.abs(light(await meansOf(page)) - before) < 0.01);
        assertQuiet(seen);
        await page.context().close();
    });

    test('balance by hand: warmer is redder and less blue, magenta less green, and neither is brighter', async () => {
        const { page, seen } = await open();
        await onProof(page, 0, 0);
        const before = (await meansOf(page)).means;
        await type(page, 'warmth', 0.5);
        assert.equal(await page.inputValue('#details [name=balance]'), 'numbers');
        const warm = (await meansOf(page)).means;
        assert.ok(warm[0] > before[0] + 5 && warm[2] < before[2] - 5, `${before} to ${warm}`);
        await page.click('#details [name=warmth-back]');
        await settled(page);
        assert.equal(await page.inputValue('#details [name=balance]'), 'roll');
        await type(page, 'magenta', 0.5);
        const magenta = (await meansOf(page)).means;
        assert.ok(magenta[1] < before[1] - 5 && magenta[0] > before[0], `${before} to ${magenta}`);
        assertQuiet(seen);
        await page.context().close();
    });

    test('contrast, black point and saturation do what they say', async () => {
        const { page, seen } = await open();
        await onProof(page, 0, 0);
        const apart = ({ means }) => Math.max(...means) - Math.min(...means);
        await type(page, 'saturation', 0);
        assert.ok(apart(await meansOf(page)) < 1, 'without saturation it is grey');
        await page.click('#details [name=saturation-back]');
        await settled(page);
        const shadows = (await meansOf(page)).darkest;
        const before = light(await meansOf(page));
        await type(page, 'black_point', -3);
        assert.ok((await meansOf(page)).darkest < shadows - 1, 'shadows run into black');
        await page.click('#details [name=black_point-back]');
        await type(page, 'contrast', 1.5);
        assert.notEqual(Math.round(light(await meansOf(page)) * 10), Math.round(before * 10));
        await page.click('#details [name=contrast-back]');
        await settled(page);
        assert.ok(await page.isDisabled('#save'), 'back where it began');
        assertQuiet(seen);
        await page.context().close();
    });

    test('a click on a grey makes it grey, with the mouse and with keys', async () => {
        const { page, seen } = await open();
        await onProof(page, 0, 0);
        await page.click('#details [name=pick]');
        const box = await page.locator('#proof img').boundingBox();
        const [u, v] = [0.3, 0.4];
        await page.mouse.click(box.x + box.width * u, box.y + box.height * v);
        await settled(page);
        assert.equal(await page.inputValue('#details [name=balance]'), 'patch');
        assert.ok(await page.isVisible('#proof .patch'));
        const patch = await page.evaluate(() => {
            const [mark, image] = ['.patch', 'img'].map((part) => document.querySelector(`#proof ${part}`).getBoundingClientRect());
            return [mark.left - image.left, mark.top - image.top, mark.right - image.left, mark.bottom - image.top].map((at, i) => at / (i % 2 ? image.height : image.width));
        });
        assert.ok(Math.abs((patch[0] + patch[2]) / 2 - u) < 0.01 && Math.abs((patch[1] + patch[3]) / 2 - v) < 0.01, `${patch}`);
        const { means } = await meansOf(page, '#proof img', patch);
        assert.ok(Math.max(...means) - Math.min(...means) < 8, `the patch is grey: ${means}`);
        await page.click('#undo');
        await settled(page);
        await page.focus('#details [name=pick]');
        await page.keyboard.press('Enter');
        await page.keyboard.press('Shift+ArrowLeft');
        await page.keyboard.press('ArrowUp');
        await page.keyboard.press('Enter');
        await settled(page);
        assert.equal(await page.inputValue('#details [name=balance]'), 'patch');
        assertQuiet(seen);
        await page.context().close();
    });

    test('the roll moves all its frames but those with a choice of their own', async () => {
        const { page, seen } = await open();
        await onProof(page, 1, 0);
        const before = light(await meansOf(page));
        await page.click('#details [name=of-roll]');
        await type(page, 'exposure', -0.5);
        assert.ok(light(await meansOf(page)) < before - 5);
        await page.click('#details [name=of-frame]');
        assert.equal(await page.inputValue('#details [name=exposure]'), '-0.5');
        await choose(page, 1, 2); // it was given 0.7 of its own
        assert.equal(await page.inputValue('#details [name=exposure]'), '0.7');
        await page.click('#details [name=as-roll]');
        assert.equal(await page.inputValue('#details [name=exposure]'), '-0.5');
        await page.click('#save');
        await words(page, 'status', /Saved to print.toml$/);
        await page.goto(review.address);
        await page.waitForSelector('#list button[data-frame]');
        await onProof(page, 1, 2);
        assert.equal(await page.inputValue('#details [name=exposure]'), '-0.5', 'it stands there the next time');
        assertQuiet(seen);
        await page.context().close();
    });

    test('settings changed on disk are noticed before anything is written over', async () => {
        const { page } = await open();
        await onProof(page, 0, 0);
        execFileSync('sh', ['-c', `echo '# by hand' >> '${settings}'`]);
        const edited = readFileSync(settings, 'utf8');
        await type(page, 'exposure', 1);
        await page.click('#save');
        await words(page, 'alarm', /changed on disk/, 20);
        assert.equal(readFileSync(settings, 'utf8'), edited);
        await page.context().close();
    });

    for (const colorScheme of ['light', 'dark'])
        for (const width of [1440, 390])
            test(`the proof at ${width} px, ${colorScheme}: fits, and axe-core finds no fault`, async () => {
                const { page } = await open({ colorScheme, viewport: { width, height: 844 }, bypassCSP: true });
                await onProof(page, 0, 0);
                await page.click('#details [name=pick]');
                assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width);
                assert.deepEqual(await accessibilityFaults(page), []);
                await page.context().close();
            });
});
