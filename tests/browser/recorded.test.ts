/**
 * Sing it or drop it: a sound that was dropped, chosen or sung is measured in the page and finds its own take. The shelf of
 * the small site holds the very recordings that are rendered here, under other names.
 */
import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, inject, it } from 'vitest';
import { bytes, chunk, lena, riff, scratchFolder, waveFormat } from '../archive/bytes.ts';
import { launch } from './chromium.ts';
import { floatWav, RECIPES, render, SAMPLE_RATE_HZ } from './fixture-sounds.ts';
import { fileAddress, open, ready, serve, textOf } from './page.ts';

const sites = inject('sites');
const address = `${fileAddress(sites.small)}index.html#pane=shape`;

/** What the first row says of length and gesture: each recipe has a length of its own. */
const firstFigure = async (page: Page): Promise<string> =>
  (await page.locator('[role="option"]').first().locator('.figure').textContent()) ?? '';

async function dropOn(page: Page, selector: string, name: string, content: Uint8Array): Promise<void> {
  const transfer = await page.evaluateHandle(
    ([fileName, text]) => {
      const binary = atob(text);
      const file = new File([Uint8Array.from(binary, (letter) => letter.charCodeAt(0))], fileName);
      const data = new DataTransfer();
      data.items.add(file);
      return data;
    },
    [name, Buffer.from(content).toString('base64')] as const,
  );
  await page.dispatchEvent(selector, 'dragover', { dataTransfer: transfer });
  await page.dispatchEvent(selector, 'drop', { dataTransfer: transfer });
}

const choose = (page: Page, name: string, content: Uint8Array): Promise<void> =>
  page.locator('#sound-file').setInputFiles({ name, mimeType: '', buffer: Buffer.from(content) });

const says = (page: Page): Promise<string> => textOf(page, '.recorded-says');

