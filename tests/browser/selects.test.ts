/** Selects: kept, ordered, annotated, taken back, and carried away in three open formats. */
import { readFile } from 'node:fs/promises';
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, inject, it } from 'vitest';
import { mergePickUps, type PickUp, toSheet } from '../../src/client/pick-up-list.ts';
import { fromJson, merge, type Select, toCsv, toJson, toPlaylist } from '../../src/client/select-list.ts';
import { launch } from './chromium.ts';
import { fileAddress, open, ready, textOf } from './page.ts';

const sites = inject('sites');
let browser: Browser;
beforeAll(async () => {
  browser = await launch();
});
afterAll(() => browser.close());

/** A reader of RFC 4180 written from its grammar (section 2), independent of the writer. */
function readCsv(text: string): string[][] {
  const records: string[][] = [[]];
  let at = 0;
  while (at < text.length) {
    let field = '';
    if (text[at] === '"') {
      for (at++; ; at++) {
        if (text[at] === '"' && text[at + 1] === '"') field += text[at++];
        else if (text[at] === '"') break;
        else field += text[at];
      }
      at++;
    } else {
      while (at < text.length && text[at] !== ',' && text[at] !== '\r') field += text[at++];
    }
    records[records.length - 1].push(field);
    if (text[at] === ',') at++;
    else {
      expect(text.slice(at, at + 2), 'records end in CRLF').toBe('\r\n');
      at += 2;
      if (at < text.length) records.push([]);
    }
  }
  return records;
}

const select = (over: Partial<Select>): Select => ({
  id: 'a'.repeat(16),
  name: 'Rope, lifted',
  session: 'Quay 1',
  file: 'Quay/1.wav',
  folder: 'archive',
  startSeconds: 0,
  durationSeconds: 2.5,
  heardSeconds: 2.5,
  semitones: 0,
  note: '',
  rights: null,
  ...over,
});

const pickUp = (over: Partial<PickUp>): PickUp => ({
  id: 'p',
  wish: 'chain drawn over stone, 3 s',
  shape: '',
  askedOn: '2031-05-04',
  figures: [],
  lengthSeconds: 3,
  accentSeconds: null,
  tempoBpm: null,
  metre: null,
  nearest: '',
  nearestId: '',
  note: '',
  ...over,
});

async function exported(page: Page, button: string): Promise<string> {
  const [download] = await Promise.all([
    page.waitForEvent('download'),
    page.getByRole('button', { name: button }).click(),
  ]);
  return readFile(await download.path(), 'utf8');
}

