/** The Find page as a person uses it, without a mouse and with one, from file:// and over http. */
import type { Browser } from 'playwright';
import { afterAll, beforeAll, describe, expect, inject, it } from 'vitest';
import { SoundMeasurer } from '../../shared/measure/measure.ts';
import { launch } from './chromium.ts';
import { RECIPES, render, SAMPLE_RATE_HZ } from './fixture-sounds.ts';
import { chips, fileAddress, heard, open, ready, said, serve, textOf } from './page.ts';

const sites = inject('sites');
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

describe.each(['file', 'http'])('opened over %s', (kind) => {
  it('finds by three letters and plays on arrow down, with no word in the console and nothing asked of another host', async () => {
    const served = kind === 'http' ? await serve(sites.small) : null;
    const address = served?.address ?? fileAddress(sites.small);
    const { page, complaints, requests, close } = await open(browser, `${address}index.html`);
    await ready(page);
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('ask');
    await page.keyboard.type('met');
    await page.waitForFunction(() => /^\d+ of 60 sounds/.test(document.getElementById('count')?.textContent ?? ''));
    await page.keyboard.press('ArrowDown');
    await heard(page);
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('results');
    expect(complaints).toEqual([]);
    expect(requests.filter((url) => !url.startsWith(address) && !url.startsWith('data:'))).toEqual([]);
    await close();
    served?.server.close();
  });
});

describe('the question', () => {
  it('makes chips of what it understood, takes them back with Backspace, and lets them be edited as text', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.type('metal, 2 bars at 84, accent at end, dark,');
    expect(await chips(page)).toEqual(['metal', '2 bars at 84', 'accent at end', 'dark']);
    // 2 bars of 4 beats at 84 beats a minute: 8 * 60 / 84 = 5.714 s.
    expect(await page.locator('.chip .detail').first().textContent()).toBe('5.71 s');
    expect(await page.locator('#tempo').inputValue()).toBe('84');
    expect(await page.locator('#accent-bar').inputValue()).toBe('3');
    await page.keyboard.press('Backspace');
    expect(await chips(page)).toEqual(['metal', '2 bars at 84', 'accent at end']);
    await page.getByRole('button', { name: /^Edit 2 bars at 84/ }).click();
    expect(await page.locator('#ask').inputValue()).toBe('2 bars at 84');
    await page.keyboard.type('3 bars at 84');
    await page.keyboard.press('Enter');
    expect(await chips(page)).toEqual(['metal', 'accent at end', '3 bars at 84']);
    await page.getByRole('button', { name: 'Remove accent at end' }).click();
    expect(await chips(page)).toEqual(['metal', '3 bars at 84']);
    await close();
  });

  it('does not break a length off while it may still go on, and takes it once another word follows', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.type('2 bars at 84');
    expect(await page.locator('#ask').inputValue()).toBe('2 bars at 84');
    await page.keyboard.type(' metal plate');
    expect(await chips(page)).toEqual(['2 bars at 84']);
    expect(await page.locator('#ask').inputValue()).toBe('metal plate');
    await close();
  });

  it('is written by the controls: tempo, metre, accent, gesture, colour, length, tap', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html#q=2+bars+at+84`);
    await ready(page);
    await page.locator('#tempo').fill('90');
    await page.locator('#tempo').press('Enter');
    await page.waitForFunction(() => document.querySelector('.chip bdi')?.textContent === '2 bars at 90');
    await page.locator('#metre').selectOption('3/4');
    expect(await page.locator('#metre').inputValue()).toBe('3/4');
    // 2 bars of 3 beats at 90: 6 * 60 / 90 = 4 s.
    expect(await page.locator('.chip .detail').first().textContent()).toBe('4 s');
    await page.locator('#accent-bar').fill('2');
    await page.locator('#accent-bar').press('Enter');
    expect((await chips(page)).some((chip) => /accent (at|on) bar 2/.test(chip))).toBe(true);
    await page.locator('#show-controls').click();
    await page.getByRole('button', { name: 'riser', exact: true }).click();
    await page.getByRole('button', { name: 'dark', exact: true }).click();
    await page.getByRole('button', { name: 'bright', exact: true }).click();
    const now = await chips(page);
    expect(now).toContain('riser');
    expect(now).toContain('bright');
    expect(now).not.toContain('dark');
    expect(await page.getByRole('button', { name: 'bright', exact: true }).getAttribute('aria-pressed')).toBe('true');
    await page.locator('#tap').click();
    await page.locator('#tap').click();
    await page.waitForFunction(() => Number((document.getElementById('tempo') as HTMLInputElement).value) !== 90);
    await close();
  });

  it('says which piece leaves most out when nothing is found, and takes it away on request', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html#q=metal%2C+under+0.01+s`);
    const offer = page.getByRole('button', { name: /^Leave out under 0.01 s/ });
    await offer.click();
    await ready(page);
    expect((await page.locator('#ask').inputValue()) + (await chips(page)).join()).toBe('metal');
    await close();
  });
});

