/** The Cue pane as a person uses it: in the bars by key, to another take and back, against a cue of one's own, in a room. */
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, inject, it } from 'vitest';
import { launch } from './chromium.ts';
import { chips, fileAddress, heard, type Opened, open, ready, said, textOf } from './page.ts';

const sites = inject('sites');
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

const opened = async (question: string, options = {}): Promise<Opened> => {
  const found = await open(
    browser,
    `${fileAddress(sites.small)}index.html#q=${encodeURIComponent(question)}&pane=cue`,
    options,
  );
  await ready(found.page);
  return found;
};
const place = (page: Page): Promise<string | null> => page.locator('#place-chart').getAttribute('aria-valuetext');
const fact = (page: Page, term: string): Promise<string> => textOf(page, `#place-facts dt:has-text("${term}") + dd`);
const reaches = (page: Page, bar: number, timeout = 30_000) =>
  page.waitForFunction(
    (wanted) => {
      const said = document.getElementById('place-chart')?.getAttribute('aria-valuetext') ?? '';
      return Number(/^bar (-?\d+)/.exec(said)?.[1]) >= wanted;
    },
    bar,
    { timeout },
  );

/** A canonical 44-byte-header WAV of 8-bit mono. */
function wav(seconds: number, rateHz: number, sample: (frame: number) => number): Buffer {
  const frames = Math.round(seconds * rateHz);
  const bytes = Buffer.alloc(44 + frames, 128);
  bytes.write('RIFF', 0);
  bytes.writeUInt32LE(bytes.length - 8, 4);
  bytes.write('WAVEfmt ', 8);
  bytes.writeUInt32LE(16, 16);
  bytes.writeUInt16LE(1, 20);
  bytes.writeUInt16LE(1, 22);
  bytes.writeUInt32LE(rateHz, 24);
  bytes.writeUInt32LE(rateHz, 28);
  bytes.writeUInt16LE(1, 32);
  bytes.writeUInt16LE(8, 34);
  bytes.write('data', 36);
  bytes.writeUInt32LE(frames, 40);
  for (let frame = 0; frame < frames; frame++) bytes[44 + frame] = 128 + Math.round(127 * sample(frame));
  return bytes;
}

const give = (page: Page, name: string, buffer: Buffer) =>
  page.locator('#cue-file').setInputFiles({ name, mimeType: 'audio/wav', buffer });

