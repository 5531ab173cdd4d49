/**
 * Promises in numbers, at 2,000 sounds. Each bound is the page's own promise. Every measurement is made up to three
 * times and the best counts: what else runs on the machine can only add to it.
 */
import { loadavg } from 'node:os';
import type { Browser } from 'playwright';
import { afterAll, beforeAll, expect, inject, it } from 'vitest';
import { launch } from './chromium.ts';
import { fileAddress, open, ready } from './page.ts';

const sites = inject('sites');
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

const percentile = (values: readonly number[], share: number): number =>
  [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.floor(values.length * share))];

it('is usable within 1.5 s of being opened', async () => {
  const times: number[] = [];
  for (let run = 0; run < 3; run++) {
    const { page, close } = await open(browser, 'about:blank');
    const begun = performance.now();
    await page.goto(`${fileAddress(sites.large)}index.html`);
    await ready(page);
    await page.keyboard.type('m');
    await page.waitForFunction(() => / of 2,000/.test(document.getElementById('count')?.textContent ?? ''));
    times.push(performance.now() - begun);
    await close();
  }
  console.log(`open to first answer: ${times.map((time) => Math.round(time)).join(', ')} ms`);
  expect(Math.min(...times)).toBeLessThan(1500);
});

/** Smallest of up to `rounds` results; stops at the first within the bound. */
async function best(bound: number, measure: () => Promise<number>, rounds = 3): Promise<number> {
  let least = Number.POSITIVE_INFINITY;
  for (let round = 0; round < rounds && least > bound; round++) least = Math.min(least, await measure());
  return least;
}

it('paints the answer within 50 ms of a keystroke, 95 times in 100', async () => {
  const { page, close } = await open(browser, `${fileAddress(sites.large)}index.html`);
  await ready(page);
  // From the key's event to the moment after the frame that shows the answer.
  await page.evaluate(() => {
    const times: number[] = [];
    Reflect.set(window, 'times', times);
    document.getElementById('ask')?.addEventListener('input', (event) => {
      const channel = new MessageChannel();
      channel.port1.onmessage = () => times.push(performance.now() - event.timeStamp);
      requestAnimationFrame(() => channel.port2.postMessage(0));
    });
  });
  const round = async (): Promise<number> => {
    await page.evaluate(() => (Reflect.get(window, 'times') as number[]).splice(0));
    for (const question of [
      'metal plate dark',
      'boiler rubbed',
      '2 bars at 84 accent at end',
      'glass bright under 3s',
      'net float',
    ]) {
      for (const letter of question) {
        const painted = await page.evaluate(() => (Reflect.get(window, 'times') as number[]).length);
        await page.keyboard.press(letter === ' ' ? 'Space' : letter);
        await page.waitForFunction((before) => (Reflect.get(window, 'times') as number[]).length > before, painted);
      }
      await page.locator('#ask').fill('');
      while ((await page.locator('.chip').count()) > 0) await page.locator('.chip .remove').first().click();
    }
    const times = await page.evaluate(() => Reflect.get(window, 'times') as number[]);
    expect(times.length).toBeGreaterThan(60);
    console.log(
      `keystroke to painted: median ${percentile(times, 0.5).toFixed(1)} ms, p95 ${percentile(times, 0.95).toFixed(1)} ms, ${times.length} keys, load ${loadavg()[0].toFixed(1)}`,
    );
    return percentile(times, 0.95);
  };
  expect(await best(50, round)).toBeLessThanOrEqual(50);
  await close();
});

it('does less than 16 ms of its own work in every frame while the map is dragged', async () => {
  const { page, close } = await open(browser, `${fileAddress(sites.large)}index.html`);
  await ready(page);
  await page.evaluate(() => {
    const work: number[] = [];
    Reflect.set(window, 'work', work);
    const ask = window.requestAnimationFrame.bind(window);
    window.requestAnimationFrame = (act) =>
      ask((time) => {
        const begun = performance.now();
        act(time);
        work.push(performance.now() - begun);
      });
  });
  await page.keyboard.press('ArrowDown');
  const box = await page.locator('#map').boundingBox();
  if (!box) throw new Error('no map');
  await page.locator('#map-in').click();
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  const drag = async (): Promise<number> => {
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.evaluate(() => (Reflect.get(window, 'work') as number[]).splice(0));
    for (let step = 0; step < 120; step++) {
      await page.mouse.move(x + 240 * Math.sin(step / 12), y + 160 * Math.cos(step / 9));
    }
    await page.mouse.up();
    const work = await page.evaluate(() => Reflect.get(window, 'work') as number[]);
    expect(work.length).toBeGreaterThan(20);
    console.log(
      `map drag: ${work.length} frames, most ${Math.max(...work).toFixed(1)} ms, p95 ${percentile(work, 0.95).toFixed(1)} ms, load ${loadavg()[0].toFixed(1)}`,
    );
    return Math.max(...work);
  };
  expect(await best(16, drag)).toBeLessThanOrEqual(16);
  await close();
});
