import { readFileSync } from 'node:fs';
import { Charset, Encoder } from 'flexsearch';
import { describe, expect, test } from 'vitest';
import { parse } from 'yaml';
import { isFigures, tokenise } from '../../shared/query/tokens.ts';
import { NO_VOCABULARY, readVocabulary, type Vocabulary } from '../../shared/query/vocabulary.ts';
import { exportWordIndex, importWordIndex } from '../../shared/query/word-file.ts';
import { PLAIN_FIELDS, type WordField } from '../../shared/query/word-score.ts';
import { buildWordIndex, type WordIndex } from '../../shared/query/words.ts';
import type { Shelf } from '../../shared/shelf.ts';
import { Random } from '../measure/random.ts';
import { shelfOfNamed } from './named-sounds.ts';

const foundBy = (index: WordIndex, word: string, fields?: readonly WordField[]) =>
  [...index.match(word, fields).scores.entries()].filter(([, score]) => score > 0).map(([sound]) => sound);

/** Optimal string alignment distance by the textbook table: insert, delete, replace, swap neighbours. */
function distance(a: string, b: string): number {
  const table = Array.from({ length: a.length + 1 }, (_, i) => Array.from({ length: b.length + 1 }, (_, j) => i + j));
  for (let i = 1; i <= a.length; i++) {
    for (let j = 1; j <= b.length; j++) {
      const replaced = table[i - 1][j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1);
      table[i][j] = Math.min(table[i - 1][j] + 1, table[i][j - 1] + 1, replaced);
      if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1]) {
        table[i][j] = Math.min(table[i][j], table[i - 2][j - 2] + 1);
      }
    }
  }
  return table[a.length][b.length];
}

const isSlip = (asked: string, word: string) => {
  if (word.length < 5 || asked.length < 4) return false;
  if (distance(asked, word) === 1) return true;
  // Or on the way there: as many letters as were typed, give or take one, are one slip off.
  if (asked.length < 5) return false;
  return [-1, 0, 1].some((more) => {
    const beginning = word.slice(0, asked.length + more);
    return beginning.length < word.length && distance(asked, beginning) === 1;
  });
};

const isPluralOf = (many: string, one: string) => {
  if (one.length < 2) return false;
  if (/(s|x|z|sh)$/.test(one)) return many === `${one}es`;
  if (/ch$/.test(one)) return many === `${one}es` || many === `${one}s`;
  return /[^aeiou]y$/.test(one) ? many === one.replace(/y$/, 'ies') : many === `${one}s`;
};

/** What one word of the archive is to the word asked for, without any index. */
function relation(asked: string, word: string, ear: Encoder): 'near' | 'inside or slip' | 'ear' | null {
  if (word === asked) return 'near';
  if (!isFigures(asked) && word.startsWith(asked)) return 'near';
  if (asked.length >= 3 && (isPluralOf(word, asked) || isPluralOf(asked, word))) return 'near';
  // Figures are whole; only where there are none such, the beginning of longer ones.
  if (isFigures(asked)) return word.startsWith(asked) ? 'inside or slip' : null;
  if (asked.length >= 3 && word.includes(asked)) return 'inside or slip';
  if (isSlip(asked, word)) return 'inside or slip';
  const letters = /^[a-z]{5,}$/;
  const soundsAlike = letters.test(asked) && letters.test(word) && ear.encode(asked)[0] === ear.encode(word)[0];
  return soundsAlike ? 'ear' : null;
}

function scan(shelf: Shelf, asked: string): number[] {
  const ear = new Encoder(Charset.LatinAdvanced);
  const words = (sound: number, fields: readonly WordField[]) =>
    fields.flatMap((field) => tokenise(shelf.text(field, sound), true));
  const all: WordField[] = [...PLAIN_FIELDS, 'rights', 'owner', 'format'];
  const everywhere = Array.from({ length: shelf.count }, (_, sound) => words(sound, all)).flat();
  const related = new Map(everywhere.map((word) => [word, relation(asked, word, ear)]));
  const best = (['near', 'inside or slip', 'ear'] as const).find((kind) => [...related.values()].includes(kind));
  return Array.from({ length: shelf.count }, (_, sound) => sound).filter(
    (sound) => best !== undefined && words(sound, PLAIN_FIELDS).some((word) => related.get(word) === best),
  );
}