describe('in its bars', () => {
  it('says what is missing without a tempo, sets one on request, and then plays bar by bar on Space', async () => {
    const { page, complaints, close } = await opened('');
    expect(await textOf(page, '#place-line')).toBe('Set a tempo to hear takes in their bars.');
    expect(await page.locator('#place-chart').isVisible()).toBe(false);
    await page.getByRole('button', { name: 'Set 120, 4/4' }).click();
    expect((await chips(page)).join()).toMatch(/120.*4\/4/);
    await page.locator('[role="option"]').nth(1).click();
    await heard(page);
    await page.locator('#place-chart').waitFor();
    await reaches(page, 1);
    await page.keyboard.press('Space');
    await page.waitForFunction(() => document.getElementById('play')?.textContent === 'Play');
    await page.keyboard.press('Space');
    await reaches(page, 2);
    expect(await textOf(page, '#place-line')).toMatch(/lands on bar 2\.$/);
    expect(complaints).toEqual([]);
    await close();
  });

  it('plays plainly again with the pane shut or the switch off; both stop what runs in its bars', async () => {
    const { page, close } = await opened('120 bpm, 4/4');
    await page.locator('[role="option"]').nth(1).click();
    await reaches(page, 1);
    await page.keyboard.press('m');
    await page.waitForFunction(() => document.getElementById('play')?.textContent === 'Play');
    await page.keyboard.press('Space');
    await heard(page);
    await page.keyboard.press('q');
    await page.locator('#place-on').click();
    await page.waitForFunction(() => document.getElementById('place-on')?.getAttribute('aria-pressed') === 'false');
    await page.locator('#results').focus();
    await page.keyboard.press('Enter');
    await heard(page);
    // In plain playing the chart stands still.
    const before = await place(page);
    await page.waitForFunction(() => Number(document.getElementById('stage')?.getAttribute('aria-valuenow')) > 0.3);
    expect(await place(page)).toBe(before);
    await close();
  });

  it('follows the tempo bar, the count-in and the frame rate in what it says of the clip', async () => {
    const { page, close } = await opened('120 bpm, 4/4');
    // The master's climax of this recipe (a hit) lies within its first tenth of a second.
    await page.locator('[role="option"]').nth(3).click();
    await page.locator('#place-facts dt').first().waitFor();
    expect(await fact(page, 'Clip starts')).toMatch(/^1:4\.|^2:1$/);
    expect(await fact(page, 'Timecode at 25')).toMatch(/^00:00:0[12]:\d\d$/);
    await page.locator('#accent-bar').fill('9');
    await page.locator('#accent-bar').press('Enter');
    // Bar 9 at 120 is 16 s after bar 1.
    await page.waitForFunction(() => /bar 9\.$/.test(document.getElementById('place-line')?.textContent ?? ''));
    expect(await fact(page, 'Timecode at 25')).toMatch(/^00:00:1[56]:\d\d$/);
    await page.locator('#cue-bar-one').fill('01:00:00:00');
    await page.locator('#cue-bar-one').press('Enter');
    await page.waitForFunction(() => /01:00:1/.test(document.getElementById('place-facts')?.textContent ?? ''));
    await page.locator('#cue-rate').selectOption('29.97df');
    await page.waitForFunction(() => /01:00:1\d;\d\d/.test(document.getElementById('place-facts')?.textContent ?? ''));
    await page.locator('#cue-bar-one').fill('soon');
    await page.locator('#cue-bar-one').press('Enter');
    expect(await page.locator('#cue-bar-one').getAttribute('aria-invalid')).toBe('true');
    expect(await textOf(page, '#cue-says')).toMatch(/^Write seconds, as 12\.48, or a timecode/);
    await close();
  });

  it('is pointed into: by mouse and by arrow keys it plays from there', async () => {
    // Bars of 12 s: what is reached within a few seconds was pointed at.
    const { page, close } = await opened('20 bpm, 4/4');
    await page.locator('[role="option"]').nth(3).click();
    const chart = page.locator('#place-chart');
    await chart.waitFor();
    await heard(page);
    const box = await chart.boundingBox();
    await chart.click({ position: { x: (box?.width ?? 0) - 60, y: 40 } });
    await reaches(page, 2, 6000);
    await chart.focus();
    await page.keyboard.press('Home');
    await page.waitForFunction(() =>
      /^bar [01] /.test(document.getElementById('place-chart')?.getAttribute('aria-valuetext') ?? ''),
    );
    await close();
  });
});

describe('the other take', () => {
  it('is the one before: x goes there and back, says so, and the bars go on', async () => {
    const { page, close } = await opened('120 bpm, 4/4, accent on bar 4');
    await page.keyboard.press('Escape');
    await page.locator('[role="option"]').nth(4).click();
    const first = await textOf(page, '#bench-name');
    await page.keyboard.press('x');
    expect(await said(page)).toMatch(/^No other take yet/);
    await page.keyboard.press('ArrowDown');
    const second = await textOf(page, '#bench-name');
    await reaches(page, 2);
    await page.keyboard.press('x');
    await page.waitForFunction((name) => document.getElementById('bench-name')?.textContent === name, first);
    expect(await said(page)).toContain(first);
    // It goes on from bar 2, and so never shows bar 1 again.
    expect(await place(page)).toMatch(/^bar [2-9]/);
    await reaches(page, 3);
    await page.waitForFunction(
      () => document.querySelector('#place-takes li:first-child .heard')?.textContent === 'you hear this',
    );
    expect(await page.locator('#place-takes .name').allTextContents()).toEqual([first, second]);
    await page.keyboard.press('x');
    await page.waitForFunction((name) => document.getElementById('bench-name')?.textContent === name, second);
    // A stays A.
    await page.waitForFunction(() => document.querySelector('#place-takes li:last-child .heard') !== null);
    expect(await page.locator('#place-takes .name').allTextContents()).toEqual([first, second]);
    await close();
  });

  it('is the one kept with X, whatever comes in between; by itself it goes on at the same place', async () => {
    const { page, close } = await opened('');
    await page.locator('[role="option"]').nth(0).click();
    const kept = await textOf(page, '#bench-name');
    await page.keyboard.press('X');
    expect(await said(page)).toContain('is kept as the other take');
    for (let step = 0; step < 3; step++) await page.keyboard.press('ArrowDown');
    await page.locator('[role="option"]').nth(8).click();
    await page.waitForFunction(() => Number(document.getElementById('stage')?.getAttribute('aria-valuenow')) > 0.8);
    await page.keyboard.press('x');
    await page.waitForFunction((name) => document.getElementById('bench-name')?.textContent === name, kept);
    await page.waitForFunction(() => Number(document.getElementById('stage')?.getAttribute('aria-valuenow')) > 0.8);
    expect(await page.locator('#play').textContent()).toBe('Stop');
    await close();
  });
});

