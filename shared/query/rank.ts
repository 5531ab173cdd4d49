/**
 * Ranks every sound of a shelf for a question and says why.
 *
 * Words, limits, sessions and the like filter; lengths, accents and pitches rank by how far they miss; colours do both
 * softly. Sounds that fit in all numbers come before sounds that would have to be bent, whatever else they score;
 * among equals the order is that of session and name, so the same question always gives the same list.
 */
import type { Semitones } from '../sound.ts';
import type { Chip, Query } from './chips.ts';
import type { SoundColumns } from './columns.ts';
import { type Criterion, eitherOf, leavingOut, type Reason, type Scene } from './criterion.ts';
import { FITS, LEFT_OUT } from './fit.ts';
import { colourCriterion, pitchCriterion } from './sound-criteria.ts';
import { accentCriterion, lengthCriterion, lengthRangeCriterion, type TimeGoal, timeGoal } from './time-criteria.ts';
import { fieldCriterion, gestureCriterion, missingCriterion, useCriterion, wordCriterion } from './word-criteria.ts';
import type { WordIndex } from './words.ts';

export type { Reason } from './criterion.ts';

export interface RankOptions {
  /** 1 for each sound already used somewhere; without it "fresh" and "used" ask nothing. */
  used?: Uint8Array;
  /** Every sound answers as it would sound at this shift; a shift in the question itself goes first. */
  semitones?: Semitones;
}

export interface Ranking {
  /** Indices of the sounds found, best first. */
  order: Uint32Array;
  found: number;
  /** Why a found sound is there, in the order of the question's chips. */
  reasons(sound: number): Reason[];
  /** True where even the first only comes near what was asked, or nothing was found. */
  weak: boolean;
  /** The varispeed all sounds answered at; 0 for as recorded. */
  semitones: Semitones;
}

export function rankSounds(columns: SoundColumns, index: WordIndex, query: Query, options: RankOptions = {}): Ranking {
  const shift = query.chips.find((chip) => chip.kind === 'varispeed');
  const semitones = shift?.semitones ?? options.semitones ?? 0;
  const scene: Scene = { columns, index, semitones, used: options.used ?? null };
  const criteria = criteriaOf(query.chips, scene);
  const order = criteria.length === 0 ? index.data.order : inOrder(criteria, index.data.order);
  const reasons = (sound: number) => criteria.flatMap((criterion) => criterion.reason(sound) ?? []);
  const weak = order.length === 0 || reasons(order[0]).some((reason) => !reason.fits);
  return { order, found: order.length, reasons, weak, semitones };
}

/** Chips of one kind that name alternatives: "hits and swells" asks for either. */
const ALTERNATIVES: ReadonlySet<Chip['kind']> = new Set(['gesture', 'session', 'format', 'pitch', 'rights', 'owner']);

function criteriaOf(chips: readonly Chip[], scene: Scene): Criterion[] {
  const goal = timeGoal(chips);
  const groups = new Map<Chip['kind'] | Chip, Criterion[]>();
  for (const chip of chips) {
    const criterion = criterionOf(chip, goal, scene);
    if (!criterion) continue;
    const group = ALTERNATIVES.has(chip.kind) && !chip.negated ? chip.kind : chip;
    groups.set(group, [...(groups.get(group) ?? []), chip.negated ? leavingOut(criterion) : criterion]);
  }
  return [...groups.values()].map(eitherOf);
}

/** null for chips that ask nothing of a sound by themselves. */
function criterionOf(chip: Chip, goal: TimeGoal, scene: Scene): Criterion | null {
  switch (chip.kind) {
    case 'word':
      return wordCriterion(chip, scene);
    case 'length':
      return lengthCriterion(chip, goal, scene);
    case 'length-range':
      return lengthRangeCriterion(chip, scene);
    case 'accent':
      return accentCriterion(chip, goal, scene);
    case 'gesture':
      return gestureCriterion(chip, scene);
    case 'colour':
      return colourCriterion(chip, scene);
    case 'pitch':
      return pitchCriterion(chip, scene);
    case 'session':
      return fieldCriterion(chip.text, 'session', chip.negated, scene);
    case 'tag':
      return fieldCriterion(chip.text, 'tags', chip.negated, scene);
    case 'format':
      return fieldCriterion(chip.format, 'format', chip.negated, scene);
    case 'rights':
      return fieldCriterion(chip.text, 'rights', chip.negated, scene);
    case 'owner':
      return fieldCriterion(chip.text, 'owner', chip.negated, scene);
    case 'missing':
      return missingCriterion(chip, scene);
    case 'use':
      return useCriterion(chip, scene);
    case 'tempo':
    case 'metre':
    case 'varispeed':
      return null;
  }
}

const SCORE_STEPS = 2 ** 24;
const MOST_SOUNDS = 2 ** 22;

/**
 * Found sounds in order. Each gets one number made of: criteria it would have to be bent for, then its score, then its
 * place by name; so that one plain numeric sort does it all. The parts stay below 2^53, where floats count exactly.
 */
function inOrder(criteria: readonly Criterion[], byName: Uint32Array): Uint32Array {
  if (byName.length > MOST_SOUNDS) throw new Error(`Ranking takes up to ${MOST_SOUNDS} sounds, got ${byName.length}.`);
  const totalWeight = criteria.reduce((sum, criterion) => sum + criterion.weight, 0);
  const keys = new Float64Array(byName.length);
  let found = 0;
  for (let place = 0; place < byName.length; place++) {
    const sound = byName[place];
    let total = 0;
    let bent = 0;
    let answers = true;
    for (const { scores, weight, measured } of criteria) {
      const score = scores[sound];
      if (score === LEFT_OUT) {
        answers = false;
        break;
      }
      total += weight * score;
      if (measured && score < FITS) bent++;
    }
    if (!answers) continue;
    const distance = totalWeight > 0 ? Math.round((1 - total / totalWeight) * SCORE_STEPS) : 0;
    keys[found++] = (Math.min(bent, 63) * (SCORE_STEPS + 1) + distance) * MOST_SOUNDS + place;
  }
  const sorted = keys.subarray(0, found).sort();
  return Uint32Array.from(sorted, (key) => byName[key % MOST_SOUNDS]);
}
