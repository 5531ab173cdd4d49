/**
 * Ranks every sound of a shelf for a question and says why.
 *
 * Words, limits, sessions and the like filter; lengths, accents and pitches rank by how far they miss; colours do both
 * softly. Sounds that fit in all numbers come before sounds that would have to be bent, whatever else they score;
 * among equals the order is that of session and name, so the same question always gives the same list. Where sounds are to
 * come near to a shape or a sound, that gives the order instead of the score: within what fits, and within what is bent.
 */
import type { Semitones } from '../sound.ts';
import type { Chip, Query } from './chips.ts';
import type { SoundColumns } from './columns.ts';
import { type Criterion, eitherOf, leavingOut, type Reason, type Scene } from './criterion.ts';
import { formatSemitones } from './describe.ts';
import { FITS, LEFT_OUT } from './fit.ts';
import { type Nearness, nearestFirst } from './nearness.ts';
import { colourCriterion, pitchCriterion } from './sound-criteria.ts';
import {
  accentCriterion,
  lengthCriterion,
  lengthRangeCriterion,
  pulseCriterion,
  type TimeGoal,
  timeGoal,
} from './time-criteria.ts';
import { fieldCriterion, gestureCriterion, missingCriterion, useCriterion, wordCriterion } from './word-criteria.ts';
import type { WordIndex } from './words.ts';

export type { Reason } from './criterion.ts';

export interface RankOptions {
  /** 1 for each sound already used somewhere; without it "fresh" and "used" ask nothing. */
  used?: Uint8Array;
  /** Every sound answers as it would sound at this shift; a shift in the question itself goes first. */
  semitones?: Semitones;
  /** Further shifts each sound may answer at where that fits better; as recorded comes first. */
  alsoAtSemitones?: readonly Semitones[];
  /** What the sounds found should come near to. */
  near?: Nearness | null;
}

export interface Ranking {
  /** Indices of the sounds found, best first. */
  order: Uint32Array;
  found: number;
  /** Why a found sound is there, in the order of the question's chips. */
  reasons(sound: number): Reason[];
  /** True where even the first only comes near what was asked, or nothing was found. */
  weak: boolean;
  /** The varispeed that was asked for; 0 for as recorded. */
  semitones: Semitones;
  /** The varispeed a found sound answers at: the one asked for, or a further one that fits it better. */
  semitonesOf(sound: number): Semitones;
}

export function rankSounds(columns: SoundColumns, index: WordIndex, query: Query, options: RankOptions = {}): Ranking {
  const asked = query.chips.find((chip) => chip.kind === 'varispeed');
  const shifts = asked ? [asked.semitones] : [options.semitones ?? 0, ...alsoAt(query, options)];
  const answers = shifts.map((semitones): Answer => {
    const scene: Scene = { columns, index, semitones, used: options.used ?? null };
    return { semitones, criteria: criteriaOf(query, scene) };
  });
  const near = options.near ?? null;
  const { order, shiftOf } = inOrder(answers, index.data.order, near);
  const answerOf = (sound: number) => answers[shiftOf[sound]];
  const reasons = (sound: number) => {
    const { semitones, criteria } = answerOf(sound);
    const because = [
      ...(near ? [near.reason(sound, semitones)] : []),
      ...criteria.flatMap((criterion) => criterion.reason(sound) ?? []),
    ];
    return semitones === 0 ? because : [{ text: `at ${formatSemitones(semitones)}`, fits: true }, ...because];
  };
  const weak = order.length === 0 || reasons(order[0]).some((reason) => !reason.fits);
  return {
    order,
    found: order.length,
    reasons,
    weak,
    semitones: shifts[0],
    semitonesOf: (sound) => answerOf(sound).semitones,
  };
}

/** The question as asked of the sounds at one shift. */
interface Answer {
  semitones: Semitones;
  criteria: Criterion[];
}

const HEARD_UNDER_VARISPEED: ReadonlySet<Chip['kind']> = new Set([
  'length',
  'length-range',
  'accent',
  'colour',
  'pitch',
]);

/** Further shifts are only worth asking at where the question is about something that varispeed changes. */
function alsoAt({ chips }: Query, { alsoAtSemitones = [] }: RankOptions): readonly Semitones[] {
  return chips.some((chip) => HEARD_UNDER_VARISPEED.has(chip.kind)) ? alsoAtSemitones : [];
}

