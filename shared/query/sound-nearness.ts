/**
 * What comes near to a sound that is not on the shelf, one that was sung or dropped: by its shape (./contour.ts), by its
 * colour, or by both together.
 */
import type { Shelf } from '../shelf.ts';
import { CONTOUR_POINTS, type Hertz, type Measurements, type Seconds, type Semitones } from '../sound.ts';
import { shapeDistance, type WantedShape } from './contour.ts';
import { type LikenessWeights, squaredDistances } from './likeness.ts';
import type { Nearness } from './nearness.ts';
import { nearShape } from './shape-words.ts';

const COLOUR: LikenessWeights = { timbre: 1, movement: 0, pitch: 0, length: 0 };

export interface WantedColour {
  /** The sound's row, on the shelf's own scale (../vectors.ts). */
  vector: ArrayLike<number>;
  centroidHz: Hertz | null;
  roughness: number | null;
}

/** Nearer than this share of the shelf's middle distance, no difference is worth a word (common practice, no source). */
const MUCH_THE_SAME = 0.4;
/** As where Alike says darker and rougher. */
const OTHER_OCTAVES = 0.15;
const OTHER_ROUGHNESS = 0.1;

/**
 * By the group timbre of the likeness vectors, as the pane Alike counts "Colour" alone. Exact over every sound; each at the
 * colour it was recorded with, whatever varispeed it answers at. 0 = the same colour, about 1 = as far as chance.
 */
export function colourNearness(shelf: Shelf, wanted: WantedColour): Nearness {
  const all = new Float64Array(squaredDistances(shelf, wanted.vector, COLOUR)).map((squared) =>
    // Silence has no row, so that no number comes out.
    Number.isNaN(squared) ? Infinity : Math.sqrt(squared / 2),
  );
  const middle = median(gathered(all, sampleOf(shelf.count)));
  const centroid = shelf.number('centroidHz');
  const roughness = shelf.number('roughness');
  return {
    distances: (sounds) => gathered(all, sounds),
    reason: (sound) => {
      if (all[sound] === Infinity) return { text: 'silent: no colour', fits: false };
      if (all[sound] <= MUCH_THE_SAME * middle) return { text: 'much the same colour', fits: true };
      const words: string[] = [];
      const octaves = Math.log2(centroid[sound] / (wanted.centroidHz ?? Number.NaN));
      if (Math.abs(octaves) > OTHER_OCTAVES) words.push(octaves < 0 ? 'darker' : 'brighter');
      const rougher = roughness[sound] - (wanted.roughness ?? Number.NaN);
      if (Math.abs(rougher) > OTHER_ROUGHNESS) words.push(rougher > 0 ? 'rougher' : 'smoother');
      return { text: words.join(' and ') || 'another colour', fits: false };
    },
  };
}

/**
 * The contour of a measured sound as a wanted shape: that of its active part, stretched to CONTOUR_POINTS, as sounds on the
 * shelf are compared by theirs. A pause before or after it in the file asks for nothing.
 */
export function contourOfActivePart(sound: ShapedSound): Float32Array {
  const { contour, durationSeconds, activeStartSeconds, activeSeconds } = sound;
  const points = (seconds: Seconds): number => (seconds / durationSeconds) * CONTOUR_POINTS;
  const isKnown = activeStartSeconds !== null && activeSeconds !== null && activeSeconds > 0 && durationSeconds > 0;
  const first = isKnown ? points(activeStartSeconds) : 0;
  const step = isKnown ? points(activeSeconds) / CONTOUR_POINTS : 1;
  return Float32Array.from({ length: CONTOUR_POINTS }, (_, point) => {
    const place = Math.max(0, Math.min(CONTOUR_POINTS - 1, first + (point + 0.5) * step - 0.5));
    const before = Math.floor(place);
    const next = contour[Math.min(CONTOUR_POINTS - 1, before + 1)];
    return contour[before] + (next - contour[before]) * (place - before);
  });
}

type ShapedSound = Pick<Measurements, 'contour' | 'durationSeconds' | 'activeStartSeconds' | 'activeSeconds'>;

/** A nearness whose distances are exact only for the nearest and lower bounds for the rest (as those of a shape are). */
export interface BoundedNearness extends Nearness {
  exact(sound: number, semitones: Semitones): number;
}

export function shapeNearness(shelf: Shelf, wanted: WantedShape): BoundedNearness {
  return { ...nearShape(shelf, wanted), exact: (sound, semitones) => shapeDistance(shelf, wanted, sound, semitones) };
}

/** So many sounds come in exact order. */
export const EXACT_IN_BOTH = 200;

/**
 * Two kinds of nearness as one: each distance divided by its median over the shelf (of a sample of it), so that neither
 * counts more for its scale, and the mean of both. 0 = just so in both, about 1 = as the middle of the shelf. Exact for the
 * EXACT_IN_BOTH nearest; of the others it is known that none is nearer than those.
 */
export function bothNearnesses(soundCount: number, first: BoundedNearness, second: Nearness): Nearness {
  const sample = sampleOf(soundCount);
  const firstUnit = median(Float64Array.from(sample, (sound) => first.exact(sound, 0))) || 1;
  const secondUnit = median(second.distances(sample, () => 0)) || 1;
  return {
    distances: (sounds, semitonesOf) => {
      const bounds = first.distances(sounds, semitonesOf);
      const others = second.distances(sounds, semitonesOf);
      const together = bounds.map((bound, at) => (bound / firstUnit + others[at] / secondUnit) / 2);
      refine(together, EXACT_IN_BOTH, (at) => {
        const exact = first.exact(sounds[at], semitonesOf(sounds[at]));
        return (exact / firstUnit + others[at] / secondUnit) / 2;
      });
      return together;
    },
    reason: (sound, semitones) => {
      const reasons = [first.reason(sound, semitones), second.reason(sound, semitones)];
      return { text: reasons.map(({ text }) => text).join(', '), fits: reasons.every(({ fits }) => fits) };
    },
  };
}

/**
 * Puts exact distances in the place of lower bounds, by rising bound, until the `count` nearest are certain: no bound that
 * is left is below the furthest of them.
 */
function refine(bounds: Float64Array, count: number, exactAt: (at: number) => number): void {
  const rising = Uint32Array.from(bounds.keys()).sort((a, b) => bounds[a] - bounds[b]);
  const nearest: number[] = [];
  for (const at of rising) {
    if (nearest.length === count && bounds[at] >= nearest[count - 1]) return;
    const exact = exactAt(at);
    bounds[at] = exact;
    let place = nearest.length;
    while (place > 0 && nearest[place - 1] > exact) place--;
    nearest.splice(place, 0, exact);
    if (nearest.length > count) nearest.pop();
  }
}

/** Sounds that a middle distance is taken from, spread evenly over the shelf: enough to hold it within a few per cent. */
const SAMPLED_SOUNDS = 512;

function sampleOf(soundCount: number): Uint32Array {
  const step = Math.max(1, Math.floor(soundCount / SAMPLED_SOUNDS));
  return new Uint32Array(Math.ceil(soundCount / step)).map((_, at) => at * step);
}

/** A plain loop: several times as fast as Float64Array.from with a function. */
function gathered(values: Float64Array, at: Uint32Array): Float64Array {
  const out = new Float64Array(at.length);
  for (let i = 0; i < at.length; i++) out[i] = values[at[i]];
  return out;
}

/** Of those that are finite. */
function median(values: Float64Array): number {
  const finite = values.filter(Number.isFinite).sort();
  return finite[finite.length >> 1] ?? 0;
}