describe('as files', () => {
  it('CSV holds any text, reads back field by field, and starts no formula', () => {
    const wild = ['=1+1', '+cmd', '-2', '@x', '\tx', 'a,b', 'say "this"', 'two\r\nlines', '', 'plain', '\u202Eback 🐚'];
    const records = readCsv(
      toCsv({
        selects: wild.map((note) => select({ note, semitones: -12 })),
        pickUps: wild.map((note, at) => pickUp({ id: `p${at}`, note })),
      }),
    );
    const column = records[0].indexOf('note');
    expect(records.length).toBe(2 * wild.length + 1);
    for (const [at, note] of [...wild, ...wild].entries()) {
      expect(records[at + 1].length).toBe(records[0].length);
      const read = records[at + 1][column];
      // OWASP, "CSV Injection": no cell may begin with = + - @ tab or carriage return.
      expect(read).not.toMatch(/^[=+\-@\t\r]/);
      expect(read.replace(/^'/, '')).toBe(note);
    }
    // A figure stays a figure.
    expect(records[1][records[0].indexOf('semitones')]).toBe('-12');
  });

  it('the playlist has a header, one entry of three lines a take, and no line broken by a name', () => {
    const lines = toPlaylist([select({ name: 'two\nlines' }), select({ file: 'b.wav', durationSeconds: 61.7 })]).split(
      '\n',
    );
    expect(lines[0]).toBe('#EXTM3U');
    expect(lines[1]).toBe('#EXTINF:3,two lines');
    expect(lines[3]).toBe('archive/Quay/1.wav');
    expect(lines[4]).toBe('#EXTINF:62,Rope, lifted');
    expect(lines.filter((line) => line !== '' && !line.startsWith('#'))).toEqual([
      'archive/Quay/1.wav',
      'archive/b.wav',
    ]);
  });

  it('a list that is none is refused in words; merging loses nothing and doubles nothing', () => {
    expect(() => fromJson('{')).toThrow(/not JSON/);
    expect(() => fromJson('{"takeshelfSelects": 9, "selects": []}')).toThrow(/version 2 or before \(found 9\)/);
    const merged = merge(
      [select({ id: 'x', note: 'mine' }), select({ id: 'y' })],
      [select({ id: 'y', note: 'theirs' }), select({ id: 'z' }), select({ id: 'x', note: 'other' })],
    );
    expect(merged.map(({ id, note }) => [id, note])).toEqual([
      ['x', 'mine'],
      ['y', 'theirs'],
      ['z', ''],
    ]);
  });

  it('pick-ups travel with the selects and are read back whole; a list from before there were any is still read', () => {
    const lists = {
      selects: [select({})],
      pickUps: [
        pickUp({ accentSeconds: 2.5, tempoBpm: 84, metre: '7/8', figures: ['2 bars: 5.7 s'], nearest: 'Rope' }),
      ],
    };
    expect(fromJson(toJson(lists))).toEqual(lists);
    const old = JSON.stringify({ takeshelfSelects: 1, selects: [select({ note: 'mine' })] });
    expect(fromJson(old)).toEqual({ selects: [select({ note: 'mine' })], pickUps: [] });
    const broken = JSON.stringify({ takeshelfSelects: 2, selects: [null, 3], pickUps: [null, 'x', {}, pickUp({})] });
    expect(fromJson(broken)).toEqual({ selects: [], pickUps: [pickUp({})] });
    // Lists kept before shapes could be written down, and one whose shape is none.
    const { shape, ...before } = pickUp({ id: 'before' });
    const spoilt = { ...pickUp({ id: 'spoilt', wish: 'other' }), shape: '12' };
    const read = fromJson(JSON.stringify({ takeshelfSelects: 2, selects: [], pickUps: [before, spoilt] })).pickUps;
    expect(read.map((kept) => kept.shape)).toEqual([shape, '']);
    const merged = mergePickUps(
      [pickUp({ id: 'a' })],
      [pickUp({ id: 'b', note: 'at night' }), pickUp({ id: 'c', wish: 'x' })],
    );
    expect(merged.map(({ id, note }) => [id, note])).toEqual([
      ['a', 'at night'],
      ['c', ''],
    ]);
  });

  it('the recording sheet has one box to tick a wish, and no line broken by a note', () => {
    const sheet = toSheet([pickUp({ note: 'on\nice' }), pickUp({ wish: 'gong,\r\nlow', accentSeconds: 5.714 })]);
    expect(sheet.split('\n').filter((line) => line.startsWith('[ ] '))).toEqual([
      '[ ] 1. chain drawn over stone, 3 s',
      '[ ] 2. gong, low',
    ]);
    expect(sheet).toContain('note: on ice\n');
    expect(sheet).toContain('accent 5.7 s after the start');
  });
});

describe('on the page', () => {
  it('s marks, notes and order stay, removal can be undone, exports say the same', async () => {
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}index.html`, {
      acceptDownloads: true,
    });
    await ready(page);
    const names: string[] = [];
    for (let take = 0; take < 3; take++) {
      await page.keyboard.press('ArrowDown');
      await page.keyboard.press('s');
      names.push(await textOf(page, '#bench-name'));
    }
    expect(await textOf(page, '#selects-tally')).toBe('3');
    await page.keyboard.press('c');
    await page.getByLabel(`Note on ${names[0]}`).fill('=for the "flood", bar 12');
    await page.getByLabel(`Note on ${names[0]}`).blur();
    await page.getByRole('button', { name: `Later: ${names[0]}` }).click();
    await page.getByRole('button', { name: `Remove: ${names[2]}` }).click();
    expect(await page.locator('.select-item').count()).toBe(2);
    await page.getByRole('button', { name: 'Undo' }).click();
    await page.reload();
    await ready(page);
    await page.locator('#tab-selects').click();
    expect(await page.locator('.select-item .open').allInnerTexts()).toEqual([names[1], names[0], names[2]]);

    const csv = readCsv(await exported(page, 'Export CSV'));
    expect(csv.slice(1).map((record) => record[csv[0].indexOf('name')])).toEqual([names[1], names[0], names[2]]);
    expect(csv[2][csv[0].indexOf('note')]).toBe(`'=for the "flood", bar 12`);
    const playlist = await exported(page, 'Export M3U8');
    expect(playlist.split('\n').filter((line) => line.endsWith('.wav')).length).toBe(3);
    const json = await exported(page, 'Export JSON');
    expect(fromJson(json).selects.map(({ name }) => name)).toEqual([names[1], names[0], names[2]]);

    await page.getByRole('button', { name: `Remove: ${names[1]}` }).click();
    await page
      .locator('#import-selects')
      .setInputFiles({ name: 'selects.json', mimeType: 'application/json', buffer: Buffer.from(json) });
    await page.waitForFunction(() => document.querySelectorAll('.select-item').length === 3);
    expect(complaints).toEqual([]);
    await close();
  });

  it('what nothing answers is written down with its figures, asked again, annotated, taken off and brought back', async () => {
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}index.html`, {
      acceptDownloads: true,
    });
    await ready(page);
    await page.keyboard.type('accent on bar 9 at 60 in 5/4, between 41 s and 42 s');
    await page.locator('#wish').waitFor();
    expect(await textOf(page, '#wish')).toContain('Not on the shelf: it may be one to record.');
    await page.keyboard.press('Escape');
    await page.locator('#results').focus();
    await page.keyboard.press('p');
    // Eight bars of five beats at 60: 40 s (8 x 5 x 60/60).
    expect(await textOf(page, '#says')).toContain('On the pick-up list');
    await page.getByRole('button', { name: 'Show the pick-up list' }).click();
    const item = page.locator('#pane-selects li', { hasText: '5/4' });
    expect((await item.textContent())?.replace(/\s/g, ' ')).toContain('40 s in');
    await item.getByRole('textbox').pressSequentially('with a chain');
    const csv = readCsv(await exported(page, 'Export CSV'));
    const cell = (heading: string): string => csv[1][csv[0].indexOf(heading)];
    expect([cell('kind'), cell('accentSeconds'), cell('tempoBpm'), cell('metre'), cell('note')]).toEqual([
      'pick-up',
      '40',
      '60',
      '5/4',
      'with a chain',
    ]);
    await page.goto(`${fileAddress(sites.small)}index.html`);
    await page.reload();
    await ready(page);
    await page.locator('#tab-selects').click();
    await item.locator('.open').click();
    await page.locator('#wish').waitFor();
    expect(await textOf(page, '#wish')).toContain('it is on the pick-up list');
    await page.getByRole('button', { name: /^Take off/ }).click();
    expect(await item.count()).toBe(0);
    await page.getByRole('button', { name: 'Undo' }).click();
    expect(await item.getByRole('textbox').inputValue()).toBe('with a chain');
    expect(complaints).toEqual([]);
    await close();
  });

  it('a shape drawn without a word is written down with its curve and length, and drawn again when asked again', async () => {
    const { page, complaints, close } = await open(browser, `${fileAddress(sites.small)}index.html`, {
      acceptDownloads: true,
    });
    await ready(page);
    await page.locator('#tab-shape').click();
    await page.getByRole('button', { name: 'riser', exact: true }).click();
    await page.locator('#shape-length').fill('97 s');
    await page.keyboard.press('Enter');
    await page.locator('#wish').waitFor();
    await page.getByRole('button', { name: 'Put it on the pick-up list' }).click();
    await page.getByRole('button', { name: 'Show the pick-up list' }).click();
    const item = page.locator('#pane-selects li', { hasText: 'a shape drawn' });
    expect((await item.textContent())?.replace(/\s/g, ' ')).toMatch(/drawn: rises .*97.0 s/);
    const csv = readCsv(await exported(page, 'Export CSV'));
    expect(csv[1][csv[0].indexOf('durationSeconds')]).toBe('97');
    await page.goto(`${fileAddress(sites.small)}index.html`);
    await page.reload();
    await ready(page);
    await page.locator('#tab-selects').click();
    await item.locator('.open').click();
    const chip = page.locator('#chips', { hasText: 'drawn shape' });
    await chip.waitFor();
    expect(await chip.textContent()).toContain('97.0 s');
    expect(complaints).toEqual([]);
    await close();
  });

  it('a kept text that cannot be read is set aside before anything is written over it', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`);
    await page.evaluate(() => localStorage.setItem('takeshelf.selects.1', '{"half a li'));
    await page.reload();
    await ready(page);
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('s');
    const stored = await page.evaluate(() => Object.values(localStorage));
    expect(stored).toContain('{"half a li');
    await close();
  });

  it('says so when the browser keeps nothing, and still holds them', async () => {
    const { page, close } = await open(browser, 'about:blank');
    await page.addInitScript(() => {
      Storage.prototype.setItem = () => {
        throw new DOMException('full', 'QuotaExceededError');
      };
    });
    await page.goto(`${fileAddress(sites.small)}index.html`);
    await ready(page);
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('s');
    await page.keyboard.press('c');
    expect(await textOf(page, '#pane-selects [role="alert"]')).toContain('Export them before you close the page');
    expect(await page.locator('.select-item').count()).toBe(1);
    await close();
  });
});
