import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { EmbeddedText } from '../../scripts/archive/audio-stream.ts';
import { BuildCache } from '../../scripts/archive/cache.ts';
import type { Catalogue } from '../../scripts/archive/catalogue.ts';
import { NOTHING } from '../../scripts/archive/describe/findings.ts';
import { type Gathered, gatherSounds } from '../../scripts/archive/gather.ts';
import type { MeasuredTake } from '../../scripts/archive/process-file.ts';
import type { ScannedFile } from '../../scripts/archive/scan.ts';
import { writeWhole } from '../../scripts/atomic-file.ts';
import { previewScript } from '../../scripts/publish/data-scripts.ts';
import { NO_VOCABULARY } from '../../shared/query/vocabulary.ts';
import { inventSounds } from '../shared/invented-sounds.ts';

let home: string;
beforeAll(async () => {
  home = await mkdtemp(join(tmpdir(), 'takeshelf-gather-'));
});
afterAll(() => rm(home, { recursive: true, force: true }));

interface FakeFile {
  file: string;
  embedded?: Partial<EmbeddedText>;
  takes: Partial<MeasuredTake>[];
}

let number = 0;

/** Puts what the files gave into a cache, as workers do, and gathers it. */
async function gather(files: readonly FakeFile[], catalogue: Partial<Catalogue> = {}): Promise<Gathered> {
  const cache = await BuildCache.open(join(home, String(number++)));
  const [measurements] = inventSounds(1);
  const scanned = files.map(({ file }) => ({
    folder: 'Field',
    file,
    path: file,
    size: 1,
    modified: '1',
    changed: '1',
    inode: '1',
  }));
  const takesKeys = new Map<ScannedFile, string>();
  for (const [index, { embedded, takes }] of files.entries()) {
    const digest = `${index}`.padStart(64, '0');
    takesKeys.set(scanned[index], digest);
    const whole = takes.map((take, at): MeasuredTake => {
      const id = take.id ?? `${index}x${at}`.padStart(16, '0');
      return {
        startFrame: at * 48_000,
        endFrame: (at + 1) * 48_000,
        label: null,
        note: null,
        measurements,
        previewParts: 1,
        ...take,
        id,
      };
    });
    for (const { id } of whole) {
      const preview = { id, gainDb: 0, parts: [], waveform: new Int8Array(0) };
      const part = { part: 0, startSeconds: 0, durationSeconds: 1, mp3: new Uint8Array(0) };
      await writeWhole(cache.previewPath(id, 0), previewScript(preview, part));
    }
    const format = {
      name: 'WAV',
      codec: '',
      sampleRateHz: 48_000,
      channels: 2,
      bitDepth: 24,
      lossless: true,
      channelMask: null,
      frames: null,
    } as const;
    const result = {
      audio: digest,
      kind: 'wav' as const,
      format,
      frames: 48_000,
      warnings: [],
      embedded: { ...NOTHING, ...embedded },
      takes: whole,
    };
    await cache.saveOutcome(digest, { ok: true, result });
  }
  return gatherSounds(scanned, cache, takesKeys, new Map(), {
    folders: [],
    vocabulary: NO_VOCABULARY,
    decisions: new Map(),
    corrections: new Map(),
    ...catalogue,
  });
}

const one = [{}];

test.each<[string, Partial<EmbeddedText>, Partial<MeasuredTake>[], string[]]>([
  ['Boathouse/boiler_plate__swipe.wav', {}, one, ['boiler plate swipe']],
  ['Audio 017-03.wav', { description: 'Oar on stone\nsecond line' }, one, ['Oar on stone']],
  ['new recording 14.wav', {}, one, ['new recording 14']],
  ['TRACK_2 copy (1).wav', { description: 'Kettle lid' }, one, ['Kettle lid']],
  ['gong.wav', { description: 'Long story' }, one, ['gong']],
  ['x.wav', { title: 'Chain,  dropped' }, one, ['Chain, dropped']],
  ['session.wav', {}, [{ label: 'Saw blade, bowed' }, {}], ['Saw blade, bowed', 'session, take 2']],
  ['.wav', {}, one, ['.wav']],
])('%s is called what it says of itself', async (file, embedded, takes, names) => {
  const { sounds } = await gather([{ file, embedded, takes }]);
  expect(sounds.map(({ name }) => name)).toEqual(names);
});

test('a session is the folder it lies in, with the one above where the name says nothing', async () => {
  const files = ['loose.wav', 'Boathouse/a.wav', 'Net_loft/Audio Files/b.wav', '2026/Quay/03/c.wav'];
  const { sounds } = await gather(files.map((file) => ({ file, takes: one })));
  const sessions = Object.fromEntries(sounds.map(({ places, session }) => [basename(places[0].file), session]));
  expect(sessions).toEqual({
    'loose.wav': 'Field',
    'a.wav': 'Boathouse',
    'b.wav': 'Net loft, Audio Files',
    'c.wav': 'Quay, 03',
  });
});

test('what a person decided goes before what the file says, and tags add up', async () => {
  const id = 'aaaaaaaaaaaaaaaa';
  const decision = {
    name: 'Tide gong',
    session: 'Low tide',
    tags: ['Dark', 'gong'],
    rights: 'own',
    owner: 'house',
    notes: 'Rest it.',
  };
  const { sounds, report } = await gather(
    [
      {
        file: 'a.wav',
        embedded: { title: 'Take 1', keywords: ['Metal', 'gong'], description: 'bext text' },
        takes: [{ id }, {}],
      },
    ],
    { decisions: new Map([[id, decision]]) },
  );
  expect(sounds[0]).toMatchObject({
    name: 'Tide gong',
    session: 'Low tide',
    tags: ['dark', 'gong', 'metal'],
    rights: 'own',
    owner: 'house',
  });
  expect(sounds[0].description).toBe('Rest it.\nbext text');
  expect(report.rightsMissing).toEqual([sounds[1].id]);
});

test('what is odd in a name is told of that place alone, though content of that kind lies elsewhere', async () => {
  const id = 'cccccccccccccccc';
  const { report } = await gather([
    { file: 'a.wav', takes: [{ id }] },
    { file: 'b.aif', takes: [{ id }] },
    { file: 'c.au', takes: [{ id }] },
    { file: 'take without ending', takes: [{ id }] },
  ]);
  const odd = (ending: string): string =>
    `The name ends in "${ending}" but the content is a WAV file; it was read by its content.`;
  expect(report.warnings.map(({ file, message }) => [file, message])).toEqual([
    ['b.aif', odd('.aif')],
    ['c.au', odd('.au')],
  ]);
});

test('the same audio in two files is one sound with two places', async () => {
  const id = 'bbbbbbbbbbbbbbbb';
  const { sounds, report } = await gather([
    { file: 'z/copy.wav', takes: [{ id }] },
    { file: 'a/first.wav', takes: [{ id, startFrame: 24_000 }] },
  ]);
  expect(sounds.length).toBe(1);
  expect(sounds[0].name).toBe('first');
  expect(sounds[0].places).toEqual([
    { folder: 'Field', file: 'a/first.wav', startSeconds: 0.5 },
    { folder: 'Field', file: 'z/copy.wav', startSeconds: 0 },
  ]);
  expect(report.duplicates).toEqual([{ id, name: 'first', places: sounds[0].places }]);
});
