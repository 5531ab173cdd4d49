/**
 * Loudness after ITU-R BS.1770-5 Annex 1, EBU Tech 3341 (momentary, short-term) and EBU Tech 3342 (loudness range).
 *
 *   L = -0.691 + 10 log10( sum over channels of G * mean square of the K-weighted channel )          LUFS
 *
 * Integrated loudness: 400 ms blocks every 100 ms, kept above -70 LUFS, then above their own level - 10 LU.
 * Momentary and short-term maxima: 400 ms and 3 s windows every 10 ms (a 100 ms hop would miss EBU Tech 3341 case 13).
 */
import type { Lufs } from '../sound.ts';
import { channelWeights } from './channel-weights.ts';
import { doubles } from './growable.ts';
import { type Biquad, kWeighting } from './k-weighting.ts';

export interface Loudness {
  /** Gated loudness of the whole sound. null for silence, for all below the gate, and below 400 ms (no whole block). */
  integratedLufs: Lufs | null;
  /**
   * Loudest 400 ms. A sound shorter than that is measured with silence appended, as a meter would read it standing
   * alone (our convention: BS.1770 says nothing of it). null for silence.
   */
  momentaryMaxLufs: Lufs | null;
  /** Loudest 3 s; shorter sounds with silence appended, as above. null for silence. */
  shortTermMaxLufs: Lufs | null;
  /** EBU Tech 3342. null below 3 s and for silence; "not stable" in the first minute, by the standard's own word. */
  loudnessRangeLu: number | null;
}

const SLICES_A_SECOND = 100;
const MOMENTARY_SLICES = 40;
const SHORT_TERM_SLICES = 300;
const GATE_HOP_SLICES = 10;
const ABSOLUTE_GATE_LUFS = -70;
/** EBU Tech 3342 §5: a file is followed by at least 1.5 s of silence before the range is read. */
const RANGE_TAIL_SLICES = 150;

export class LoudnessMeter {
  readonly #sampleRateHz: number;
  readonly #weights: number[];
  readonly #shelf: Biquad;
  readonly #highPass: Biquad;
  /** Four filter memories a channel (transposed direct form II, two stages). */
  readonly #memory: Float64Array;
  /** Weighted energy (not mean square) of every 10 ms slice. */
  readonly #sliceEnergy = doubles();
  #frames = 0;
  #openSliceEnergy = 0;
  #sliceEndFrame: number;

  constructor(sampleRateHz: number, channels: number, channelMask: number | null) {
    this.#sampleRateHz = sampleRateHz;
    this.#weights = channelWeights(channels, channelMask);
    const { shelf, highPass } = kWeighting(sampleRateHz);
    this.#shelf = shelf;
    this.#highPass = highPass;
    this.#memory = new Float64Array(channels * 4);
    this.#sliceEndFrame = this.#sliceEnd(0);
  }