describe('a cue of one’s own', () => {
  it('is read, named, drawn and heard, stays out of storage and network, and is gone when removed', async () => {
    const { page, complaints, requests, close } = await opened('120 bpm, 4/4');
    const before = await page.evaluate(() => JSON.stringify(localStorage) + JSON.stringify(sessionStorage));
    const asked = requests.length;
    await give(
      page,
      'Reel 2 — <b>tension</b>.wav',
      wav(20, 8000, (frame) => 0.5 * Math.sin(frame / 5)),
    );
    await page.locator('#cue-held').waitFor();
    expect(await textOf(page, '#cue-name')).toBe('Reel 2 — <b>tension</b>.wav');
    expect(await textOf(page, '#cue-length')).toBe('20.0 s');
    expect(await page.evaluate(() => JSON.stringify(localStorage) + JSON.stringify(sessionStorage))).toBe(before);
    expect(requests.slice(asked).filter((url) => !url.startsWith('blob:'))).toEqual([]);
    await page.locator('[role="option"]').nth(3).click();
    await heard(page);
    // Without the click, and where the take has long ended: what is heard is the cue.
    await page.keyboard.press('k');
    await page.locator('#place-chart[aria-valuetext^="bar 2 beat 3"]').waitFor();
    await heard(page);
    await page.locator('#cue-mute').click();
    await page.locator('#cue-remove').click();
    await page.locator('#cue-held').waitFor({ state: 'hidden' });
    expect(complaints).toEqual([]);
    await close();
  });

  it('is refused in words: no audio, and longer than half an hour', async () => {
    const { page, close } = await opened('120 bpm');
    await give(page, 'letter.wav', Buffer.from('This is no sound.'));
    await page.waitForFunction(() =>
      /cannot read letter\.wav as audio/.test(document.getElementById('cue-says')?.textContent ?? ''),
    );
    await give(
      page,
      'whole reel.wav',
      wav(31 * 60, 3000, () => 0),
    );
    await page.waitForFunction(() =>
      /whole reel\.wav is 31 min 00 s long\. A cue may last 30 min 00 s/.test(
        document.getElementById('cue-says')?.textContent ?? '',
      ),
    );
    expect(await page.locator('#cue-held').isVisible()).toBe(false);
    await close();
  });
});

describe('the room', () => {
  it('goes on and off by key, and its length and amount are said', async () => {
    const { page, complaints, close } = await opened('120 bpm, 4/4');
    await page.locator('[role="option"]').nth(3).click();
    await heard(page);
    await page.keyboard.press('r');
    await page.locator('#room-on[aria-pressed="true"]').waitFor();
    expect(await said(page)).toBe('Room on.');
    await page.locator('#room-seconds').fill('4.5');
    await page.locator('#room-seconds-value', { hasText: /^4\.5 s$/ }).waitFor();
    await page.locator('#room-amount').fill('80');
    await page.locator('#room-amount-value', { hasText: /^80/ }).waitFor();
    await page.locator('#results').focus();
    await page.keyboard.press('Enter');
    await heard(page);
    await page.keyboard.press('r');
    await page.locator('#room-on[aria-pressed="false"]').waitFor();
    expect(complaints).toEqual([]);
    await close();
  });
});

it('fits a narrow screen, with everything in reach', async () => {
  const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html#q=97+bpm%2C+7%2F8`, {
    viewport: { width: 390, height: 844 },
  });
  await ready(page);
  await page.locator('[role="option"]').nth(1).click();
  await page.locator('#tab-cue').click();
  await page.keyboard.press('x');
  await page.locator('#place-chart').waitFor();
  for (const id of ['place-on', 'cue-file', 'cue-bar-one', 'room-seconds'])
    await page.locator(`#${id}`).scrollIntoViewIfNeeded();
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
  await close();
});