describe('few results', () => {
  it('offer to leave out what keeps others away, and say how many that gives', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.type('metal, over 60s,');
    const offer = page.locator('#fewer button', { hasText: 'over 60' });
    const promised = Number(/: (\d+) sound/.exec((await offer.textContent()) ?? '')?.[1]);
    expect(promised).toBeGreaterThan(await page.locator('.row').count());
    await offer.click();
    await page.waitForFunction(
      (count) => document.getElementById('count')?.textContent?.startsWith(`${count} of`),
      promised,
    );
    expect(await page.locator('#fewer').isVisible()).toBe(false);
    await close();
  });
});

describe('the list', () => {
  it('names every option, keeps the active one in the page, and plays as one moves', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.press('ArrowDown');
    for (const key of ['ArrowDown', 'ArrowDown', 'PageDown', 'End', 'Home', 'ArrowDown']) {
      const before = await textOf(page, '#bench-name');
      await page.keyboard.press(key);
      await page.waitForFunction((name) => document.getElementById('bench-name')?.textContent !== name, before);
      const active = await page.evaluate(() => {
        const list = document.getElementById('results');
        const option = document.getElementById(list?.getAttribute('aria-activedescendant') ?? '');
        const box = option?.getBoundingClientRect();
        const view = document.getElementById('list-scroll')?.getBoundingClientRect();
        return {
          label: (option?.querySelector('.words')?.textContent ?? '').replace(/\s+/g, ' '),
          selected: option?.getAttribute('aria-selected'),
          size: option?.getAttribute('aria-setsize'),
          inView: box !== undefined && view !== undefined && box.top >= view.top - 1 && box.bottom <= view.bottom + 1,
        };
      });
      expect(active.selected).toBe('true');
      expect(active.size).toBe('60');
      expect(active.inView).toBe(true);
      expect(active.label).toMatch(/^.+, [\d.]+ m?s(, |$)/s);
      expect(active.label.startsWith((await textOf(page, '#bench-name'))?.replace(/\s+/g, ' ') ?? '?')).toBe(true);
    }
    await heard(page);
    await page.keyboard.press('Escape');
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('ask');
    await close();
  });

  it('keeps single letters for writing in the box, and obeys the setting that switches them off', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.type('slm');
    expect(await page.locator('#ask').inputValue()).toBe('slm');
    await page.locator('#ask').fill('');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('l');
    expect(await page.locator('#loop').getAttribute('aria-pressed')).toBe('true');
    await page.keyboard.press('?');
    await page.getByLabel(/Single letters/).uncheck();
    await page.keyboard.press('Escape');
    await page.locator('#results').focus();
    await page.keyboard.press('l');
    expect(await page.locator('#loop').getAttribute('aria-pressed')).toBe('true');
    await close();
  });

  it('shows hostile archive text as text', async () => {
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}index.html#q=script`);
    await ready(page);
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('i');
    expect(await textOf(page, '#pane-sound h2')).toContain('<script>');
    expect(await page.evaluate(() => Reflect.has(window, 'hacked'))).toBe(false);
    expect(complaints).toEqual([]);
    await close();
  });
});

describe('the map', () => {
  it('takes the sound under the pointer in hand, goes on by arrows, and keeps its view in the link', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.press('ArrowDown');
    const first = await textOf(page, '#bench-name');
    await page.locator('#map').focus();
    for (const key of ['ArrowRight', 'ArrowLeft', 'ArrowUp', 'ArrowDown']) {
      const before = page.url();
      await page.keyboard.press(key);
      await page.waitForFunction((url) => window.location.href !== url, before);
    }
    await page.keyboard.press('+');
    await page.waitForFunction(() => window.location.hash.includes('map='));
    // After the view was moved so that a chosen sound stands in the middle, a click there must choose that sound.
    const link = new URLSearchParams(new URL(page.url()).hash.slice(1));
    const chosen = link.get('sound');
    await page.keyboard.press('0');
    const box = await page.locator('#map').boundingBox();
    if (!box || !chosen) throw new Error('no map or no sound');
    for (let step = 0; step < 40; step++) {
      await page.mouse.click(
        box.x + 40 + ((step * 97) % (box.width - 80)),
        box.y + 60 + ((step * 61) % (box.height - 130)),
      );
      if ((await textOf(page, '#bench-name')) !== first) break;
    }
    expect(await textOf(page, '#bench-name')).not.toBe(first);
    await heard(page);
    await close();
  });
});

