/**
 * How well notes are found in a folder of sounds whose notes are known:
 *
 *   npx node tests/bench/note-labelled.ts FOLDER [PATTERN]
 *
 * The truth stands in FOLDER/truth.json, { "file name": MIDI note (with cents as decimals), or null for an unpitched sound },
 * or in the names: `violin_69.wav`, `violin_A4.flac`, `hat_none.wav`. PATTERN (a regular expression) takes a part of the
 * files. `render-notes.ts` makes such a folder from a sound font.
 *
 * Prints every sound that is not answered by its note, then: how many of the noted sounds are called pitched; of those, how
 * many lie within 50 cents (the bar of mir_eval), in pitch class and in octave; how many unpitched ones got a note. Octaves
 * are judged twice, since registers named by their pipes' length and harmonics sound octaves away from their keys: as they
 * are, and with each family of names (what stands before the last two parts) allowed the octave most of it has.
 */
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { isAudioName } from '../../scripts/archive/decode/open.ts';
import { measureFile } from '../measure/recordings.ts';

/** Enough for a note; longer files would only take longer. */
const MOST_SECONDS = 3;
const CENTS = 50;
const LETTERS: Record<string, number> = { C: 0, D: 2, E: 4, F: 5, G: 7, A: 9, B: 11 };

interface Answer {
  name: string;
  family: string;
  truth: number | null;
  /** MIDI note with cents as decimals, null where none was given. */
  said: number | null;
  words: string;
}

function noteOfName(name: string): number | null | undefined {
  const last =
    name
      .replace(/\.\w+$/, '')
      .split('_')
      .at(-1) ?? '';
  if (last === 'none') return null;
  if (/^\d{1,3}$/.test(last)) return Number(last);
  const [, letter, sharp, octave] = /^([A-G])(#?)(-?\d)$/.exec(last) ?? [];
  return letter === undefined ? undefined : LETTERS[letter] + (sharp === '#' ? 1 : 0) + 12 * (Number(octave) + 1);
}

function truthsOf(folder: string): Map<string, number | null> {
  const file = join(folder, 'truth.json');
  if (existsSync(file)) {
    return new Map(Object.entries<number | null>(JSON.parse(readFileSync(file, 'utf8'))));
  }
  const named = readdirSync(folder).flatMap((name): [string, number | null][] => {
    const note = isAudioName(name) ? noteOfName(name) : undefined;
    return note === undefined ? [] : [[name, note]];
  });
  return new Map(named);
}

const [folder, pattern = ''] = process.argv.slice(2);
if (folder === undefined) {
  console.error('Say which folder: npx node tests/bench/note-labelled.ts FOLDER [PATTERN]');
  process.exit(2);
}
const answers: Answer[] = [];
for (const [name, truth] of truthsOf(folder)) {
  if (!new RegExp(pattern).test(name)) continue;
  const { pitchHz, pitchConfidence, inharmonic, gesture, samplePeakDbfs } = await measureFile(
    join(folder, name),
    MOST_SECONDS,
  );
  // A font may have no sound on a key.
  if (samplePeakDbfs === null) {
    console.log(`${name}: silent, left out`);
    continue;
  }
  answers.push({
    name,
    family: name.split('_').slice(0, -2).join('_') || name.split('_')[0],
    truth,
    said: pitchHz === null ? null : 69 + 12 * Math.log2(pitchHz / 440),
    words: `${pitchHz?.toFixed(1) ?? 'none'} (confidence ${pitchConfidence?.toFixed(2)}, inharmonic ${inharmonic}, ${gesture})`,
  });
}
if (answers.length === 0) {
  console.error(`No sound in ${folder} has a known note. Expected truth.json, or names that end in _60, _C4 or _none.`);
  process.exit(1);
}

const octavesOff = ({ truth, said }: Answer): number => Math.round(((said ?? 0) - (truth ?? 0)) / 12);
const isNear = (answer: Answer, octaves: number): boolean =>
  Math.abs((answer.said ?? 0) - (answer.truth ?? 0) - 12 * octaves) * 100 <= CENTS;

const noted = answers.filter(({ truth }) => truth !== null);
const called = noted.filter(({ said }) => said !== null);
const usualOctaves = new Map<string, number>();
for (const family of new Set(called.map((answer) => answer.family))) {
  const own = called.filter((answer) => answer.family === family && isNear(answer, octavesOff(answer)));
  const counts = new Map<number, number>();
  for (const answer of own) counts.set(octavesOff(answer), (counts.get(octavesOff(answer)) ?? 0) + 1);
  const [usual = 0, times = 0] = [...counts].sort((a, b) => b[1] - a[1])[0] ?? [];
  usualOctaves.set(family, times > own.length / 2 ? usual : 0);
}
const usualOf = (answer: Answer): number => usualOctaves.get(answer.family) ?? 0;
const right = called.filter((answer) => isNear(answer, 0));
const rightInFamily = called.filter((answer) => isNear(answer, usualOf(answer)));
const rightClass = called.filter((answer) => isNear(answer, octavesOff(answer)));
const unpitched = answers.filter(({ truth }) => truth === null);
const falseNotes = unpitched.filter(({ said }) => said !== null);

for (const answer of noted.filter((one) => one.said === null || !isNear(one, usualOf(one)))) {
  const hz = 440 * 2 ** (((answer.truth ?? 0) - 69) / 12);
  console.log(`${answer.name}: ${answer.words}, expected ${(hz * 2 ** usualOf(answer)).toFixed(1)} Hz`);
}
for (const { name, words } of falseNotes) console.log(`${name}: ${words}, expected none`);
const percent = (part: unknown[], whole: unknown[]): string =>
  `${part.length} of ${whole.length} (${((100 * part.length) / Math.max(1, whole.length)).toFixed(1)} %)`;
console.log(`called pitched: ${percent(called, noted)}`);
console.log(`of those within ${CENTS} cents: ${percent(right, called)}`);
console.log(`  with its family's octave: ${percent(rightInFamily, called)}`);
console.log(`  in any octave: ${percent(rightClass, called)}`);
console.log(`octave errors beside the family's: ${rightClass.length - rightInFamily.length}`);
console.log(`unpitched with a note: ${percent(falseNotes, unpitched)}`);
