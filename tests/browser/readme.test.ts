/**
 * What README promises of the page, on the page: the demo site is built as README says, opened from file://, and every
 * sentence of its sections about the page is held against it. What the demo's sounds are comes from the demo's maker.
 */
import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { readFile, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ArchiveTruth } from '../../scripts/demo/truth.ts';
import { valueOfScript } from '../../scripts/publish/data-scripts.ts';
import { readSiteData } from '../../scripts/publish/site.ts';
import { Shelf } from '../../shared/shelf.ts';
import { project, temporaryFolder } from '../build/command.ts';
import { trueSounds } from '../query/brief-truth.ts';
import { BRIEFS } from '../query/briefs.ts';
import { placesInShelf, soundsMeant } from '../query/briefs-judged.ts';
import { launch } from './chromium.ts';
import { buildDemoSite, type MadeSound } from './demo-site.ts';
import { chips, fileAddress, heard, type Opened, open, ready, said, textOf } from './page.ts';

/** Sentences by the test that stands for them. */
const PROMISES = {
  build:
    'builds the page over a demo archive (about 150 synthesised sounds for an invented film) and prints the address to open.',
  ask: 'Type what you want: `metal swipe dark`, `under 2s`, `2 bars at 84 accent at end`, `around 110 Hz`, `drone not wet`.',
  chips: 'What was understood stands in the box as chips.',
  keys: 'Arrow keys move through the results and play them, `s` keeps one among the selects, which export as CSV, M3U8 and JSON.',
  list: '`?` lists every key.',
  shape:
    'Under `w` draw how loud the sound should be over time, sing it, or drop a sound file: the nearest takes come first.',
  speeds: '`v` lets every sound also answer at other speeds: a bell two octaves down is another bell.',
  alike: '`n` lists what sounds most like the take in hand.',
  cue: '`q` plays the take in its bars, its accent on the beat, against a click or your own cue, in a room if you like; `x` goes to another take and back.',
  pickUps: 'Where nothing fits the page says so, and `p` writes the wish on a list of what is still to be recorded.',
  link: 'The address in the browser carries the whole question, so a link brings a colleague to the same place.',
  night: 'By night: ![The page by night](src/pictures/night.png)',
  hearing:
    'Auditions are matched in loudness, start low and pass a limiter, but only you know what your headphones and loudspeakers do. Start low, take care with headphones, rest your ears. Where your workplace has rules on noise, they come first.',
  network:
    'Nothing. The build and the page make no network request; the page forbids itself any by a content security policy.',
  kept: 'What you mark is kept in the browser you mark it in, until you export it.',
} as const;

const readme = (await readFile(join(project, 'README.md'), 'utf8')).replace(/\s+/g, ' ');
const section = (heading: string): string => readme.split(`## ${heading} `)[1]?.split(' ## ')[0] ?? '';

let browser: Browser;
let folder: string;
let site: string;
let made: Map<string, MadeSound>;
let truth: ArchiveTruth;
let buildSaid: string;
const opened: Opened[] = [];
/** Hosts a process connected to, one a line. */
let connections: string;
let recorder: string;

beforeAll(async () => {
  folder = await temporaryFolder();
  site = join(folder, 'site');
  connections = join(folder, 'connections.txt');
  recorder = join(folder, 'recorder.mjs');
  await writeFile(
    recorder,
    `import { appendFileSync } from 'node:fs';
     import { Socket } from 'node:net';
     const connect = Socket.prototype.connect;
     Socket.prototype.connect = function (...words) {
       const [first] = [words[0]].flat();
       if (first?.path === undefined) appendFileSync(${JSON.stringify(connections)}, JSON.stringify(first) + '\\n');
       return connect.apply(this, words);
     };`,
  );
  process.env.NODE_OPTIONS = `--import ${pathToFileURL(recorder).href}`;
  try {
    ({ made, truth, said: buildSaid } = await buildDemoSite(site));
  } finally {
    delete process.env.NODE_OPTIONS;
  }
  browser = await launch();
});
afterAll(async () => {
  await browser.close();
  await rm(folder, { recursive: true, force: true });
});