describe('playing', () => {
  it('leaves a steady sound at the level set, whatever its preview was raised by', async () => {
    const recipe = RECIPES[RECIPES.length - 1];
    const audio = render(recipe, RECIPES.length);
    const measurer = new SoundMeasurer({
      sampleRateHz: SAMPLE_RATE_HZ,
      channels: 1,
      bitDepth: 24,
      channelMask: null,
      totalFrames: audio.length,
    });
    measurer.push([audio]);
    const loudness = measurer.finish().measurements.integratedLufs ?? Number.NaN;
    // The recording's own root mean square, moved by what brings its loudness to the −35 LUFS a visit starts at.
    const recorded = 10 * Math.log10(audio.reduce((sum, sample) => sum + sample * sample, 0) / audio.length);
    const expected = recorded + (-35 - loudness);
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html#q=over+60s`);
    await ready(page);
    await page.keyboard.press('ArrowDown');
    await page.waitForFunction(() => Number(document.getElementById('stage')?.getAttribute('aria-valuenow')) > 1);
    const level = Number(await page.locator('#meter').getAttribute('aria-valuenow'));
    // The meter looks at 43 ms and is written in whole decibels.
    expect(Math.abs(level - expected)).toBeLessThan(2);
    await close();
  });

  it('says so in words when a preview is missing or damaged, and goes on with the next', async () => {
    const { folder, missingId, damagedId } = sites.damaged;
    const { page, close } = await open(browser, `${fileAddress(folder)}index.html#sound=${missingId}`);
    await ready(page);
    await page.locator('#play').click();
    await page.waitForFunction(() => /is missing or damaged/.test(document.getElementById('says')?.textContent ?? ''));
    await page.goto(`${fileAddress(folder)}index.html#sound=${damagedId}`);
    await page.reload();
    await ready(page);
    await page.locator('#play').click();
    await page.waitForFunction(() => /is damaged/.test(document.getElementById('says')?.textContent ?? ''));
    expect(await textOf(page, '#play')).toBe('Play');
    await page.keyboard.press('ArrowDown');
    await heard(page);
    await close();
  });

  it('starts low, tells how to raise, speeds up and shows the new length', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.press('ArrowDown');
    await heard(page);
    expect(await said(page)).toContain('12 dB low');
    await page.getByRole('button', { name: /^Raise to/ }).click();
    expect(await textOf(page, '#level-value')).toBe('−23 LUFS');
    const length = Number.parseFloat(await textOf(page, '#bench-facts'));
    await page.locator('#results').focus();
    await page.keyboard.press('}');
    expect(await textOf(page, '#speed-value')).toBe('+12 st');
    // An octave up is twice the speed: half the length.
    expect(Number.parseFloat(await textOf(page, '#bench-facts'))).toBeCloseTo(length / 2, 0);
    await page.keyboard.press('\\');
    expect(await textOf(page, '#speed-value')).toBe('0 st');
    await close();
  });

  it('turns a loop over: the place goes back to the beginning and playing goes on', async () => {
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}index.html#q=under+1+s`);
    await ready(page);
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('l');
    await page.keyboard.press('Enter');
    await heard(page);
    const turns = await page.evaluate(
      () =>
        new Promise<number>((resolve) => {
          let before = 0;
          let backs = 0;
          const look = () => {
            const now = Number(document.getElementById('stage')?.getAttribute('aria-valuenow'));
            if (now < before) backs++;
            before = now;
            if (backs < 3) requestAnimationFrame(look);
            else resolve(backs);
          };
          look();
        }),
    );
    expect(turns).toBe(3);
    expect(await textOf(page, '#play')).toBe('Stop');
    await page.keyboard.press('l');
    await page.waitForFunction(() => document.getElementById('play')?.textContent === 'Play');
    expect(complaints).toEqual([]);
    await close();
  });

  it('plays across the parts of a long sound', async () => {
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}index.html#q=over+60s`);
    await ready(page);
    await page.keyboard.press('ArrowDown');
    await heard(page);
    const box = await page.locator('#stage').boundingBox();
    if (!box) throw new Error('no stage');
    const durationSeconds = Number(await page.locator('#stage').getAttribute('aria-valuemax'));
    // Just before the second part begins at 30 s; the stage spans 6 % more than the sound, from 14 px on.
    await page.mouse.click(box.x + 14 + ((box.width - 24) * 29.4) / (durationSeconds * 1.06), box.y + 60);
    await page.waitForFunction(() => Number(document.getElementById('stage')?.getAttribute('aria-valuenow')) > 30.4);
    expect(await textOf(page, '#play')).toBe('Stop');
    await heard(page);
    expect(complaints).toEqual([]);
    await close();
  });
});

