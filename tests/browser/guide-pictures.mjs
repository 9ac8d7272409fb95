// SPDX-License-Identifier: GPL-3.0-or-later
// node guide-pictures.mjs PROGRAM RESULTS FOLDER: pictures of the demo's pages for the guide, small enough to keep.
import { spawn } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { launch } from './browser.mjs';

const [program, results, folder] = process.argv.slice(2);
const browser = await launch();
const page = await (await browser.newContext({ viewport: { width: 1200, height: 760 }, colorScheme: 'light' })).newPage();
const shoot = (name, what = page) => what.screenshot({ path: join(folder, `${name}.jpg`), type: 'jpeg', quality: 62 });

await page.goto(pathToFileURL(resolve(results, 'report.html')).href);
for (const box of ['#show-outlines-1', '#show-residue-1']) if (await page.locator(box).count()) await page.locator(box).uncheck();
await shoot('sheet', page.locator('svg.sheet').first());
await page.locator('article.frame-card .look').nth(4).click();
await page.waitForFunction(() => document.querySelector('#viewer .stage img').naturalWidth > 0);
await shoot('closer');

const contact = readdirSync(join(results, 'contact')).sort()[0];
await page.goto(pathToFileURL(resolve(results, 'contact', contact)).href);
await shoot('contact', page.locator('img'));

const server = spawn(program, ['review', results]);
const address = await new Promise((done) => server.stdout.on('data', (data) => {
    const found = String(data).match(/http:\S+/);
    if (found) done(found[0]);
}));
await page.setViewportSize({ width: 1200, height: 760 });
const pictured = page.waitForResponse((response) => response.url().includes('/picture?'), { timeout: 120000 });
await page.goto(address);
await page.waitForSelector('#list button[data-frame]');
await (await pictured).finished();
await page.click('#list button[data-strip="1"][data-frame="2"]');
await page.waitForTimeout(1500); // what has come is decoded and drawn
await shoot('review');
await page.click('#show-proof');
await page.waitForSelector('#proof[data-made=exact]', { timeout: 240000 });
for (const [name, value] of [['exposure', '0.5'], ['warmth', '0.2']]) {
    await page.fill(`#details [name=${name}]`, value);
    await page.keyboard.press('Enter');
    await page.waitForSelector('#proof[data-made=exact]', { timeout: 120000 });
}
await page.waitForTimeout(500);
await shoot('proof');
server.kill('SIGINT');
await browser.close();