async function openSite(hash = '', dark = false): Promise<Opened> {
  const colorScheme = dark ? 'dark' : 'light';
  const one = await open(browser, `${fileAddress(site)}index.html${hash}`, { colorScheme, acceptDownloads: true });
  opened.push(one);
  await ready(one.page);
  return one;
}

const names = (page: Page): Promise<string[]> => page.locator('.row .name').allTextContents();
const found = async (page: Page): Promise<number> => Number.parseInt(await textOf(page, '#count'), 10);

/** Asks, waits for the answer, and gives the names of the first sounds found. */
async function ask(page: Page, question: string): Promise<string[]> {
  await page.keyboard.press('Escape');
  await page.keyboard.type(question);
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => / of /.test(document.getElementById('count')?.textContent ?? ''));
  expect(await found(page)).toBeGreaterThan(0);
  return names(page);
}

/** The same on a page opened anew, whose sound output is therefore new as well. */
async function askAnew(page: Page, question: string): Promise<string[]> {
  await page.goto('about:blank');
  await page.goto(`${fileAddress(site)}index.html`);
  await ready(page);
  return ask(page, question);
}

it('README says nothing of the page that is not tried below', () => {
  let rest = ['On the page', 'Protect your hearing', 'What leaves the machine'].map(section).join(' ');
  for (const promise of Object.values(PROMISES)) {
    expect(readme).toContain(promise);
    rest = rest.replace(promise, '');
  }
  expect(rest.trim()).toBe('');
});

describe('Try it', () => {
  it(PROMISES.build, async () => {
    const sounds = Number(/(\d+) sounds/.exec(buildSaid)?.[1]);
    expect(Math.abs(sounds - 150)).toBeLessThanOrEqual(15);
    const server = spawn(process.execPath, [join(project, 'scripts/takeshelf.ts'), 'serve', '--site', site]);
    const address = await new Promise<string>((resolve, reject) => {
      server.stdout.on('data', (data: Buffer) => resolve(data.toString().trim()));
      server.on('exit', () => reject(new Error('serve ended')));
    });
    try {
      const { page, complaints, close } = await open(browser, address);
      await ready(page);
      expect(await textOf(page, '#count')).toBe(`${sounds} sounds`);
      expect(complaints).toEqual([]);
      await close();
    } finally {
      server.removeAllListeners('exit');
      server.kill();
    }
  });
});

