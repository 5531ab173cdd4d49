/**
 * Ranks every sound of a shelf for a question and says why.
 *
 * Words, limits, sessions and the like filter; lengths, accents and pitches rank by how far they miss; colours do both
 * softly. Sounds that fit in all numbers come before sounds that would have to be bent, whatever else they score;
 * among equals the order is that of session and name, so the same question always gives the same list. Where sounds are to
 * come near to a shape or a sound, that gives the order instead of the score: within what fits, and within what is bent.
 */
import type { Semitones } from '../sound.ts';
import type { Query } from './chips.ts';
import type { SoundColumns } from './columns.ts';
import type { Criterion, Reason, Scene } from './criterion.ts';
import { formatSemitones } from './describe.ts';
import { FITS, LEFT_OUT } from './fit.ts';
import { softened } from './near-answers.ts';
import { type Nearness, nearestFirst, nearestHeard } from './nearness.ts';
import { type TimeGoal, timeGoal } from './time-criteria.ts';
import { type Wish, wishesOf } from './wishes.ts';
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
  const scene: Scene = { columns, index, semitones: shifts[0], only: null, used: options.used ?? null };
  const near = options.near ?? null;
  const strict = answersAt(shifts, wishesOf(query), timeGoal(query.chips), scene);
  const { answers, order, shiftOf } = answered(strict, index.data.order, near);
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
  criteria: readonly Criterion[];
  /** The sounds that answer; null where all were asked and nobody has looked yet. */
  sounds: Uint32Array | null;
}

interface Answered extends Ordered {
  answers: readonly Answer[];
}

/** Sounds that answer everything; where there are none, those that answer most of what was said, at the first speed. */
function answered(strict: readonly Answer[], byName: Uint32Array, near: Nearness | null): Answered {
  const ordered = inOrder(strict, byName, near);
  if (ordered.order.length > 0) return { answers: strict, ...ordered };
  const [{ semitones, criteria }] = strict;
  const answers = [{ semitones, criteria: softened(criteria, byName.length) ?? criteria, sounds: null }];
  return { answers, ...inOrder(answers, byName, near) };
}

/** Further shifts are only worth asking at where the question is about something that varispeed changes. */
function alsoAt(query: Query, { alsoAtSemitones = [], semitones = 0 }: RankOptions): readonly Semitones[] {
  const further = new Set(alsoAtSemitones);
  further.delete(semitones);
  return wishesOf(query).some(({ moves }) => moves) ? [...further] : [];
}

/**
 * Further shifts are only asked of sounds that could answer at one, and do not fit as they are: all others stand before what
 * is bent anyway. Each wish leaves fewer for the next.
 */
function answersAt(shifts: readonly Semitones[], wishes: readonly Wish[], goal: TimeGoal, scene: Scene): Answer[] {
  const first = wishes.map((wish) => wish.criterion(goal, scene));
  const criteria = first.filter((criterion) => criterion !== null);
  const asRecorded: Answer = { semitones: shifts[0], criteria, sounds: null };
  if (shifts.length === 1) return [asRecorded];
  const staying = first.filter((_, at) => !wishes[at].moves).filter((criterion) => criterion !== null);
  const bendable = bendableSounds(criteria, staying, scene.columns.count);
  const further = shifts.slice(1).map((semitones): Answer => {
    let sounds = bendable;
    const bent = wishes.map((wish, at) => {
      if (!wish.moves) return first[at];
      const criterion = wish.criterion(goal, { ...scene, semitones, only: sounds });
      if (criterion) sounds = sounds.filter((sound) => criterion.scores[sound] !== LEFT_OUT);
      return criterion;
    });
    return { semitones, criteria: bent.filter((criterion) => criterion !== null), sounds };
  });
  return [asRecorded, ...further];
}

/** Sounds that are left out by none of what stays, and would have to be bent as they are or do not answer. */
function bendableSounds(all: readonly Criterion[], staying: readonly Criterion[], count: number): Uint32Array {
  const bendable = new Uint32Array(count);
  let found = 0;
  for (let sound = 0; sound < count; sound++) {
    if (distanceOf(sound, staying, 0) <= MOST_DISTANCE && distanceOf(sound, all, 0) > SCORE_STEPS) {
      bendable[found++] = sound;
    }
  }
  return bendable.subarray(0, found);
}

const SCORE_STEPS = 2 ** 24;
const MOST_SOUNDS = 2 ** 22;
/** Bent, and at a further shift. */
const MOST_BENT = 2;
const MOST_DISTANCE = (MOST_BENT + 1) * (SCORE_STEPS + 1);

interface Ordered {
  order: Uint32Array;
  /** Which of the answers each sound gives. */
  shiftOf: Uint8Array;
}

/**
 * Found sounds in order. Each gets one number made of: whether it would have to be bent (and whether it answers at a
 * further shift), then how far its score is from full, then its place by name; so that one plain numeric sort does it all. The
 * parts stay below 2^53, where floats count exactly.
 */
function inOrder(answers: readonly Answer[], byName: Uint32Array, near: Nearness | null): Ordered {
  if (byName.length > MOST_SOUNDS) throw new Error(`Ranking takes up to ${MOST_SOUNDS} sounds, got ${byName.length}.`);
  const shiftOf = new Uint8Array(byName.length);
  const semitonesOf = (sound: number): Semitones => answers[shiftOf[sound]].semitones;
  if (answers[0].criteria.length === 0) {
    return { order: near ? nearestHeard(byName, near, semitonesOf) : byName, shiftOf };
  }
  const [asRecorded, ...further] = answers;
  const best = new Float64Array(byName.length);
  for (let sound = 0; sound < best.length; sound++) best[sound] = distanceOf(sound, asRecorded.criteria, 0);
  for (const [at, { criteria, sounds }] of further.entries()) {
    for (const sound of sounds ?? []) {
      const distance = distanceOf(sound, criteria, 1);
      if (distance >= best[sound]) continue;
      best[sound] = distance;
      shiftOf[sound] = at + 1;
    }
  }
  const keys = new Float64Array(byName.length);
  let found = 0;
  for (let place = 0; place < byName.length; place++) {
    const distance = best[byName[place]];
    if (distance < Number.POSITIVE_INFINITY) keys[found++] = distance * MOST_SOUNDS + place;
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
    if (measured && score < FITS) bent = alreadyBent + 1;
  }
  const short = weights > 0 ? Math.round((1 - total / weights) * SCORE_STEPS) : 0;
  return bent * (SCORE_STEPS + 1) + short;
}
