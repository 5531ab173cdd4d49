/** "Also at other speeds": the switch, its rows, and the speed that goes with the row in hand. */
import type { Browser, Locator, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, inject, it } from 'vitest';
import { speedsIn } from '../../src/client/speeds.ts';
import { launch } from './chromium.ts';
import { fileAddress, open, ready, said, textOf } from './page.ts';

const sites = inject('sites');
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

const ask = (hash: string) => open(browser, `${fileAddress(sites.small)}index.html#${hash}`);
const speed = (page: Page) => textOf(page, '#speed-value');
const hash = (page: Page, pattern: RegExp) =>
  page.waitForFunction((source) => new RegExp(source).test(window.location.hash), pattern.source);
const bent = (page: Page): Locator => page.locator('.row', { hasText: /at −\d+ st/ });
const asRecorded = (page: Page): Locator => page.locator('.row', { hasNotText: /[+−]\d+ st/ });
const found = async (page: Page): Promise<number> => Number.parseInt(await textOf(page, '#count'), 10);
/** Seconds as the bench says them. */
const benchSeconds = async (page: Page): Promise<number> => Number.parseFloat(await textOf(page, '#bench-facts'));

/** No sound is played: what is heard is not what is tried here. */
async function quiet(page: Page): Promise<void> {
  await ready(page);
  await page.locator('#moving').click();
  await page.locator('#results').focus();
}

describe('the switch', () => {
  it('finds more, says at which speed, draws it so, and stands in the link', async () => {
    const { page, complaints, close } = await ask('q=8+s');
    await quiet(page);
    const before = await found(page);
    expect(await bent(page).count()).toBe(0);
    await page.keyboard.press('v');
    expect(await page.locator('#also').getAttribute('aria-pressed')).toBe('true');
    expect(await page.locator('#also-at').inputValue()).toBe('−24 −12 12');
    expect(await found(page)).toBeGreaterThan(before);
    await hash(page, /also=-24_-12_12/);
    const row = bent(page).first();
    // Its line lies between what fits and what does not: first what fits as recorded.
    expect(Number(await row.getAttribute('aria-posinset'))).toBeGreaterThan(1);
    const copy = await open(browser, page.url());
    await ready(copy.page);
    expect(await textOf(copy.page, '#count')).toBe(await textOf(page, '#count'));
    await copy.close();
    await page.keyboard.press('v');
    expect(await bent(page).count()).toBe(0);
    expect(await found(page)).toBe(before);
    expect(complaints).toEqual([]);
    await close();
  });

  it('takes other speeds, keeps them for the next time, and says what it cannot read', async () => {
    const { page, close } = await ask('q=8+s&also=-12');
    await quiet(page);
    const field = page.locator('#also-at');
    expect(await field.inputValue()).toBe('−12');
    await field.fill('-7, +5');
    await field.press('Enter');
    await hash(page, /also=-7_5/);
    await field.fill('slower');
    await field.press('Tab');
    expect(await field.getAttribute('aria-invalid')).not.toBeNull();
    expect(await said(page)).toMatch(/whole semitones/);
    await page.locator('#also').click();
    expect(await field.isVisible()).toBe(false);
    await page.locator('#also').click();
    expect(await field.inputValue()).toBe('−7 5');
    await close();
    expect(speedsIn('-7 5')).toEqual([-7, 5]);
    for (const nothing of ['', 'slower', '0.5', '99']) expect(speedsIn(nothing)).toEqual([-24, -12, 12]);
  });
});

describe('the speed', () => {
  it('goes with the row: to where it answers, and back', async () => {
    const { page, close } = await ask('q=8+s&also=-24_-12');
    await quiet(page);
    const row = bent(page).first();
    const shift = /at (−\d+ st)/.exec((await row.textContent()) ?? '')?.[1] ?? '';
    await row.click();
    expect(await speed(page)).toBe(shift);
    expect(await textOf(page, '#bench-facts')).toContain(`at ${shift}`);
    const slow = await benchSeconds(page);
    await hash(page, /speed=-\d+/);
    const copy = await open(browser, page.url());
    await ready(copy.page);
    expect(await speed(copy.page)).toBe(shift);
    await copy.close();
    await page.keyboard.press('v');
    // As recorded only: nobody moved the slider, so the sound in hand goes back as well.
    expect(await speed(page)).toBe('0 st');
    const octaves = Number.parseFloat(shift.replace('−', '')) / 12;
    expect(slow / (await benchSeconds(page))).toBeCloseTo(2 ** octaves, 0);
    await page.keyboard.press('v');
    await bent(page).first().click();
    await asRecorded(page).first().click();
    expect(await speed(page)).toBe('0 st');
    await close();
  });

  it('stays where a person put it, until a row answers at another one', async () => {
    const { page, close } = await ask('q=8+s&also=-24_-12');
    await quiet(page);
    await asRecorded(page).first().click();
    await page.locator('#results').focus();
    await page.keyboard.press('[');
    expect(await speed(page)).toBe('−1 st');
    await asRecorded(page).nth(1).click();
    expect(await speed(page)).toBe('−1 st');
    const row = bent(page).first();
    const shift = /at (−\d+ st)/.exec((await row.textContent()) ?? '')?.[1] ?? '';
    await row.click();
    expect(await speed(page)).toBe(shift);
    await asRecorded(page).first().click();
    expect(await speed(page)).toBe('0 st');
    await close();
  });
});

describe('musical figures', () => {
  it('stand in the row in short and in the pane in full', async () => {
    const { page, close } = await ask('q=2+bars+at+84%2C+accent+at+end&pane=sound');
    await quiet(page);
    const row = page.locator('.row').first();
    expect(await row.locator('.figure').textContent()).toMatch(
      /^[+−]?[\d.]+ m?s (as it is|trim [\d.]+ m?s|[+−][\d.]+ st( fits)?.*)$/,
    );
    expect(await row.locator('.sub').getAttribute('title')).toMatch(/misses by .* beats?/);
    await row.click();
    const pane = page.locator('#pane-sound');
    for (const named of [
      'misses by',
      'Trim from the head',
      'Exact at',
      'Start the clip at bar:beat',
      'Rings on after it',
    ])
      expect(await pane.textContent()).toContain(named);
    const codes = await pane.locator('tr', { hasText: 'frames a second' }).locator('td').allTextContents();
    expect(codes).toHaveLength(5);
    for (const code of codes) expect(code).toMatch(/^−?\d\d:\d\d:\d\d[:;]\d\d$/);
    await close();
  });
});