describe('On the page', () => {
  it(PROMISES.ask, async () => {
    const { page, close } = await openSite();
    const anew = async (question: string) =>
      (await askAnew(page, question)).map((name) => ({ name, made: made.get(name) }));
    const swipes = (await anew('metal swipe dark')).map(({ made: swipe }) => swipe?.keywords ?? []);
    for (const keywords of swipes) expect(keywords).toEqual(expect.arrayContaining(['metal', 'swiped']));
    // Not all that are dark were made to be, but none may have been made bright.
    expect(swipes.some((keywords) => keywords.includes('dark'))).toBe(true);
    expect(swipes.some((keywords) => keywords.includes('bright'))).toBe(false);

    const short = await anew('under 2s');
    // Takes cut out of a phrase go by another name than the maker's; those that kept theirs are as long as they were made.
    const known = short.flatMap((row) => row.made ?? []);
    expect(known.length).toBeGreaterThan(2);
    for (const { lengthSeconds } of known) expect(lengthSeconds).toBeLessThan(2.1);

    // 2 bars of 4 beats at 84 beats a minute: 8 * 60 / 84 s.
    const [accent] = await anew('2 bars at 84 accent at end');
    expect(accent.made?.accentSeconds).toBeCloseTo((8 * 60) / 84, 2);
    expect(await page.locator('.row .fits').first().textContent()).toMatch(/^[+−]?\d+ ms$/);

    const [low] = await anew('around 110 Hz');
    expect(Math.abs(12 * Math.log2((low.made?.pitchHz ?? 0) / 110))).toBeLessThan(2.5);

    // Some takes go by their file's name and number; the first that kept its maker's name tells what was found.
    const [drone] = (await anew('drone not wet')).flatMap((row) => row.made ?? []);
    expect(drone.gesture).toBe('drone');
    expect(drone.keywords).not.toContain('wet');
    await close();
  });

  it(PROMISES.chips, async () => {
    const { page, close } = await openSite();
    await ask(page, 'metal, 2 bars at 84, accent at end');
    expect(await chips(page)).toEqual(['metal', '2 bars at 84', 'accent at end']);
    expect(await page.locator('.ask .chip').count()).toBe(3);
    await close();
  });

  it(PROMISES.keys, async () => {
    const { page, close } = await openSite();
    const rows = await ask(page, 'metal');
    await page.keyboard.press('ArrowDown');
    await heard(page);
    expect(await textOf(page, '#bench-name')).toBe(rows[0]);
    await page.keyboard.press('ArrowDown');
    await page.waitForFunction((name) => document.getElementById('bench-name')?.textContent === name, rows[1]);
    await heard(page);
    await page.keyboard.press('s');
    await page.keyboard.press('c');
    expect(await page.locator('.select-item .open').allTextContents()).toEqual([rows[1]]);
    for (const [format, begins] of [
      ['CSV', /^\uFEFF?\w+,/],
      ['M3U8', /^#EXTM3U/],
      ['JSON', /^\{/],
    ] as const) {
      const waiting = page.waitForEvent('download');
      await page.getByRole('button', { name: `Export ${format}` }).click();
      const text = await readFile(await (await waiting).path(), 'utf8');
      expect(text).toMatch(begins);
      expect(text).toContain(rows[1]);
    }
    await close();
  });

  it(PROMISES.list, async () => {
    const { page, close } = await openSite();
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('?');
    expect(await page.locator('#keys').getAttribute('open')).not.toBeNull();
    const listed = await page.locator('#key-list kbd').allTextContents();
    await page.keyboard.press('Escape');
    // Every sign a keyboard can write, and the keys with names: those the page takes for itself must be in the list.
    const taken = await page.evaluate(() => {
      const signs = Array.from({ length: 95 }, (_, at) => String.fromCharCode(32 + at));
      const all = [...signs, 'Enter', 'Escape', 'ArrowDown', 'ArrowUp', 'PageDown', 'PageUp', 'Home', 'End', 'Delete'];
      return all.filter((key) => {
        const event = new KeyboardEvent('keydown', { key, bubbles: true, cancelable: true });
        document.body.dispatchEvent(event);
        for (const dialog of document.querySelectorAll('dialog')) dialog.close();
        return event.defaultPrevented;
      });
    });
    const SHOWN: Record<string, string> = {
      ' ': 'Space',
      Escape: 'Esc',
      ArrowDown: '↓',
      ArrowUp: '↑',
      PageDown: 'PgDn',
      PageUp: 'PgUp',
      // Plus without the shift key.
      '=': '+',
    };
    expect(taken.length).toBeGreaterThan(20);
    expect(taken.map((key) => SHOWN[key] ?? key).filter((key) => !listed.includes(key))).toEqual([]);
    await close();
  });

  it(PROMISES.shape, async () => {
    const { page, close } = await openSite();
    await page.keyboard.press('Escape');
    await page.locator('#results').focus();
    await page.keyboard.press('w');
    for (const way of ['Sing it', 'choose a file']) expect(await textOf(page, '#pane-shape')).toContain(way);
    await page.getByRole('button', { name: 'riser', exact: true }).click();
    await page.locator('.chip', { hasText: 'drawn shape' }).waitFor();
    const known = (await names(page)).flatMap((name) => made.get(name) ?? []);
    // What was made to rise to the end comes first: a riser's own accent falls late.
    expect(known.length).toBeGreaterThan(2);
    for (const { accentSeconds, lengthSeconds } of known.slice(0, 3)) {
      expect((accentSeconds ?? 0) / lengthSeconds).toBeGreaterThan(0.4);
    }
    await close();
  });

  it(PROMISES.speeds, async () => {
    const { page, close } = await openSite();
    await ask(page, 'metal, 8 s');
    const before = await found(page);
    await page.locator('#results').focus();
    await page.keyboard.press('v');
    await page.locator('.row', { hasText: 'at −24 st' }).first().waitFor();
    expect(await found(page)).toBeGreaterThan(before);
    await close();
  });

  it(PROMISES.alike, async () => {
    const { page, close } = await openSite();
    const [first] = await ask(page, 'bowed');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('n');
    expect(await page.locator('#pane-alike h2').textContent()).toContain(first);
    expect(await page.locator('#pane-alike li').count()).toBeGreaterThan(5);
    await close();
  });

  it(PROMISES.cue, async () => {
    const { page, complaints, close } = await openSite();
    const [first, second] = await ask(page, 'metal, 2 bars at 84, accent at end');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('q');
    for (const part of ['Click', 'Your cue', 'Room']) expect(await textOf(page, '#pane-cue')).toContain(part);
    await heard(page);
    await page.locator('#results').focus();
    await page.keyboard.press('ArrowDown');
    expect(await textOf(page, '#bench-name')).toBe(second);
    await page.keyboard.press('x');
    expect(await textOf(page, '#bench-name')).toBe(first);
    await page.keyboard.press('x');
    expect(await textOf(page, '#bench-name')).toBe(second);
    expect(complaints).toEqual([]);
    await close();
  });

  it(PROMISES.pickUps, async () => {
    const { page, close } = await openSite();
    await page.keyboard.press('Escape');
    await page.keyboard.type('accent on bar 99 at 60, ');
    await page.locator('#wish').waitFor();
    await page.locator('#pane-map canvas').first().focus();
    await page.keyboard.press('p');
    expect(await said(page)).toContain('On the pick-up list: accent on bar 99 at 60');
    await page.keyboard.press('c');
    expect(await textOf(page, '#pane-selects')).toContain('1 sound still to be recorded');
    await close();
  });

  it(PROMISES.link, async () => {
    const { page, close } = await openSite();
    await ask(page, 'metal, 2 bars at 84, accent at end');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('n');
    await page.waitForFunction(() => /pane=alike/.test(window.location.hash) && /sound=/.test(window.location.hash));
    const { hash } = new URL(page.url());
    const colleague = await openSite(hash);
    await colleague.page.locator('.near').first().waitFor();
    for (const selector of ['#count', '#bench-name', '#pane-alike'])
      expect(await textOf(colleague.page, selector)).toBe(await textOf(page, selector));
    expect(await chips(colleague.page)).toEqual(await chips(page));
    expect(await names(colleague.page)).toEqual(await names(page));
    await colleague.close();
    await close();
  });

  it('By night', async () => {
    const paper = (page: Page) =>
      page.evaluate(() => Number(/\d+/.exec(getComputedStyle(document.body).backgroundColor)?.[0]));
    const day = await openSite();
    const night = await openSite('', true);
    expect(await paper(day.page)).toBeGreaterThan(200);
    expect(await paper(night.page)).toBeLessThan(60);
    await day.close();
    await night.close();
    for (const [, picture] of readme.matchAll(/!\[[^\]]*\]\(([^)]+)\)/g))
      expect(existsSync(join(project, picture)), picture).toBe(true);
  });
});