async function violations(page: Page): Promise<string[]> {
  await page.evaluate(await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8'));
  return page.evaluate(async () => {
    const { axe } = window as unknown as {
      axe: {
        run: (
          where: string,
          how: { preload: boolean },
        ) => Promise<{ violations: { help: string; nodes: { html: string }[] }[] }>;
      };
    };
    // It would fetch the style sheets, which the page rightly forbids.
    const result = await axe.run('#pane-shape', { preload: false });
    return result.violations.map(({ help, nodes }) => `${help}: ${nodes[0].html}`);
  });
}

describe('a file', () => {
  let browser: Browser;
  beforeAll(async () => {
    browser = await launch();
  });
  afterAll(() => browser.close());

  it('dropped anywhere finds its own take first, by shape, by colour and by both, and nothing but the site is read', async () => {
    const { page, complaints, requests, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await dropOn(page, '#list', 'struck.wav', floatWav(5));
    await page.locator('#pane-shape .recorded-name').waitFor();
    expect(await textOf(page, '.recorded-name bdi')).toBe('struck.wav');
    expect(await textOf(page, '.recorded-facts')).toMatch(/^2\.6 s · hit/);
    expect(page.url()).toContain('index.html');
    for (const way of ['shape', 'colour', 'both']) {
      await page.getByRole('button', { name: `by ${way}`, exact: true }).click();
      expect(await page.getByRole('button', { name: `by ${way}`, exact: true }).getAttribute('aria-pressed')).toBe(
        'true',
      );
      await page.waitForFunction(
        (words) => document.getElementById('chips')?.textContent?.includes(words),
        `struck.wav, by ${way}`,
      );
      expect(await firstFigure(page), way).toMatch(/2\.6 s/);
    }
    const outside = requests.filter((url) => !url.startsWith(fileAddress(sites.small)) && !url.startsWith('blob:'));
    expect(outside).toEqual([]);
    expect(complaints).toEqual([]);
    await close();
  });

  it('dropped on the Cue pane belongs to that pane', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html#pane=cue`);
    await ready(page);
    await dropOn(page, '#cue-drop', 'cue.wav', floatWav(5));
    await page.getByText('cue.wav').first().waitFor();
    expect(await page.locator('#tab-cue').getAttribute('aria-selected')).toBe('true');
    expect(await page.locator('.recorded-name').count()).toBe(0);
    await close();
  });

  it('keeps its place among words and numbers, and goes when its chip is removed', async () => {
    const { page, close } = await open(browser, address);
    await ready(page);
    await choose(page, 'struck.wav', floatWav(5));
    await page.locator('.recorded-name').waitFor();
    await page.locator('#ask').fill('drone');
    await page.waitForFunction(() => /drone/.test(document.querySelector('[role="option"]')?.textContent ?? ''));
    await page.locator('#ask').fill('');
    await page.getByRole('button', { name: /^Remove like struck\.wav/ }).click();
    await page.locator('.recorded-name').waitFor({ state: 'detached' });
    expect(await page.locator('#chips').textContent()).toBe('');
    await close();
  });

  it.each(['lena.mp3', 'lena.opus'])('%s is decoded by the browser and measures as in the build', async (name) => {
    const { processFile } = await import('../../scripts/archive/process-file.ts');
    const { page, close } = await open(browser, address);
    await ready(page);
    await choose(page, name, await readFile(lena(name)));
    await page.locator('.recorded-name').waitFor();
    const [built] = (await processFile(lena(name))).takes;
    const facts = await textOf(page, '.recorded-facts');
    const [length, gesture] = [built.measurements.durationSeconds.toFixed(1), built.measurements.gesture];
    expect(facts).toMatch(new RegExp(`^${length} s · ${gesture} ·`));
    expect(facts).toMatch(new RegExp(`brightness ${Math.round(built.measurements.centroidHz ?? 0)} Hz`));
    await close();
  });

  it.each([
    ['notes.wav', bytes('take 3 was the good one, see the log'), /^notes\.wav: This is a text file\. Choose a sound/],
    [
      'cut.mp3',
      bytes([0xff, 0xfb, 0x90, 0x64], new Array(40).fill(0)),
      /^cut\.mp3: This is an MP3 file that this browser cannot decode; it may be damaged\. Export/,
    ],
    ['empty.wav', bytes(), /^empty\.wav: This is an empty file/],
  ])('%s gets a sentence and leaves the list alone', async (name, content, sentence) => {
    const { page, complaints, close } = await open(browser, address);
    await ready(page);
    const before = await firstFigure(page);
    await choose(page, name, content);
    await page.waitForFunction(() => document.querySelector('.recorded-says')?.textContent !== '');
    expect(await says(page)).toMatch(sentence);
    expect(await firstFigure(page)).toBe(before);
    expect(complaints).toEqual([]);
    await close();
  });

  it('gives its curve to be drawn on and to the link; rubbed out, its colour is left where that was asked too', async () => {
    const { page, close } = await open(browser, address);
    await ready(page);
    await choose(page, 'struck.wav', floatWav(5));
    await page.locator('.recorded-name').waitFor();
    const chip = (words: string) => page.locator('#chips .chip').getByText(words, { exact: true }).waitFor();
    await page.waitForFunction(() => /shape=[0-9a-z]{32}/.test(window.location.hash));
    const other = await open(browser, page.url());
    await ready(other.page);
    expect(await firstFigure(other.page)).toMatch(/2\.6 s/);
    expect(await other.page.locator('#chips').textContent()).toContain('drawn shape');
    await other.close();
    await page.locator('#shape-curve').focus();
    await page.keyboard.press('End');
    await page.keyboard.press('ArrowUp');
    await chip('shape begun from struck.wav');
    await page.getByRole('button', { name: 'by both', exact: true }).click();
    await chip('like struck.wav, by both');
    await page.locator('#shape-clear').click();
    await chip('like struck.wav, by colour');
    expect(await page.getByRole('button', { name: 'by colour', exact: true }).getAttribute('aria-pressed')).toBe(
      'true',
    );
    await close();
  });

  it('longer than a minute is measured for its first minute, and can be given up', async () => {
    const { page, close } = await open(browser, address);
    await ready(page);
    const samples = new Uint8Array(2 * 8000 * 75).map((_, at) => (at * 37) % 251);
    await choose(page, 'long.wav', riff([waveFormat({ rate: 8000 }), chunk('data', samples)]));
    await page.locator('.recorded-state').getByRole('button', { name: 'Cancel' }).click();
    expect(await page.locator('.recorded-name').count()).toBe(0);
    await choose(page, 'long.wav', riff([waveFormat({ rate: 8000 }), chunk('data', samples)]));
    await page.locator('.recorded-name').waitFor();
    expect(await says(page)).toBe('The first minute of 75.0 s was measured.');
    await close();
  });
});

describe('a voice', () => {
  it('has a key of its own: no letter does two things', async () => {
    const browser = await launch();
    const { page, close } = await open(browser, address);
    await ready(page);
    const letters = (await page.locator('#key-list kbd').allTextContents()).filter((key) => /^[a-zA-Z]$/.test(key));
    expect(letters).toContain('b');
    expect(letters.filter((letter, at) => letters.indexOf(letter) !== at)).toEqual([]);
    await close();
    await browser.close();
  });

  it('sung into the microphone finds its own take by both; one key begins and ends', async () => {
    const scratch = scratchFolder();
    const samples = render(RECIPES[2], 3);
    const pause = new Float32Array(SAMPLE_RATE_HZ / 2);
    const whole = [...pause, ...samples, ...pause].map((sample) => Math.round(sample * 32_767));
    const wav = scratch.write(
      'voice.wav',
      riff([waveFormat({ rate: SAMPLE_RATE_HZ }), chunk('data', new Uint8Array(Int16Array.from(whole).buffer))]),
    );
    const browser = await launch(
      '--use-fake-device-for-media-stream',
      '--use-fake-ui-for-media-stream',
      `--use-file-for-fake-audio-capture=${wav}%noloop`,
    );
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.locator('#results').focus();
    await page.keyboard.press('b');
    await page.locator('.sing[aria-pressed="true"]').waitFor();
    expect(await textOf(page, '.recorded-state')).toMatch(/^Listening/);
    expect(await violations(page)).toEqual([]);
    // Until the sound has gone: the countdown says how long it has listened.
    await page.getByText('5 s left', { exact: true }).waitFor();
    await page.keyboard.press('b');
    await page.locator('.recorded-name').waitFor();
    expect(await textOf(page, '.recorded-facts')).toMatch(/^(2\.9|3\.[012]) s · riser/);
    expect(await violations(page)).toEqual([]);
    await page.getByRole('button', { name: 'by both', exact: true }).click();
    await page.waitForFunction(() => /by both/.test(document.getElementById('chips')?.textContent ?? ''));
    expect(await firstFigure(page)).toMatch(/3\.1 s/);
    expect(complaints).toEqual([]);
    await close();
    await browser.close();
    scratch.remove();
  });

  it('a microphone that is refused is a sentence beside the place to drop a file', async () => {
    const browser = await launch('--use-fake-device-for-media-stream');
    const { page, complaints, close } = await open(browser, address);
    await ready(page);
    await page.getByRole('button', { name: /^Sing it/ }).click();
    await page.waitForFunction(() => /refused/.test(document.querySelector('.recorded-says')?.textContent ?? ''));
    expect(await says(page)).toBe(
      'The microphone was refused. Allow it beside the browser’s address bar, or drop a file here.',
    );
    expect(await page.locator('.drop-zone').isVisible()).toBe(true);
    expect(await page.locator('.sing').getAttribute('aria-pressed')).toBe('false');
    expect(complaints).toEqual([]);
    await close();
    await browser.close();
  });

  it('over an insecure address there is no microphone, and the page says so', async () => {
    const { address: loopback, server } = await serve(sites.small);
    // A host name that is not loopback makes the same server an insecure origin.
    const browser = await launch('--host-resolver-rules=MAP shelf.test 127.0.0.1');
    const { page, close } = await open(browser, `${loopback.replace('127.0.0.1', 'shelf.test')}index.html#pane=shape`);
    await ready(page);
    await page.getByRole('button', { name: /^Sing it/ }).click();
    await page.waitForFunction(() => /insecure/.test(document.querySelector('.recorded-says')?.textContent ?? ''));
    await close();
    await browser.close();
    server.close();
  });
});