describe('links', () => {
  it('carry question, sound, speed and pane; back undoes', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.type('metal, riser,');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('[');
    await page.keyboard.press('n');
    await page.waitForFunction(() => /pane=alike/.test(window.location.hash) && /speed=-1/.test(window.location.hash));
    const name = await textOf(page, '#bench-name');
    const copy = await open(browser, page.url());
    await copy.page.locator('.near').first().waitFor();
    expect(await textOf(copy.page, '#bench-name')).toBe(name);
    expect(await chips(copy.page)).toEqual(['metal', 'riser']);
    expect(await textOf(copy.page, '#speed-value')).toBe('−1 st');
    await copy.close();
    await page.keyboard.press('Escape');
    await page.keyboard.type('dark,');
    await page.waitForFunction(() => /dark/.test(window.location.hash));
    await page.goBack();
    await page.waitForFunction(() => !/dark/.test(window.location.hash));
    expect(await chips(page)).not.toContain('dark');
    await close();
  });

  it('leave the speed to the question where it asks at one', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html#q=dark%2C+at+-12+st`);
    await ready(page);
    expect(await textOf(page, '#speed-value')).toBe('−12 st');
    await close();
  });

  it('say so when they name a sound that is not here', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html#sound=nosuchsound12345`);
    await ready(page);
    expect(await said(page)).toContain('not on this shelf (nosuchsound12345)');
    await close();
  });
});

describe('light', () => {
  it('follows the system, and the person before the system; the choice stays', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`, { colorScheme: 'dark' });
    await ready(page);
    const paper = () => page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    const night = await paper();
    await page.locator('#theme').click();
    expect(await textOf(page, '#theme')).toContain('Day');
    const day = await paper();
    expect(day).not.toBe(night);
    await page.reload();
    await ready(page);
    expect(await paper()).toBe(day);
    await close();
  });
});

describe('small screens', () => {
  it.each([320, 390])(
    'at %i px nothing runs out sideways; list, map, sound and selects are in reach; the sheet opens',
    async (width) => {
      const { page, close } = await open(
        browser,
        `${fileAddress(sites.small)}index.html#q=metal%2C+2+bars+at+84%2C+accent+at+end`,
        { viewport: { width, height: 800 }, hasTouch: true },
      );
      await ready(page);
      const wide = () =>
        page.evaluate(() => [
          document.documentElement.scrollWidth,
          ...[...document.querySelectorAll('header, section, .tabs')]
            .filter((element) => element.clientWidth > 0)
            .map((element) => Math.ceil(element.getBoundingClientRect().right)),
        ]);
      expect(Math.max(...(await wide()))).toBeLessThanOrEqual(width);
      await page.locator('[role="option"]').nth(1).tap();
      await heard(page);
      await page.locator('#sheet').tap();
      expect(await page.locator('#speed').isVisible()).toBe(true);
      expect(await page.locator('#select').isVisible()).toBe(true);
      for (const pane of ['map', 'sound', 'alike', 'selects']) {
        await page.locator(`#tab-${pane}`).tap();
        expect(await page.locator(`#pane-${pane}`).isVisible()).toBe(true);
        expect(Math.max(...(await wide()))).toBeLessThanOrEqual(width);
      }
      await close();
    },
  );
});

describe('without sounds', () => {
  it('an empty archive is said, and leads to the report', async () => {
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.empty)}index.html`);
    await page.getByText('The shelf is empty.').waitFor();
    expect(complaints).toEqual([]);
    await page.getByRole('link', { name: 'Open the report' }).click();
    await page.getByText('The archive is empty').waitFor();
    await close();
  });

  it('missing data is said with what to do', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.bare)}index.html`);
    await page.getByText('data/shelf.js is missing.').waitFor();
    expect(await textOf(page, '#empty')).toContain('Copy the whole folder');
    await page.goto(`${fileAddress(sites.bare)}report.html`);
    await page.getByText('data/report.js is missing.').waitFor();
    await close();
  });
});

describe('the report', () => {
  it('lists what is wrong and leads to the place in the sound', async () => {
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}report.html`);
    await page.getByText('It begins with 44 zero bytes.').waitFor();
    expect(await page.getByText('Copy the file again from the recorder’s card.').isVisible()).toBe(true);
    await page
      .getByText('/media/drive/archive is not there; 1 file lay there on 2026-03-02. 1 sound from it')
      .waitFor();
    await page.locator('#faults').waitFor();
    await page.getByRole('link', { name: 'at 0.40 s' }).first().click();
    await ready(page);
    expect(Number(await page.locator('#stage').getAttribute('aria-valuenow'))).toBeCloseTo(0.4, 2);
    expect(await page.locator('#pane-sound').isVisible()).toBe(true);
    // The first of them lies in a folder that was not there.
    expect(await textOf(page, '#pane-sound')).toContain('Away: its folder was not there at the last build.');
    expect(await page.locator('.row[aria-selected="true"] .mark-away').textContent()).toBe('away');
    expect(await page.locator('.row .mark-away').count()).toBe(1);
    expect(complaints).toEqual([]);
    await close();
  });
});