it(`Protect your hearing: ${PROMISES.hearing}`, async () => {
  const { page, close } = await openSite();
  // Every connection between the parts of the sound output.
  await page.evaluate(() => {
    const feeds = new Map<AudioNode, AudioNode[]>();
    Reflect.set(window, 'feeds', feeds);
    const connect = AudioNode.prototype.connect as (this: AudioNode, to: AudioNode) => AudioNode;
    AudioNode.prototype.connect = function (this: AudioNode, to: AudioNode | AudioParam) {
      if (to instanceof AudioNode) feeds.set(to, [...(feeds.get(to) ?? []), this]);
      return connect.call(this, to as AudioNode);
    } as typeof AudioNode.prototype.connect;
  });
  /** Highest reading of the page's own meter while a sound plays its first second. */
  const loudest = async (name: string): Promise<number> => {
    await askAnew(page, `"${name}"`);
    await page.keyboard.press('ArrowDown');
    expect(await textOf(page, '#bench-name')).toBe(name);
    await heard(page);
    return page.evaluate(
      () =>
        new Promise<number>((resolve) => {
          let most = Number.NEGATIVE_INFINITY;
          const until = performance.now() + 1000;
          const look = () => {
            most = Math.max(most, Number(document.getElementById('meter')?.getAttribute('aria-valuenow')));
            if (performance.now() < until) requestAnimationFrame(look);
            else resolve(most);
          };
          look();
        }),
    );
  };
  expect(await textOf(page, '#level-value')).toBe('−35 LUFS');
  await ask(page, 'drone');
  await page.keyboard.press('ArrowDown');
  await heard(page);
  expect(await said(page)).toContain('12 dB low');
  // From the loudspeakers backwards there is one way, through a hard ceiling and a compressor, to the sources.
  const chain = await page.evaluate(() => {
    const feeds = Reflect.get(window, 'feeds') as Map<AudioNode, AudioNode[]>;
    let node: AudioNode | undefined = [...feeds.keys()].find((one) => one instanceof AudioDestinationNode);
    const kinds: string[] = [];
    while (node) {
      kinds.push(node.constructor.name);
      const feeding: AudioNode[] = feeds.get(node) ?? [];
      if (node instanceof DynamicsCompressorNode) return { kinds, sources: feeding.length };
      if (feeding.length !== 1) break;
      [node] = feeding;
    }
    return { kinds, sources: 0 };
  });
  expect(chain.kinds[0]).toBe('AudioDestinationNode');
  expect(chain.kinds).toContain('WaveShaperNode');
  expect(chain.kinds.at(-1)).toBe('DynamicsCompressorNode');
  expect(chain.sources).toBeGreaterThan(0);
  const [quiet, loud] = await quietestAndLoudestDrone();
  const difference = (await loudest(loud.name)) - (await loudest(quiet.name));
  expect(loud.lufs - quiet.lufs).toBeGreaterThan(6);
  expect(Math.abs(difference)).toBeLessThan((loud.lufs - quiet.lufs) / 2);
  await page.keyboard.press('?');
  expect(await textOf(page, '#keys')).toMatch(/Protect your hearing.*headphones.*rules of your workplace/s);
  await close();
});