  /** Slices end on the frame nearest to k * 10 ms, so that rates without whole slices do not drift. */
  #sliceEnd(slice: number): number {
    return Math.round(((slice + 1) * this.#sampleRateHz) / SLICES_A_SECOND);
  }

  push(block: readonly Float32Array[]): void {
    const frames = block[0]?.length ?? 0;
    let from = 0;
    while (from < frames) {
      const to = Math.min(frames, from + this.#sliceEndFrame - this.#frames);
      for (let channel = 0; channel < this.#weights.length; channel++) {
        if (this.#weights[channel] > 0) this.#openSliceEnergy += this.#filterSlice(block[channel], channel, from, to);
      }
      this.#frames += to - from;
      from = to;
      if (this.#frames >= this.#sliceEndFrame) this.#closeSlice();
    }
  }

  #closeSlice(): void {
    this.#sliceEnergy.push(this.#openSliceEnergy);
    this.#openSliceEnergy = 0;
    this.#sliceEndFrame = this.#sliceEnd(this.#sliceEnergy.length);
  }

  #filterSlice(samples: Float32Array, channel: number, from: number, to: number): number {
    const { b0, b1, b2, a1, a2 } = this.#shelf;
    const high = this.#highPass;
    const { b0: c0, b1: c1, b2: c2, a1: d1, a2: d2 } = high;
    const memory = this.#memory;
    const base = channel * 4;
    let s1 = memory[base];
    let s2 = memory[base + 1];
    let t1 = memory[base + 2];
    let t2 = memory[base + 3];
    let energy = 0;
    for (let frame = from; frame < to; frame++) {
      const x = samples[frame];
      const y = b0 * x + s1;
      s1 = b1 * x - a1 * y + s2;
      s2 = b2 * x - a2 * y;
      const z = c0 * y + t1;
      t1 = c1 * y - d1 * z + t2;
      t2 = c2 * y - d2 * z;
      energy += z * z;
    }
    // Memories that fade below anything audible are cleared: denormal numbers would make silence slow.
    memory[base] = Math.abs(s1) < 1e-30 ? 0 : s1;
    memory[base + 1] = Math.abs(s2) < 1e-30 ? 0 : s2;
    memory[base + 2] = Math.abs(t1) < 1e-30 ? 0 : t1;
    memory[base + 3] = Math.abs(t2) < 1e-30 ? 0 : t2;
    return energy * this.#weights[channel];
  }

  /** Loudness of the sound so far; more may follow. */
  finish(): Loudness {
    const whole = this.#sliceEnergy.values;
    const slicesEndFrame = whole.length === 0 ? 0 : this.#sliceEnd(whole.length - 1);
    const slices = this.#frames > slicesEndFrame ? appended(whole, this.#openSliceEnergy) : whole;
    return {
      integratedLufs: integrated(this.#windowLoudness(whole, MOMENTARY_SLICES, true)),
      momentaryMaxLufs: highest(this.#windowLoudness(slices, MOMENTARY_SLICES)),
      shortTermMaxLufs: highest(this.#windowLoudness(slices, SHORT_TERM_SLICES)),
      loudnessRangeLu: whole.length < SHORT_TERM_SLICES ? null : this.#range(slices),
    };
  }

  #range(slices: Float64Array): number | null {
    const withTail = new Float64Array(slices.length + RANGE_TAIL_SLICES);
    withTail.set(slices);
    const shortTerm = this.#windowLoudness(withTail, SHORT_TERM_SLICES, true);
    return loudnessRange(shortTerm.filter((_, index) => index % GATE_HOP_SLICES === 0));
  }

  /**
   * Loudness of every window of `width` slices. A sound shorter than one window counts as followed by silence, unless
   * `wholeOnly`, which leaves it without a window.
   */
  #windowLoudness(slices: Float64Array, width: number, wholeOnly = false): Float64Array {
    const energies =
      slices.length >= width
        ? slidingSums(slices, width)
        : wholeOnly
          ? new Float64Array(0)
          : slidingSums(slices, slices.length);
    const framesInWindow = (width * this.#sampleRateHz) / SLICES_A_SECOND;
    return energies.map((energy) => meanSquareToLufs(energy / framesInWindow));
  }
}

function meanSquareToLufs(meanSquare: number): number {
  return meanSquare > 0 ? -0.691 + 10 * Math.log10(meanSquare) : Number.NEGATIVE_INFINITY;
}

function lufsToMeanSquare(lufs: number): number {
  return 10 ** ((lufs + 0.691) / 10);
}

/** Two-stage gate over windows every 10 ms, of which the standard's 100 ms steps are taken. */
function integrated(windows: Float64Array): Lufs | null {
  const blocks = windows.filter((_, index) => index % GATE_HOP_SLICES === 0);
  const audible = blocks.filter((lufs) => lufs > ABSOLUTE_GATE_LUFS);
  if (audible.length === 0) return null;
  const relativeGateLufs = meanLoudness(audible) - 10;
  return meanLoudness(audible.filter((lufs) => lufs > relativeGateLufs));
}

/** EBU Tech 3342 §3.1: 10th to 95th percentile of the short-term loudness above -70 LUFS and above its mean - 20 LU. */
function loudnessRange(shortTerm: Float64Array): number | null {
  const audible = shortTerm.filter((lufs) => lufs >= ABSOLUTE_GATE_LUFS);
  if (audible.length === 0) return null;
  const relativeGateLufs = meanLoudness(audible) - 20;
  const kept = audible.filter((lufs) => lufs >= relativeGateLufs).sort();
  const at = (percent: number): number => kept[Math.round(((kept.length - 1) * percent) / 100)];
  return at(95) - at(10);
}

function meanLoudness(lufs: Float64Array): number {
  let sum = 0;
  for (const value of lufs) sum += lufsToMeanSquare(value);
  return meanSquareToLufs(sum / lufs.length);
}

/** Quieter than -200 LUFS is the numerical dust of a filter dying away, not sound. */
function highest(lufs: Float64Array): Lufs | null {
  let best = -200;
  for (const value of lufs) if (value > best) best = value;
  return best > -200 ? best : null;
}

function appended(values: Float64Array, last: number): Float64Array {
  const longer = new Float64Array(values.length + 1);
  longer.set(values);
  longer[values.length] = last;
  return longer;
}

/** Sum of every run of `width` values; summed afresh now and then, so that rounding does not pile up over hours. */
function slidingSums(values: Float64Array, width: number): Float64Array {
  const sums = new Float64Array(width === 0 ? 0 : values.length - width + 1);
  let sum = 0;
  for (let start = 0; start < sums.length; start++) {
    if (start % width === 0) {
      sum = 0;
      for (let index = start; index < start + width; index++) sum += values[index];
    } else {
      sum += values[start + width - 1] - values[start - 1];
    }
    sums[start] = Math.max(0, sum);
  }
  return sums;
}
