/**
 * The one partial that drowns all others: the note of a triangle, a glass, or a high piano string over the thump of its
 * key, where partials stand in no row or the waveform has no clear period.
 *
 * In each frame of the fine spectrum partials are weighed as the ear does (frequency weighting A, IEC 61672-1). One
 * rules there that stands LEAST_MARGIN_DB over every other and holds LEAST_ENERGY_SHARE of all that is heard; so does the
 * lowest that is heard at all where it stands LOWEST_MARGIN_DB over the others, both unweighted, as in a bar. It is the
 * note of the sound when the same one rules in more than half of it, frames counted by their loudness,
 * energy^0.3 (10 dB is twice as loud: Stevens' power law), so that a long ring outweighs a bright blow. The rule is
 * ours: a piano's F#7 is found by it, a cowbell of two tones is not.
 */
import type { Hertz } from '../sound.ts';
import { doubles, singles } from './growable.ts';
import { remembered } from './memo.ts';
import type { Partial } from './partials.ts';
import { LOUDNESS_EXPONENT } from './pitch-track.ts';

export interface RulingPartial {
  hz: Hertz;
  /** Share 0..1 of the sound in which it rules. */
  share: number;
}

const HIGHEST_HEARD_HZ: Hertz = 20_000;
const LEAST_MARGIN_DB = 15;
const LOWEST_MARGIN_DB = 13;
/** A lower partial this far down is not heard: weighted and unweighted. */
const UNHEARD_DB = 20;
const ABSENT_DB = 30;
const LEAST_ENERGY_SHARE = 0.25;
const LEAST_LOUDNESS_SHARE = 0.5;
/** A partial's main lobe under the Hann window holds 1.5 times the power of a centred peak bin. */
const LOBE = 1.5;
/** A quarter tone: partials this near are one. */
const SAME_NOTE = 2 ** (0.5 / 12);

/** Power gain of frequency weighting A (IEC 61672-1): 1 at 1 kHz, within 0.02 dB. */
export function powerWeightA(hz: Hertz): number {
  const square = hz * hz;
  const amplitude =
    (12_194 ** 2 * square * square) /
    ((square + 20.6 ** 2) * Math.sqrt((square + 107.7 ** 2) * (square + 737.9 ** 2)) * (square + 12_194 ** 2));
  return amplitude * amplitude * 10 ** 0.2;
}

/** One table a resolution; power spectra of one resolution have one length. */
const weightsOf = remembered((binHz: number) =>
  Float64Array.from({ length: Math.floor(HIGHEST_HEARD_HZ / binHz) }, (_, k) => powerWeightA(k * binHz)),
);

export class RulingPartialWatch {
  readonly #weights: Float64Array;
  /** Of each frame; 0 where none rules. */
  readonly #hz = singles();
  readonly #energy = doubles();

  constructor(binHz: number) {
    this.#weights = weightsOf(binHz);
  }

  /** Power spectrum of one frame, and the partials found in it. */
  push(power: Float64Array, partials: readonly Partial[]): void {
    const weights = this.#weights;
    let energy = 0;
    for (let k = 0; k < weights.length; k++) energy += power[k] * weights[k];
    let hz = 0;
    let first = 0;
    let second = 0;
    for (const partial of partials) {
      const heard = partial.power * powerWeightA(partial.hz);
      if (heard > first) {
        hz = partial.hz;
        second = first;
        first = heard;
      } else if (heard > second) second = heard;
    }
    const rules = first >= second * 10 ** (LEAST_MARGIN_DB / 10) && LOBE * first >= energy * LEAST_ENERGY_SHARE;
    this.#energy.push(energy);
    this.#hz.push(rules ? hz : rulingLowest(partials, energy));
  }

  /** Over the frames `from` .. `to` - 1; null where no partial rules long enough. */
  finish(from: number, to: number): RulingPartial | null {
    const loudness = this.#energy.values.subarray(from, to).map((energy) => energy ** LOUDNESS_EXPONENT);
    const hz = this.#hz.values.subarray(from, to);
    const total = loudness.reduce((sum, value) => sum + value, 0);
    // What rules in more than half of the sound also rules at its middle, by frequency and by weight.
    const middle = weightedMedian(hz, loudness);
    if (total <= 0 || middle <= 0) return null;
    let agreeing = 0;
    let octaves = 0;
    hz.forEach((value, frame) => {
      if (value * SAME_NOTE < middle || value > middle * SAME_NOTE) return;
      agreeing += loudness[frame];
      octaves += loudness[frame] * Math.log2(value);
    });
    if (agreeing < total * LEAST_LOUDNESS_SHARE) return null;
    return { hz: 2 ** (octaves / agreeing), share: agreeing / total };
  }
}

/** Frequency of the strongest partial where it is the lowest and rules as such, else 0. Partials come strongest first. */
function rulingLowest(partials: readonly Partial[], energy: number): Hertz {
  if (partials.length === 0) return 0;
  const [strongest, second] = partials;
  const heard = strongest.power * powerWeightA(strongest.hz);
  if (LOBE * heard < energy * LEAST_ENERGY_SHARE) return 0;
  if (second !== undefined && strongest.power < second.power * 10 ** (LOWEST_MARGIN_DB / 10)) return 0;
  const isUnder = ({ hz, power }: Partial): boolean =>
    hz < strongest.hz &&
    power * 10 ** (ABSENT_DB / 10) > strongest.power &&
    power * powerWeightA(hz) * 10 ** (UNHEARD_DB / 10) > heard;
  return partials.some(isUnder) ? 0 : strongest.hz;
}

/** The value below and above which lies at most half of the weight. */
function weightedMedian(values: Float32Array, weights: Float64Array): number {
  const order = Array.from(values.keys()).sort((a, b) => values[a] - values[b]);
  const half = weights.reduce((sum, weight) => sum + weight, 0) / 2;
  let below = 0;
  for (const index of order) {
    below += weights[index];
    if (below >= half) return values[index];
  }
  return 0;
}
