/**
 * What sounds should come near to beside what is asked in words and numbers: a shape that was drawn, a sound that was sung or
 * dropped. It puts those that were found in order, and leaves out only what has no shape and no colour: silence.
 */
import type { Semitones } from '../sound.ts';
import type { Reason } from './criterion.ts';

export interface Nearness {
  /**
   * How far each of `sounds` is from what is wanted, in their order: 0 = just so, and up; never NaN, and infinite only where
   * nothing is heard.
   * `semitonesOf` is the varispeed a sound answers at.
   */
  distances(sounds: Uint32Array, semitonesOf: (sound: number) => Semitones): Float64Array;
  /** How near this one is and what differs, in plain words; it fits where no difference worth a word is heard. */
  reason(sound: number, semitones: Semitones): Reason;
}

const STEPS = 2 ** 30;
/** Sounds in one order; with STEPS below 2^53, where floats count exactly. */
const MOST_SOUNDS = 2 ** 22;

/** The same sounds, nearest first; equals stay as they stood, and silence comes last. */
export function nearestFirst(
  sounds: Uint32Array,
  near: Nearness,
  semitonesOf: (sound: number) => Semitones,
): Uint32Array {
  const distances = near.distances(sounds, semitonesOf);
  const keys = Float64Array.from(
    distances,
    (distance, place) => (distance === Infinity ? STEPS : stepOf(distance)) * MOST_SOUNDS + place,
  ).sort();
  return Uint32Array.from(keys, (key) => sounds[key % MOST_SOUNDS]);
}

const stepOf = (distance: number): number => Math.min(STEPS - 1, Math.round((distance / (1 + distance)) * STEPS));

/** The same without silence: for where nothing is asked but to be near. */
export function nearestHeard(
  sounds: Uint32Array,
  near: Nearness,
  semitonesOf: (sound: number) => Semitones,
): Uint32Array {
  const distances = near.distances(sounds, semitonesOf);
  return nearestFirst(
    sounds.filter((_, at) => distances[at] < Infinity),
    near,
    semitonesOf,
  );
}
