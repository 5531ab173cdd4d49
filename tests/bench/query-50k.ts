/**
 * How long a keystroke takes over 50,000 sounds, beside a plain substring scan and FlexSearch alone in the same run.
 * Run: npx node tests/bench/query-50k.ts [SOUNDS]
 *
 * Seeded and warmed up; each figure is the least and the mean of several runs. The yardsticks answer words only: no
 * lengths, no accents, no reasons, and no typing slips.
 */
import { Index } from 'flexsearch';
import { parseQuery } from '../../shared/query/parse.ts';
import { rankSounds } from '../../shared/query/rank.ts';
import { tokenise } from '../../shared/query/tokens.ts';
import { exportWordIndex, importWordIndex } from '../../shared/query/word-file.ts';
import { buildWordIndex, WordIndex } from '../../shared/query/words.ts';
import type { Shelf } from '../../shared/shelf.ts';
import { Random } from '../measure/random.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

const SOUNDS = Number(process.argv[2] ?? 50_000);
const RUNS = 9;
const WORDS =
  'gong tam cymbal bell bowl triangle drum timpani marimba vibraphone sheet spring piano harp string violin cello bass horn flute voice chain oar kettle glass rim stone plate rod pipe whistle bottle reed skin wood metal swipe scrape bow rub pluck roll shake drop blow throw bounce soft hard slow fast long short close far damped ring muted prepared brush mallet stick hand coin'.split(
    ' ',
  );

/** Something must read the results, or the engine may leave the work out. */
let sink = 0;

function time(label: string, work: () => number): number {
  sink += work();
  const times = Array.from({ length: RUNS }, () => {
    const start = performance.now();
    sink += work();
    return performance.now() - start;
  });
  const least = Math.min(...times);
  const mean = times.reduce((sum, value) => sum + value, 0) / RUNS;
  console.log(`${label.padEnd(64)} ${least.toFixed(2).padStart(9)} ${mean.toFixed(2).padStart(9)}`);
  return least;
}

function once<T>(label: string, work: () => T): T {
  const start = performance.now();
  const result = work();
  console.log(`${label.padEnd(64)} ${(performance.now() - start).toFixed(0).padStart(9)}`);
  return result;
}

function inventShelf(): Shelf {
  const random = new Random(50);
  const word = () => random.pick(WORDS);
  const sounds = inventSounds(SOUNDS, 50).map((sound, at) => ({
    ...sound,
    name: `${word()} ${word()} ${random.whole(1, 60)}`,
    session: `${word()} ${random.whole(2001, 2024)}`,
    tags: [word(), word(), word()],
    description: `${word()} with ${word()}, ${word()} in the ${word()} room, take ${at}`,
    places: [{ folder: 'Field', file: `${word()}/${word()}_${at}.wav`, startSeconds: 0 }],
  }));
  return shelfOf(sounds);
}

/** Answers are remembered while typing on; a copy of the index has forgotten them. */
const forgetful = (index: WordIndex): WordIndex => new WordIndex(index.data);

const shelf = once(`${SOUNDS} invented sounds`, inventShelf);
console.log(`\n${'once'.padEnd(64)} ${'ms'.padStart(9)}`);
const built = once('word index: build', () => buildWordIndex(shelf, { alike: [], kinds: {}, tags: {} }));
const bytes = once('word index: to bytes', () => exportWordIndex(built));
const index = once('word index: from bytes', () => importWordIndex(bytes));
console.log(
  `  ${index.data.words.length} words, ${index.data.sounds.length} occurrences, ${(bytes.length / 1e6).toFixed(2)} MB`,
);
const texts = Array.from({ length: SOUNDS }, (_, sound) =>
  (['name', 'tags', 'session', 'description', 'file'] as const).map((field) => shelf.text(field, sound)).join('\n'),
);
const folded = texts.map((text) => text.toLowerCase());
const flex = once('FlexSearch alone: build', () => {
  const made = new Index({ tokenize: 'forward' });
  texts.forEach((text, sound) => {
    made.add(sound, text);
  });
  return made;
});
once('first question about colour and accent (sorts and gathers)', () =>
  rankSounds(shelf, index, parseQuery('dark rough, accent at end, 2 s')),
);

