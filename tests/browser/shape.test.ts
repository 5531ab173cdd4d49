/** Asking by a drawn shape: by pointer, by clicks, by keyboard, beside words, in chip and link. */
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, inject, it } from 'vitest';
import { launch } from './chromium.ts';
import { chips, fileAddress, open, painted, ready, textOf } from './page.ts';

const address = `${fileAddress(inject('sites').small)}index.html`;

const shapeInLink = (page: Page): Promise<unknown> =>
  page.waitForFunction(() => new URLSearchParams(location.hash.slice(1)).has('shape'));

describe('the Shape pane', () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  });
  afterAll(() => browser.close());

  it('is drawn by dragging; chip and link carry it, a reload keeps it, Backspace removes it', async () => {
    const { page, complaints, close } = await open(browser, address);
    await ready(page);
    await page.keyboard.press('Escape');
    await page.locator('#tab-shape').click();
    const box = await page.locator('#shape-curve').boundingBox();
    if (!box) throw new Error('no canvas');
    const middle = box.y + (box.height - 8) / 2;
    await page.mouse.move(box.x + 10, middle - 2);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width * 0.8, box.y + 10, { steps: 12 });
    await page.mouse.up();
    expect(await textOf(page, '#shape-words')).toMatch(/^Rises to its loudest at (7|8)\d.%, then stops\.$/);
    expect(await chips(page)).toEqual(['drawn shape']);
    await shapeInLink(page);
    await painted(page);
    const before = await page.locator('[role="option"]').allTextContents();
    await page.reload();
    await ready(page);
    expect(await chips(page)).toEqual(['drawn shape']);
    expect(await page.locator('[role="option"]').allTextContents()).toEqual(before);
    await page.locator('#ask').focus();
    await page.keyboard.press('Backspace');
    expect(await chips(page)).toEqual([]);
    expect(complaints).toEqual([]);
    await close();
  });

  it('is drawn by clicks from point to point, without dragging (WCAG 2.2, 2.5.7)', async () => {
    const { page, close } = await open(browser, `${address}#pane=shape`);
    await ready(page);
    const box = await page.locator('#shape-curve').boundingBox();
    if (!box) throw new Error('no canvas');
    await page.mouse.click(box.x + 9, box.y + 9);
    await page.mouse.click(box.x + box.width - 9, box.y + (box.height - 8) / 2);
    await page.locator('.chip').waitFor();
    expect(await textOf(page, '#shape-words')).toBe('Starts at its loudest, dies away to the end.');
    await close();
  });

  it('is reached and drawn by keyboard, and asks beside words and a length', async () => {
    const { page, close } = await open(browser, address);
    await ready(page);
    await page.locator('#results').focus();
    await page.keyboard.press('w');
    const curve = page.locator('#shape-curve');
    await page.waitForFunction(() => document.activeElement?.id === 'shape-curve');
    await page.keyboard.press('End');
    await page.keyboard.press('Shift+ArrowUp');
    await page.keyboard.press('ArrowUp');
    expect(await curve.getAttribute('aria-valuenow')).toBe('6');
    expect(await curve.getAttribute('aria-valuetext')).toMatch(/^at 100.%: height 6 of 35$/);
    await page.getByRole('button', { name: 'riser', exact: true }).click();
    await page.locator('#shape-length').fill('2 bars at 120');
    await page.keyboard.press('Enter');
    await page.locator('.chip .detail').waitFor();
    expect(await textOf(page, '.chip .detail')).toBe('4.0 s');
    await page.keyboard.press('Escape');
    await page.waitForFunction(() => document.activeElement?.id === 'ask');
    const all = await page.locator('#results').locator('[role="option"]').first().getAttribute('aria-setsize');
    await page.locator('#ask').fill('over 2 s,');
    await page.waitForFunction(
      (before) => document.querySelector('[role="option"]')?.getAttribute('aria-setsize') !== before,
      all,
    );
    expect(await page.locator('[role="option"] .unseen').first().textContent()).toMatch(/shape/);
    await page.locator('#shape-clear').click();
    expect(await textOf(page, '#shape-words')).toBe('Nothing drawn yet. Draw above, or start from one of these:');
    await close();
  });
});
