/**
 * How fast a built site's page is in headless Chromium: `node tests/bench/page-speed.ts SITE`. Each figure is the best of
 * three rounds beside the page's promise at 2,000 sounds, with the load of the machine and, as a yardstick, what an empty
 * page needs on it.
 */
import { loadavg } from 'node:os';
import { launch } from '../browser/chromium.ts';
import { fileAddress, open, ready, textOf } from '../browser/page.ts';
import { dragFrameTimes, keystrokeTimes, PROMISED, type Series, timeToUsable } from './page-times.ts';

const ROUNDS = 3;
const [site] = process.argv.slice(2);
if (!site) throw new Error('Say which site: node tests/bench/page-speed.ts SITE');
const address = `${fileAddress(site)}index.html`;

async function rounds<T>(measure: () => Promise<T>): Promise<T[]> {
  const results: T[] = [];
  for (let round = 0; round < ROUNDS; round++) results.push(await measure());
  return results;
}

const milliseconds = (time: number): string => `${time.toFixed(1)} ms`;

function line(what: string, best: number, promised: number, more: string): void {
  const kept = best <= promised ? 'kept' : 'BROKEN';
  console.log(`${what}: ${milliseconds(best)} of ${promised} ms promised, ${kept}; ${more}`);
}

const least = (all: readonly Series[], figure: 'p95' | 'most'): Series =>
  [...all].sort((a, b) => a[figure] - b[figure])[0];

const browser = await launch();
try {
  const { page, close } = await open(browser, address);
  await ready(page);
  console.log(`${await textOf(page, '#count')}, ${browser.version()}, load ${loadavg()[0].toFixed(1)}`);
  const empty = await rounds(async () => {
    const begun = performance.now();
    const { close: closeEmpty } = await open(browser, 'about:blank');
    const time = performance.now() - begun;
    await closeEmpty();
    return time;
  });
  const usable = await rounds(() => timeToUsable(browser, address));
  line('usable', Math.min(...usable), PROMISED.usable, `an empty page ${milliseconds(Math.min(...empty))}`);
  const keys = least(await rounds(() => keystrokeTimes(page)), 'p95');
  line(
    'key to paint, p95',
    keys.p95,
    PROMISED.keystrokeP95,
    `median ${milliseconds(keys.median)}, ${keys.times.length} keys`,
  );
  const drag = least(await rounds(() => dragFrameTimes(page)), 'most');
  line(
    'map drag, worst frame',
    drag.most,
    PROMISED.dragFrame,
    `median ${milliseconds(drag.median)}, ${drag.times.length} frames`,
  );
  await close();
} finally {
  await browser.close();
}
