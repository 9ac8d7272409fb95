// SPDX-License-Identifier: GPL-3.0-or-later
// A run on the drawn sheet, reviewed: the program's own page in a browser, and what tests do on it.
import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { launch, pages, watchedPage } from './browser.mjs';

const program = process.env.BASEFOG_PROGRAM;

export class Review {
    constructor(folder) {
        this.folder = folder;
        this.results = join(pages, folder);
        this.layout = join(this.results, 'layout.toml');
        this.settings = join(this.results, 'print.toml');
    }

    report() { return JSON.parse(readFileSync(join(this.results, 'report.json'), 'utf8')); }

    async start() {
        execFileSync(program, ['invert', 'sheet.tif', '--output', this.folder, '--replace', '--quiet'], { cwd: pages });
        this.server = spawn(program, ['review', this.folder], { cwd: pages });
        this.address = await new Promise((resolve, reject) => {
            let told = '';
            this.server.stdout.on('data', (data) => {
                told += data;
                const found = told.match(/http:\/\/127\.0\.0\.1:\d+\/\?token=[0-9a-f]{32}/);
                if (found) resolve(found[0]);
            });
            this.server.on('exit', (code) => reject(new Error(`review ended with ${code}`)));
        });
        this.browser = await launch();
    }

    async stop() {
        await this.browser.close();
        this.server.removeAllListeners('exit');
        const ended = new Promise((resolve) => { this.server.on('exit', resolve); });
        this.server.kill('SIGINT');
        assert.equal(await ended, 0, 'it stops when asked to');
    }

    async open(options) {
        const { page, seen } = await watchedPage(this.browser, options);
        await page.goto(this.address);
        await page.waitForSelector('#list button[data-frame]');
        return { page, seen };
    }
}

/** Waits for words in an element. Looks by hand, as the page's policy lets nobody evaluate texts. */
export const words = async (page, id, pattern, seconds = 30) => {
    for (const end = Date.now() + seconds * 1000; Date.now() < end;) {
        if (pattern.test(await page.locator(`#${id}`).textContent())) return;
        await new Promise((resolve) => { setTimeout(resolve, 100); });
    }
    assert.fail(`#${id} never said ${pattern}, but: ${await page.locator(`#${id}`).textContent()}`);
};
export const choose = (page, strip, frame) => page.click(`#list button[data-strip="${strip}"][data-frame="${frame}"]`);