describe('against a scan of every word of every sound', () => {
  const SYLLABLES = ['ta', 'ma', 'go', 'ng', 'me', 'tal', 'ri', 's', 'ph', 'f', 'oon', 'sh', 'y', 'er'];

  function inventedShelf(random: Random): Shelf {
    const word = () => Array.from({ length: random.whole(1, 4) }, () => random.pick(SYLLABLES)).join('');
    const words = (most: number) =>
      Array.from({ length: random.whole(0, most) }, word).join(random.pick([' ', '-', '_']));
    return shelfOfNamed(
      Array.from({ length: 40 }, () => ({
        name: `${words(3)} ${random.whole(0, 30)}`,
        session: words(1),
        tags: [word(), word()],
        description: words(4),
      })),
    );
  }

  test('finds exactly the same sounds for whole, half typed, mistyped and foreign words', () => {
    const random = new Random(5);
    for (let round = 0; round < 12; round++) {
      const shelf = inventedShelf(random);
      const index = buildWordIndex(shelf, NO_VOCABULARY);
      for (let i = 0; i < 60; i++) {
        let asked = random.pick(index.data.words);
        const at = random.whole(0, asked.length - 1);
        const kind = random.whole(0, 5);
        if (kind === 1) asked = asked.slice(0, at + 1);
        if (kind === 2) asked = `${asked.slice(0, at)}${random.pick(SYLLABLES)}${asked.slice(at + 1)}`;
        if (kind === 3) asked = asked.slice(0, at) + asked.slice(at + 1);
        if (kind === 4) asked = Array.from({ length: 3 }, () => random.pick(SYLLABLES)).join('');
        // Cut as a question is; "ma7" is two words and another matter.
        if (tokenise(asked).length !== 1) continue;
        expect([asked, foundBy(index, asked)]).toEqual([asked, scan(shelf, tokenise(asked)[0])]);
      }
    }
  });

  test('says a reason that is true of the sound', () => {
    const random = new Random(6);
    const shelf = inventedShelf(random);
    const index = buildWordIndex(shelf, NO_VOCABULARY);
    for (const asked of index.data.words.slice(0, 80)) {
      const match = index.match(asked);
      for (let sound = 0; sound < shelf.count; sound++) {
        const reason = match.reason(sound);
        expect(reason === null).toBe(match.scores[sound] === 0);
        if (reason) expect(tokenise(shelf.text(reason.field, sound), true)).toContain(reason.text);
      }
    }
  });
});

describe('how words are cut and compared', () => {
  test.each([
    ['MetalSwipe_017-03.wav', ['metal', 'swipe', '17', '3', 'wav']],
    ['DPAMic left', ['dpa', 'mic', 'left']],
    ['Größe Ängste', ['grosse', 'angste']],
    ['snake_case_01', ['snake', 'case', '1']],
    ['take000', ['take', '0']],
    ['日本 録音', ['日本', '録音']],
  ])('"%s" is %j', (text, words) => {
    expect(tokenise(text)).toEqual(words);
  });

  test('decomposed and composed letters are the same word', () => {
    expect(tokenise('Ächzen'.normalize('NFD'))).toEqual(tokenise('Ächzen'.normalize('NFC')));
  });

  const shelf = shelfOfNamed([
    { name: 'Tam-tam roll' },
    { name: 'MetalSwipe 01' },
    { name: 'Boathouse door', rights: 'cleared' },
    { name: 'Piano Bb1 soft' },
    { name: 'vibraphones' },
    { name: 'gong', tags: ['metal'] },
    { name: 'take 17' },
    { name: 'Audio 017-03', places: [{ folder: 'Field', file: 'Slipway/Audio 017-03.wav', startSeconds: 0 }] },
  ]);
  const vocabulary: Vocabulary = {
    alike: [
      ['swipe', 'whoosh'],
      ['gong', 'flat bell'],
    ],
    kinds: { idiophone: ['gong', 'tam-tam', 'vibraphone'] },
    tags: {},
  };
  const index = buildWordIndex(shelf, vocabulary);

  test.each([
    ['tamtam', [0]],
    ['tam-tam', [0]],
    ['metalswipe', [1]],
    ['MetalSwipe', [1]],
    ['metal', [1, 5]],
    ['house', [2]],
    ['vibraphone', [4]],
    ['gongs', [5]],
    ['whoosh', [1]],
    ['flat bell', [5]],
    ['idiophone', [0, 4, 5]],
    // The octave of a note is a figure too.
    ['1', [1, 3]],
    ['17', [6, 7]],
    ['017-03', [7]],
    ['slipway', [7]],
    ['cleared', []],
    // Spelled by ear: a slip would not reach so far.
    ['vibrafones', [4]],
    ['nothing of the kind', []],
  ])('"%s" finds %j', (word, sounds) => {
    expect(foundBy(index, word)).toEqual(sounds);
  });

  test('rights answer only when asked for', () => {
    expect(foundBy(index, 'cleared', ['rights'])).toEqual([2]);
  });

  test('strictly taken, beginnings, parts and slips do not count', () => {
    const strictly = (word: string) => index.match(word, undefined, true).found;
    expect(['meta', 'house', 'vibraphnoe', 'metal', 'gongs', 'whoosh'].map(strictly)).toEqual([0, 0, 0, 2, 1, 1]);
  });

  test('a better place and a nearer form weigh more', () => {
    const { scores } = index.match('metal');
    expect(scores[1]).toBeGreaterThan(scores[5]);
    const named = buildWordIndex(
      shelfOfNamed([{ name: 'swipe' }, { name: 'swipes' }, { name: 'swiper' }, { name: 'whoosh' }]),
      vocabulary,
    ).match('swipe');
    expect([...named.scores]).toEqual([...named.scores].sort((a, b) => b - a));
    expect(new Set(named.scores).size).toBe(4);
  });
});

