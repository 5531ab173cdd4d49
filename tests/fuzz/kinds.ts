/**
 * What is fed with made-up inputs by the thousand, each from its number alone, so that any can be made again:
 * a fault is a sentence, null is right.
 */
import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { readCatalogue } from '../../scripts/archive/catalogue.ts';
import { describeAudio } from '../../scripts/archive/describe/describe.ts';
import { WrongUsage } from '../../scripts/messages.ts';
import { parseQuery } from '../../shared/query/parse.ts';
import { mergePickUps } from '../../src/client/pick-up-list.ts';
import { fromJson, merge, toCsv, toJson, toPlaylist } from '../../src/client/select-list.ts';
import { readLink, writeLink } from '../../src/client/state.ts';
import { bytes, chunk, riff, waveFormat } from '../archive/bytes.ts';
import { Random } from '../measure/random.ts';
import { damage, readWhole, SEEDS } from './damaged-files.ts';
import { CONTEXTS, fault, randomText } from './questions.ts';

export interface Kind {
  /** In a full run. */
  inputs: number;
  run(number: number): Promise<string | null> | string | null;
}

/** One folder a thread: the readers take paths. */
const folder = mkdtempSync(join(tmpdir(), 'takeshelf-fuzz-'));
for (const sub of ['sessions', 'splits']) mkdirSync(join(folder, sub));
export const removeScratch = (): Promise<void> => rm(folder, { recursive: true, force: true });

/** A little audio is enough to reach every part of a decoder; whole seconds would only take time. */
const SHORT_BYTES: Readonly<Record<string, number>> = { FLAC: 12_000, MP3: 4000, 'Ogg Vorbis': 8000, Opus: 4000 };
const files = SEEDS.map(([name, content]) => content.subarray(0, SHORT_BYTES[name] ?? 6000));

/** Text chunks with something in each of them, for the readers of tags. */
const TEXTS = [
  riff([
    waveFormat(),
    chunk('bext', 'a bell in the yard'.padEnd(602, '\0')),
    chunk('iXML', '<BWFXML><SCENE>4</SCENE><TRACK_LIST><TRACK><NAME>near</NAME></TRACK></TRACK_LIST></BWFXML>'),
    chunk('LIST', bytes('INFO', chunk('INAM', 'Low bell'), chunk('IKEY', 'bell; yard'))),
    chunk('cue ', bytes([1, 0, 0, 0], [7, 0, 0, 0], [9, 0, 0, 0], 'data', new Uint8Array(12))),
    chunk('LIST', bytes('adtl', chunk('labl', bytes([7, 0, 0, 0], 'first')))),
    chunk('id3 ', bytes('ID3', [4, 0, 0, 0, 0, 0, 30], 'TIT2', [0, 0, 0, 10, 0, 0, 3], 'Low bell ')),
    chunk('smpl', new Uint8Array(60).fill(1)),
    chunk('data', new Uint8Array(64)),
  ]),
  ...files,
];

async function readDamaged(original: Uint8Array, number: number, whole: boolean): Promise<string | null> {
  const random = new Random(number * 2 + 1);
  const path = join(folder, 'damaged');
  writeFileSync(
    path,
    damage(original, () => random.next(), Math.floor(number / 16)),
  );
  if (!whole) {
    JSON.stringify(await describeAudio(path));
    return null;
  }
  const outcome = await readWhole(path);
  return outcome === 'read' || outcome === 'refused' ? null : outcome;
}

const SESSION = 'sounds:\n  "0c9ym2k4w8x1r7ta":\n    name: Low bell\n    tags: [bell, yard]\n    rights: own\n';
const SPLITS =
  'files:\n  "0c9ym2k4w8x1r7ta":\n    takes:\n      - { start: 1.25, end: 4.5, name: Low bell }\n      - { start: 6 }\n';
const ARCHIVE =
  'folders:\n  - name: Quay\n    path: ../quay\n    split: { by: silence, within: [{ files: loops, by: whole }] }\n';
const VOCABULARY = 'alike:\n  - [gong, tam-tam]\ntags: [bell, yard]\n';
const YAML_BITS = [
  '\n',
  '  ',
  ': ',
  '- ',
  '{',
  '}',
  '[',
  ']',
  '"',
  "'",
  '&a ',
  '*a',
  '<<: ',
  '!!x ',
  '| ',
  '#',
  '---\n',
  '\t',
  'null',
  '1e999',
];

