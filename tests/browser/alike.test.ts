/** Likeness from several sounds: added by key or button, taken out again, carried by a link. */
import type { Browser } from 'playwright';
import { afterAll, beforeAll, expect, inject, it } from 'vitest';
import { launch } from './chromium.ts';
import { fileAddress, open, ready, said, textOf } from './page.ts';

const sites = inject('sites');
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

it('asks from two sounds together, shows neither among the answers, and a link opens the same', async () => {
  const address = `${fileAddress(sites.small)}index.html`;
  const { page, complaints, close } = await open(browser, address);
  await ready(page);
  const name = () => textOf(page, '#bench-name');
  await page.keyboard.press('ArrowDown');
  const first = await name();
  await page.keyboard.press('a');
  expect(await said(page)).toContain('Alike now keeps asking from this sound.');
  await page.keyboard.press('n');
  const asked = page.locator('#pane-alike .asked .open');
  const near = page.locator('#pane-alike .near .name');
  expect(await asked.allTextContents()).toEqual([first]);
  const fromOne = await near.allTextContents();

  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('ArrowDown');
  const second = await name();
  // The question stays while one listens through the answers.
  expect(await near.allTextContents()).toEqual(fromOne);
  await page.locator('#pane-alike .add-asked').click();
  expect(await asked.allTextContents()).toEqual([first, second]);
  expect(await textOf(page, '#pane-alike h2')).toBe('Alike to these 2 together');
  const fromTwo = await near.allTextContents();
  expect(fromTwo).not.toEqual(fromOne);

  await page.waitForFunction(() => /alike=\w{16}_\w{16}/.test(window.location.hash));
  const other = await open(browser, page.url());
  await ready(other.page);
  expect(await other.page.locator('#pane-alike .near .name').allTextContents()).toEqual(fromTwo);
  await other.close();

  await page.getByRole('button', { name: `No longer ask from ${second}` }).click();
  expect(await near.allTextContents()).toEqual(fromOne);
  expect(complaints).toEqual([]);
  await close();
});
