/** One thing asked of a sound, answered for every sound at once. */
import type { Semitones } from '../sound.ts';
import type { SoundColumns } from './columns.ts';
import { LEFT_OUT } from './fit.ts';
import type { WordIndex } from './words.ts';

/** Why a sound is in the list, in plain words. */
export interface Reason {
  text: string;
  /** False where the sound only comes near what was asked. */
  fits: boolean;
}

export interface Criterion {
  weight: number;
  /** Numbers either fit or must be bent; sounds that fit in all of them come first, whatever else they score. */
  measured: boolean;
  /** LEFT_OUT, or 0..1. */
  scores: Float32Array;
  /** From this score on a sound answers fully: what "not" leaves out. */
  full: number;
  /** The word or name asked for, where it is one that what was written or heard may lack; null for what must hold. */
  said: string | null;
  reason(sound: number): Reason | null;
}

/** What criteria read. Under varispeed every sound answers as it would sound at that shift. */
export interface Scene {
  columns: SoundColumns;
  index: WordIndex;
  semitones: Semitones;
  /** The sounds that are asked; null for all. What others would answer is never looked at. */
  only: Uint32Array | null;
  /** 1 for each sound already used somewhere; null where that is not known. */
  used: Uint8Array | null;
}

/** The scores of all sounds that are asked; the others are left out. */
export function scored({ columns, only }: Scene, scoreOf: (sound: number) => number): Float32Array {
  const scores = new Float32Array(columns.count);
  if (only === null) for (let sound = 0; sound < scores.length; sound++) scores[sound] = scoreOf(sound);
  else {
    scores.fill(LEFT_OUT);
    for (const sound of only) scores[sound] = scoreOf(sound);
  }
  return scores;
}

/** The same, asked with "not": who answers fully is left out, everyone else is as good as before. */
export function leavingOut(criterion: Criterion): Criterion {
  const scores = criterion.scores.map((score) => (score >= criterion.full ? LEFT_OUT : 1));
  return { weight: 0, measured: false, scores, full: 1, said: null, reason: () => null };
}

/** Alternatives: each sound takes the one it answers best. */
export function eitherOf(criteria: readonly Criterion[]): Criterion {
  const [first, ...others] = criteria;
  if (others.length === 0) return first;
  const scores = first.scores.slice();
  for (const { scores: other } of others) {
    for (let sound = 0; sound < scores.length; sound++) if (other[sound] > scores[sound]) scores[sound] = other[sound];
  }
  return {
    ...first,
    scores,
    reason: (sound) => criteria.find((criterion) => criterion.scores[sound] === scores[sound])?.reason(sound) ?? null,
  };
}

/** A criterion that is true or false of a sound. */
export function plainFact(isTrue: (sound: number) => boolean, count: number, text: string): Criterion {
  const scores = new Float32Array(count);
  for (let sound = 0; sound < count; sound++) scores[sound] = isTrue(sound) ? 1 : LEFT_OUT;
  return {
    weight: 0.2,
    measured: false,
    scores,
    full: 0,
    said: null,
    reason: (sound) => (scores[sound] === LEFT_OUT ? null : { text, fits: true }),
  };
}
