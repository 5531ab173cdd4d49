/**
 * Promises in numbers, at 2,000 sounds. Every measurement is made up to three times and the best counts: what else runs
 * on the machine can only add to it.
 */
import type { Browser } from 'playwright';
import { afterAll, beforeAll, expect, inject, it } from 'vitest';
import { launch } from './chromium.ts';
import { fileAddress, open, ready } from './page.ts';
import { dragFrameTimes, keystrokeTimes, PROMISED, timeToUsable } from './speed.ts';

const address = `${fileAddress(inject('sites').large)}index.html`;
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

/** Smallest of up to `rounds` results; stops at the first within the bound. */
async function best(bound: number, measure: () => Promise<number>, rounds = 3): Promise<number> {
  let least = Number.POSITIVE_INFINITY;
  for (let round = 0; round < rounds && least > bound; round++) least = Math.min(least, await measure());
  return least;
}

it('is usable within 1.5 s of being opened', async () => {
  expect(await best(PROMISED.usable, () => timeToUsable(browser, address))).toBeLessThan(PROMISED.usable);
});

it('paints the answer within 50 ms of a keystroke, 95 times in 100', async () => {
  const { page, close } = await open(browser, address);
  await ready(page);
  const round = async (): Promise<number> => {
    const { times, p95 } = await keystrokeTimes(page);
    expect(times.length).toBeGreaterThan(60);
    return p95;
  };
  expect(await best(PROMISED.keystrokeP95, round)).toBeLessThanOrEqual(PROMISED.keystrokeP95);
  await close();
});

it('does less than 16 ms of its own work in every frame while the map is dragged', async () => {
  const { page, close } = await open(browser, address);
  await ready(page);
  const round = async (): Promise<number> => {
    const { times, most } = await dragFrameTimes(page);
    expect(times.length).toBeGreaterThan(20);
    return most;
  };
  expect(await best(PROMISED.dragFrame, round)).toBeLessThanOrEqual(PROMISED.dragFrame);
  await close();
});