interface Drone {
  name: string;
  lufs: number;
}

/** Among held sounds, whose loudness hardly moves, by what was measured of them. */
async function quietestAndLoudestDrone(): Promise<[Drone, Drone]> {
  const shelf = new Shelf(Buffer.from(String(valueOfScript(await readSiteData(site, 'shelf.js'), 'shelf')), 'base64'));
  const drones = Array.from({ length: shelf.count }, (_, sound) => sound)
    .filter((sound) => shelf.gestureOf(sound) === 'drone' && (shelf.value('durationSeconds', sound) ?? 0) > 2)
    .map((sound) => ({ name: shelf.text('name', sound), lufs: shelf.value('integratedLufs', sound) ?? Number.NaN }))
    .filter(({ lufs }) => Number.isFinite(lufs))
    .sort((a, b) => a.lufs - b.lufs);
  const loudest = drones.at(-1);
  if (!loudest) throw new Error('no drones');
  return [drones[0], loudest];
}

describe('What leaves the machine', () => {
  it(PROMISES.network, async () => {
    expect(existsSync(connections) ? await readFile(connections, 'utf8') : '').toBe('');
    const { page, close } = await openSite();
    expect(await page.locator('meta[http-equiv="Content-Security-Policy"]').getAttribute('content')).toMatch(
      /^default-src 'none'/,
    );
    const refused = await page.evaluate(
      () =>
        new Promise<string>((resolve) => {
          document.addEventListener('securitypolicyviolation', (event) => resolve(event.effectiveDirective));
          fetch('http://127.0.0.1:9/').then(
            () => resolve('let through'),
            () => undefined,
          );
        }),
    );
    expect(refused).toBe('connect-src');
    await close();
    // Of all pages opened so far.
    const requests = opened.flatMap(({ requests: asked }) => asked);
    expect(requests.length).toBeGreaterThan(20);
    expect(requests.filter((url) => !/^(file|data|blob|about):/.test(url) && url !== 'http://127.0.0.1:9/')).toEqual(
      [],
    );
  });

  it('the recorder of connections would have seen one', async () => {
    const code = `require('node:net').connect(9, '127.0.0.1').on('error', () => {})`;
    await new Promise((resolve) =>
      spawn(process.execPath, ['--import', pathToFileURL(recorder).href, '-e', code]).on('exit', resolve),
    );
    expect(await readFile(connections, 'utf8')).toContain('127.0.0.1');
  });

  it(PROMISES.kept, async () => {
    const { page, close } = await openSite();
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('s');
    expect(await textOf(page, '#selects-tally')).toBe('1');
    await page.reload();
    await ready(page);
    expect(await textOf(page, '#selects-tally')).toBe('1');
    const other = await openSite();
    expect(await textOf(other.page, '#selects-tally')).toBe('');
    await other.close();
    await close();
  });
});

