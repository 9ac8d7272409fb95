// SPDX-License-Identifier: GPL-3.0-or-later
// The browser under test, and what every page must keep: no request leaves it, nothing is refused or thrown.
import assert from 'node:assert/strict';
import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';
import { join } from 'node:path';
import { chromium } from 'playwright-core';

const axeSource = createRequire(import.meta.url).resolve('axe-core/axe.min.js');

export const pages = process.env.BASEFOG_PAGES;
export const pageUrl = (name) => pathToFileURL(join(pages, name)).href;

export const launch = () =>
    chromium.launch({ executablePath: process.env.BASEFOG_CHROMIUM || '/usr/bin/chromium', args: ['--no-sandbox', '--disable-dev-shm-usage'] });

/** A page that keeps a list of requests elsewhere and of errors; `options` as for a browser context. */
export async function watchedPage(browser, options = {}) {
    const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, reducedMotion: 'reduce', ...options });
    const page = await context.newPage();
    page.setDefaultTimeout(90000); // a laden machine's
    const seen = { elsewhere: [], errors: [] };
    page.on('request', (request) => {
        const url = new URL(request.url());
        const local = url.protocol === 'file:' || url.protocol === 'data:' || url.protocol === 'blob:' || url.hostname === '127.0.0.1';
        if (!local) seen.elsewhere.push(request.url());
    });
    page.on('pageerror', (error) => seen.errors.push(String(error)));
    page.on('console', (message) => {
        // A proof that is not there is expected: the page then keeps the picture it carries.
        if (message.type() === 'error' && !/ERR_FILE_NOT_FOUND/.test(message.text())) seen.errors.push(message.text());
    });
    page.on('dialog', (dialog) => {
        seen.errors.push(`a dialog: ${dialog.message()}`);
        dialog.dismiss();
    });
    return { page, seen };
}

/** Waits until `look`, called on the page, finds what it looks for. By hand: a page's policy may let nobody evaluate texts, and a laden
 *  machine draws few frames to wait for. */
export async function until(page, look, seconds = 30) {
    for (const end = Date.now() + seconds * 1000; Date.now() < end;) {
        if (await page.evaluate(look)) return;
        await new Promise((resolve) => { setTimeout(resolve, 100); });
    }
    assert.fail(`never came: ${look}`);
}

export function assertQuiet(seen) {
    assert.deepEqual(seen.elsewhere, [], 'requests to elsewhere');
    assert.deepEqual(seen.errors, [], 'errors on the page');
}

/** axe-core's faults of WCAG 2.1 A and AA, whatever their weight. It is put in beside the page's policy, by the test's own hand. */
export async function accessibilityFaults(page, root = undefined) {
    await page.addScriptTag({ path: axeSource });
    return page.evaluate(async (selector) => {
        const result = await window.axe.run(selector || document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa'] });
        return result.violations.map((fault) => `${fault.impact}: ${fault.id}: ${fault.help}: ${fault.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(' | ')}`);
    }, root);
}
