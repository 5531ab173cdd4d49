/** "How it is measured": the whole table is on the page, and no link on any page leads nowhere. */
import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser } from 'playwright';
import { afterAll, beforeAll, expect, inject, it } from 'vitest';
import { DESCRIPTORS } from '../../shared/measure/descriptors.ts';
import { launch } from './chromium.ts';
import { fileAddress, open, ready } from './page.ts';

const sites = inject('sites');
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

/** Minus signs are set as such on the page, and lines are broken anywhere. */
const plain = (text: string): string => text.replace(/−/g, '-').replace(/\s+/g, ' ');

it('says all the table says of every value, under the name of its field', async () => {
  const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}measured.html`);
  for (const [field, { title, meaning, unit, formula, source, edges }] of Object.entries(DESCRIPTORS)) {
    const text = plain((await page.locator(`#${field}`).textContent()) ?? '');
    for (const part of [title, field, meaning, unit, formula, source, edges]) expect(text).toContain(plain(part));
  }
  expect(complaints).toEqual([]);
  await close();
});

it('is where the names of values in the Sound pane lead to', async () => {
  const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html#pane=sound`);
  await ready(page);
  await page.keyboard.press('ArrowDown');
  await page.getByRole('link', { name: DESCRIPTORS.centroidHz.title, exact: true }).click();
  await page.waitForURL(/measured\.html#centroidHz$/);
  const box = await page.locator('#centroidHz').boundingBox();
  expect(box?.y).toBeGreaterThanOrEqual(0);
  expect(box?.y).toBeLessThan(400);
  await close();
});

it('every link on every page leads to a file and a place that exist', async () => {
  const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
  const anchors = new Map<string, Set<string>>();
  const links: { from: string; href: string }[] = [];
  for (const name of ['index.html', 'report.html', 'measured.html']) {
    await page.goto(`${fileAddress(sites.small)}${name}`);
    if (name === 'index.html') {
      await ready(page);
      await page.keyboard.press('ArrowDown');
      await page.keyboard.press('i');
    }
    const found = await page.evaluate(() => ({
      ids: [...document.querySelectorAll('[id]')].map(({ id }) => id),
      hrefs: [...document.querySelectorAll('a[href]')].map((link) => link.getAttribute('href') ?? ''),
    }));
    anchors.set(name, new Set(found.ids));
    links.push(...found.hrefs.map((href) => ({ from: name, href })));
  }
  expect(links.length).toBeGreaterThan(60);
  for (const { from, href } of links) {
    const [file, anchor = ''] = href.split('#');
    const target = file || from;
    expect(existsSync(join(sites.small, target)), href).toBe(true);
    // The part after # of the Find page is a question, not a place.
    if (anchor !== '' && target !== 'index.html')
      expect(anchors.get(target)?.has(anchor), `${from}: ${href}`).toBe(true);
  }
  await close();
});