it('Licences of what the page contains stand in licences.txt', async () => {
  const text = await readFile(join(site, 'licences.txt'), 'utf8');
  for (const name of ['flatbush', 'd3-contour', 'flexsearch', 'source-serif-4', 'ibm-plex-sans-condensed'])
    expect(text).toContain(name);
});

/** Presses of Arrow Down until the sound meant plays; the first result plays at the first. 0 where five do not reach it. */
async function pressesTo(page: Page, meant: readonly string[]): Promise<number> {
  const last = Math.min(5, await found(page));
  for (let presses = 1; presses <= last; presses++) {
    const before = await page.evaluate(() => window.location.hash);
    await page.keyboard.press('ArrowDown');
    if (presses === 1) await heard(page);
    await page.waitForFunction((old) => window.location.hash !== old && /sound=/.test(window.location.hash), before);
    const inHand = new URLSearchParams((await page.evaluate(() => window.location.hash)).slice(1)).get('sound') ?? '';
    if (meant.includes(inHand)) return presses;
  }
  return 0;
}

it('briefs in plain words, typed on the empty page, bring the sound meant: first for four in five, else among the first five', async () => {
  const shelf = new Shelf(
    Buffer.from(valueOfScript(await readSiteData(site, 'shelf.js'), 'shelf') as string, 'base64'),
  );
  const sounds = trueSounds(truth);
  const places = placesInShelf(sounds, shelf);
  // Of the forty briefs (tests/query/briefs.ts) those that mean a sound of this archive; the others need the large one.
  const here = BRIEFS.filter(({ file, name }) => sounds.some((sound) => sound.file === file && sound.name === name));
  expect(here.length).toBeGreaterThanOrEqual(10);
  const presses: [number, string][] = [];
  for (const brief of here) {
    const meant = soundsMeant(brief, sounds).map((sound) => shelf.text('id', places.get(sound) ?? -1));
    const { page, close } = await openSite();
    await page.keyboard.type(brief.asks);
    await page.waitForFunction(() => / of /.test(document.getElementById('count')?.textContent ?? ''));
    presses.push([await pressesTo(page, meant), brief.asks]);
    await close();
  }
  const said = JSON.stringify(presses);
  expect(presses.filter(([count]) => count === 1).length / presses.length, said).toBeGreaterThanOrEqual(0.8);
  expect(presses.filter(([count]) => count > 0).length / presses.length, said).toBeGreaterThanOrEqual(0.95);
});