function mangledText(text: string, random: Random, bits: readonly string[]): string {
  let out = text;
  for (let changes = random.whole(1, 4); changes > 0; changes--) {
    const at = random.whole(0, out.length);
    const cut = random.chance(0.5) ? random.whole(0, 12) : 0;
    out = out.slice(0, at) + (random.chance(0.7) ? random.pick(bits) : '') + out.slice(at + cut);
  }
  return out;
}

async function mangledCatalogue(number: number): Promise<string | null> {
  const random = new Random(number + 77);
  const mangled = (text: string): string => (random.chance(0.5) ? mangledText(text, random, YAML_BITS) : text);
  writeFileSync(join(folder, 'sessions/a.yaml'), mangled(SESSION));
  writeFileSync(join(folder, 'splits/a.yaml'), mangled(SPLITS));
  writeFileSync(join(folder, 'archive.yaml'), mangled(ARCHIVE));
  writeFileSync(join(folder, 'vocabulary.yaml'), mangled(VOCABULARY));
  try {
    await readCatalogue(folder);
    return null;
  } catch (error) {
    if (!(error instanceof WrongUsage)) return `no sentence for a person: ${String(error)}`;
    return error.message.includes('.yaml') ? null : `no file is named: ${error.message}`;
  }
}

const LINK =
  '#q=metal+swipe%2C+2+bars+at+84&shape=00111222333444555666777888999aab_2.5&sound=0c9ym2k4w8x1r7ta&alike=a_b&speed=-12&also=-12_12&pane=map&map=1.000_2.000_3.00&at=1.5';
const LINK_BITS = ['&', '=', '%', '%2', '#', '_', '+', '-', '1e999', 'NaN', '%F0%9F', 'Infinity', ' '];

function mangledLink(number: number): string | null {
  const link = readLink(mangledText(LINK, new Random(number + 5), LINK_BITS));
  const again = readLink(writeLink(link));
  if (
    JSON.stringify(again) !==
    JSON.stringify({ ...link, pane: link.pane === 'map' ? null : link.pane, mapView: again.mapView })
  ) {
    return `reads differently when written: ${writeLink(link)}`;
  }
  const numbers = [link.speed ?? 0, link.atSeconds ?? 0, ...link.alsoAt, ...Object.values(link.mapView ?? {})];
  return numbers.every(Number.isFinite) ? null : 'a number that is none';
}

const LIST = toJson({
  selects: [
    {
      id: 'a',
      name: 'Rope',
      session: 'Quay',
      file: 'Quay/1.wav',
      folder: 'f',
      startSeconds: 0,
      durationSeconds: 2.5,
      heardSeconds: 2.5,
      semitones: 0,
      note: '',
      rights: null,
    },
  ],
  pickUps: [
    {
      id: 'p',
      wish: 'chain, 3 s',
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
    },
  ],
});
const JSON_BITS = ['"', ',', '{', '}', '[', ']', ':', 'null', '1e999', '-', '\\', '\\u0000', '=1+1', '\n', '[[['];

function mangledList(number: number): string | null {
  let lists: ReturnType<typeof fromJson>;
  try {
    lists = fromJson(mangledText(LIST, new Random(number + 3), JSON_BITS));
  } catch (error) {
    return error instanceof Error && error.message.startsWith('This is not a list of selects') ? null : String(error);
  }
  const again = fromJson(toJson(lists));
  if (JSON.stringify(again) !== JSON.stringify(lists)) return 'reads differently when written';
  toCsv(lists);
  toPlaylist(lists.selects);
  const twice = { selects: merge(lists.selects, lists.selects), pickUps: mergePickUps(lists.pickUps, lists.pickUps) };
  return twice.selects.length <= lists.selects.length && twice.pickUps.length <= lists.pickUps.length
    ? null
    : 'a list joined with itself grows';
}

export const KINDS: Readonly<Record<string, Kind>> = {
  questions: {
    inputs: 480_000,
    run(number) {
      const random = new Random(number);
      const text = randomText(random);
      const context = random.pick(CONTEXTS);
      for (const chip of parseQuery(text, context).chips) {
        const found = fault(chip, text, context);
        if (found) return `${JSON.stringify(text)}: ${chip.kind}: ${found}`;
      }
      return null;
    },
  },
  links: { inputs: 200_000, run: mangledLink },
  lists: { inputs: 100_000, run: mangledList },
  descriptions: { inputs: 120_000, run: (number) => readDamaged(TEXTS[number % TEXTS.length], number, false) },
  catalogues: { inputs: 60_000, run: mangledCatalogue },
  decoders: { inputs: 40_000, run: (number) => readDamaged(files[number % files.length], number, true) },
};
