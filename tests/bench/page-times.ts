/**
 * How fast the page is, measured in a real browser: from opening to the first answer, from a key to the painted answer,
 * and its own work in each frame while the map is dragged. Used by `tests/bench/page-speed.ts`.
 */
import type { Browser, Page } from 'playwright';
import { open, ready } from '../browser/page.ts';

/** The page's own promises at 2,000 sounds, in milliseconds. */
export const PROMISED = { usable: 1500, keystrokeP95: 50, dragFrame: 16 } as const;

export interface Series {
  times: number[];
  median: number;
  p95: number;
  most: number;
}

function series(times: readonly number[]): Series {
  const sorted = [...times].sort((a, b) => a - b);
  const at = (share: number): number => sorted[Math.min(sorted.length - 1, Math.floor(sorted.length * share))];
  return { times: [...times], median: at(0.5), p95: at(0.95), most: at(1) };
}

/** Milliseconds from opening `address` to the answer to a first typed letter. */
export async function timeToUsable(browser: Browser, address: string): Promise<number> {
  const { page, close } = await open(browser, 'about:blank');
  const begun = performance.now();
  await page.goto(address);
  await ready(page);
  await page.keyboard.type('m');
  await page.waitForFunction(() => / of /.test(document.getElementById('count')?.textContent ?? ''));
  const time = performance.now() - begun;
  await close();
  return time;
}

const QUESTIONS = [
  'metal plate dark',
  'boiler rubbed',
  '2 bars at 84 accent at end',
  'glass bright under 3s',
  'net float',
];

/** From each key's event to the moment after the frame that shows the answer. The page must be open and ready. */
export async function keystrokeTimes(page: Page): Promise<Series> {
  await page.evaluate(() => {
    const known = Reflect.get(window, 'times') as number[] | undefined;
    known?.splice(0);
    if (known) return;
    const times: number[] = [];
    Reflect.set(window, 'times', times);
    document.getElementById('ask')?.addEventListener('input', (event) => {
      const channel = new MessageChannel();
      channel.port1.onmessage = () => times.push(performance.now() - event.timeStamp);
      requestAnimationFrame(() => channel.port2.postMessage(0));
    });
  });
  for (const question of QUESTIONS) {
    await page.locator('#ask').focus();
    for (const letter of question) {
      const painted = await page.evaluate(() => (Reflect.get(window, 'times') as number[]).length);
      await page.keyboard.press(letter === ' ' ? 'Space' : letter);
      await page.waitForFunction((before) => (Reflect.get(window, 'times') as number[]).length > before, painted);
    }
    await page.locator('#ask').fill('');
    while ((await page.locator('.chip').count()) > 0) await page.locator('.chip .remove').first().click();
  }
  return series(await page.evaluate(() => Reflect.get(window, 'times') as number[]));
}

const DRAG_STEPS = 120;

/** The page's own work in each frame of one drag over the scaled map, a sound being in hand. */
export async function dragFrameTimes(page: Page): Promise<Series> {
  await page.evaluate(() => {
    if (Reflect.get(window, 'work')) return;
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
  if ((await page.locator('.row[aria-selected="true"]').count()) === 0) {
    await page.keyboard.press('ArrowDown');
    await page.locator('#map-in').click();
  }
  const box = await page.locator('#map').boundingBox();
  if (!box) throw new Error('no map');
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.evaluate(() => (Reflect.get(window, 'work') as number[]).splice(0));
  for (let step = 0; step < DRAG_STEPS; step++) {
    await page.mouse.move(x + 240 * Math.sin(step / 12), y + 160 * Math.cos(step / 9));
  }
  await page.mouse.up();
  return series(await page.evaluate(() => Reflect.get(window, 'work') as number[]));
}