test('at least 95 % of one-letter slips in the house words find what was meant', () => {
  const house = readVocabulary(
    parse(readFileSync(new URL('../../catalogue/vocabulary.yaml', import.meta.url), 'utf8')) as unknown,
  );
  const words = [
    ...new Set([...house.alike.flat(), ...Object.values(house.kinds).flat()].flatMap((word) => tokenise(word))),
  ].filter((word) => word.length >= 5);
  expect(words.length).toBeGreaterThan(200);
  const index = buildWordIndex(shelfOfNamed(words.map((name) => ({ name }))), NO_VOCABULARY);
  const random = new Random(7);
  const letter = () => random.pick([...'abcdefghijklmnopqrstuvwxyz']);
  const missed: string[] = [];
  let tried = 0;
  words.forEach((word, sound) => {
    for (let i = 0; i < 12; i++) {
      const at = random.whole(0, word.length - 1);
      const slips = [
        word.slice(0, at) + letter() + word.slice(at + 1),
        word.slice(0, at) + word.slice(at + 1),
        word.slice(0, at) + letter() + word.slice(at),
        word.slice(0, at) + (word[at + 1] ?? '') + word[at] + word.slice(at + 2),
      ];
      const typed = slips[i % slips.length];
      tried++;
      if (index.match(typed).scores[sound] === 0) missed.push(`${typed} for ${word}`);
    }
  });
  expect(missed.length / tried, missed.slice(0, 20).join(', ')).toBeLessThanOrEqual(0.05);
});

describe('the index as bytes', () => {
  const random = new Random(8);
  const shelf = shelfOfNamed(
    Array.from({ length: 300 }, (_, at) => ({
      name: `${random.pick(['gong', 'bell', 'Größe', 'chain'])} ${random.whole(1, 40)}`,
      tags: [random.pick(['metal', 'wood'])],
      description: at % 3 ? '' : 'near the quay',
    })),
  );
  const index = buildWordIndex(shelf, { alike: [['gong', 'tam-tam']], kinds: {}, tags: { material: ['metal'] } });

  test('comes back the same', () => {
    expect(importWordIndex(exportWordIndex(index)).data).toEqual(index.data);
    const empty = buildWordIndex(shelfOfNamed([]), NO_VOCABULARY);
    expect(importWordIndex(exportWordIndex(empty)).data).toEqual(empty.data);
  });

  test('says so where it is damaged or of another version', () => {
    const bytes = exportWordIndex(index);
    expect(() => importWordIndex(bytes.subarray(0, 40))).toThrow(/Build again/);
    const text = new TextDecoder('latin1').decode(bytes);
    const newer = bytes.slice();
    newer[text.indexOf('"wordIndexVersion":1') + 19] = '9'.charCodeAt(0);
    expect(() => importWordIndex(newer)).toThrow('Word index: found version 9, expected 1. Build again.');
  });
});