/** Chips of one kind that name alternatives: "hits and swells" asks for either. */
const ALTERNATIVES: ReadonlySet<Chip['kind']> = new Set(['gesture', 'session', 'format', 'pitch', 'rights', 'owner']);

/** "2 s or 4 s" asks for either, "over 2 s, under 4 s" for both. */
function namesAlternative(chip: Chip): boolean {
  if (chip.negated) return false;
  return ALTERNATIVES.has(chip.kind) || (chip.kind === 'length' && (chip.fit === 'exact' || chip.fit === 'about'));
}

function criteriaOf({ chips }: Query, scene: Scene): Criterion[] {
  const goal = timeGoal(chips);
  const groups = new Map<Chip['kind'] | Chip, Criterion[]>();
  for (const chip of chips) {
    const criterion = criterionOf(chip, goal, scene);
    if (!criterion) continue;
    const group = namesAlternative(chip) ? chip.kind : chip;
    groups.set(group, [...(groups.get(group) ?? []), chip.negated ? leavingOut(criterion) : criterion]);
  }
  const criteria = [...groups.values()].map(eitherOf);
  const pulse = pulseCriterion(chips, scene);
  return pulse ? [...criteria, pulse] : criteria;
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
const MOST_BENT = 63;

/**
 * Found sounds in order. Each gets one number made of: criteria it would have to be bent for (a further shift counts as
 * one), then how far its score is from full, then its place by name; so that one plain numeric sort does it all. The
 * parts stay below 2^53, where floats count exactly.
 */
function inOrder(
  answers: readonly Answer[],
  byName: Uint32Array,
  near: Nearness | null,
): { order: Uint32Array; shiftOf: Uint8Array } {
  if (byName.length > MOST_SOUNDS) throw new Error(`Ranking takes up to ${MOST_SOUNDS} sounds, got ${byName.length}.`);
  const shiftOf = new Uint8Array(byName.length);
  const semitonesOf = (sound: number): Semitones => answers[shiftOf[sound]].semitones;
  if (answers.every(({ criteria }) => criteria.length === 0)) {
    return { order: near ? nearestFirst(byName, near, semitonesOf) : byName, shiftOf };
  }
  const keys = new Float64Array(byName.length);
  let found = 0;
  for (let place = 0; place < byName.length; place++) {
    const sound = byName[place];
    let best = Number.POSITIVE_INFINITY;
    for (let shift = 0; shift < answers.length; shift++) {
      const distance = distanceOf(sound, answers[shift].criteria, Math.min(shift, 1));
      if (distance < best) {
        best = distance;
        shiftOf[sound] = shift;
      }
    }
    if (best < Number.POSITIVE_INFINITY) keys[found++] = best * MOST_SOUNDS + place;
  }
  const sorted = keys.subarray(0, found).sort();
  const order = Uint32Array.from(sorted, (key) => byName[key % MOST_SOUNDS]);
  if (near) {
    for (const [from, to] of equallyBent(sorted)) {
      order.set(nearestFirst(order.subarray(from, to), near, semitonesOf), from);
    }
  }
  return { order, shiftOf };
}

/** Where sounds that are bent for as many criteria begin and end in the row of sorted keys. */
function equallyBent(sorted: Float64Array): [from: number, to: number][] {
  const bentOf = (key: number): number => Math.floor(key / MOST_SOUNDS / (SCORE_STEPS + 1));
  const runs: [number, number][] = [];
  for (let from = 0, to = 1; to <= sorted.length; to++) {
    if (to < sorted.length && bentOf(sorted[to]) === bentOf(sorted[from])) continue;
    runs.push([from, to]);
    from = to;
  }
  return runs;
}

/** A whole number that rises as the sound answers less well; infinite where it does not answer. */
function distanceOf(sound: number, criteria: readonly Criterion[], alreadyBent: number): number {
  let total = 0;
  let weights = 0;
  let bent = alreadyBent;
  for (let at = 0; at < criteria.length; at++) {
    const { scores, weight, measured } = criteria[at];
    const score = scores[sound];
    if (score === LEFT_OUT) return Number.POSITIVE_INFINITY;
    total += weight * score;
    weights += weight;
    if (measured && score < FITS) bent++;
  }
  const short = weights > 0 ? Math.round((1 - total / weights) * SCORE_STEPS) : 0;
  return Math.min(bent, MOST_BENT) * (SCORE_STEPS + 1) + short;
}