console.log(`\n${'words only, every answer'.padEnd(64)} ${'least ms'.padStart(9)} ${'mean ms'.padStart(9)}`);
const ratios: string[] = [];
for (const question of ['g', 'metal', 'metal swipe', 'metal swipe soft', 'vibrahpone']) {
  const ours = time(
    `${question}: ours, nothing remembered`,
    () => rankSounds(shelf, forgetful(index), parseQuery(question)).found,
  );
  time(`${question}: ours, as while typing on`, () => rankSounds(shelf, index, parseQuery(question)).found);
  const words = tokenise(question);
  const scan = time(`${question}: plain substring scan`, () => {
    let found = 0;
    for (const text of folded) if (words.every((word) => text.includes(word))) found++;
    return found;
  });
  const alone = time(`${question}: FlexSearch alone`, () => flex.search(question, { limit: SOUNDS }).length);
  ratios.push(
    `${question}: scan takes ${(scan / ours).toFixed(1)} times ours, FlexSearch ${(alone / ours).toFixed(1)}`,
  );
}
console.log(ratios.join('\n'));

console.log(
  `\n${'whole questions, with reasons for 60 rows'.padEnd(64)} ${'least ms'.padStart(9)} ${'mean ms'.padStart(9)}`,
);
const rowsOf = (question: string) => {
  const ranking = rankSounds(shelf, index, parseQuery(question));
  for (const sound of ranking.order.subarray(0, 60)) sink += ranking.reasons(sound).length;
  return ranking.found;
};
for (const question of [
  '',
  '2 bars at 84',
  'metal swipe, 2 bars at 84, accent at end, dark',
  'under 3s hits, rough, not damped',
  'near A3 ringing, in cello',
  'accent on beat 3 at 100, bright swells',
  'two octaves down, dark, 8 s, bell',
]) {
  time(question === '' ? '(nothing)' : question, () => rowsOf(question));
}
console.log(`\n${'the same at four further speeds'.padEnd(64)} ${'least ms'.padStart(9)} ${'mean ms'.padStart(9)}`);
const SPEEDS = [-24, -12, -7, 12];
const atSpeeds = (question: string) => rankSounds(shelf, index, parseQuery(question), { alsoAtSemitones: SPEEDS });
once('first question about colour there (sorts and gathers)', () => atSpeeds('dark'));
const dearer: string[] = [];
for (const question of ['dark', '2 bars at 84', 'metal swipe, 2 bars at 84, accent at end, dark', 'near A3 ringing']) {
  const plain = time(question, () => rowsOf(question));
  const further = time(`${question}: at further speeds`, () => {
    const ranking = atSpeeds(question);
    for (const sound of ranking.order.subarray(0, 60)) sink += ranking.reasons(sound).length;
    return ranking.found;
  });
  dearer.push(`${question}: ${(further / plain).toFixed(1)} times as long at four further speeds`);
}
console.log(dearer.join('\n'));
const typed = 'metal swipe, 2 bars at 84, accent at end, dark';
const keystrokes: number[] = [];
for (let run = 0; run < 3; run++) {
  const index = forgetful(built);
  for (let length = 1; length <= typed.length; length++) {
    const start = performance.now();
    const ranking = rankSounds(shelf, index, parseQuery(typed.slice(0, length)));
    for (const sound of ranking.order.subarray(0, 60)) sink += ranking.reasons(sound).length;
    keystrokes.push(performance.now() - start);
  }
}
keystrokes.sort((a, b) => a - b);
const at = (share: number) => keystrokes[Math.floor(share * (keystrokes.length - 1))].toFixed(1);
console.log(
  `\ntyping "${typed}", ${keystrokes.length} keystrokes: median ${at(0.5)} ms, 95 % within ${at(0.95)}, worst ${at(1)}`,
);
console.log(`(sink ${sink})`);
