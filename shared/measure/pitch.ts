/**
 * One pitch for a sound, or none.
 *
 * Every frame (4096 samples every 2048 at 48 kHz) gives a normalised square difference, the autocorrelation scaled so
 * that a perfect period reads 1 (McLeod & Wyvill, "A smarter way to find pitch", ICMC 2005):
 *
 *   n(lag) = 2 sum x[j] x[j + lag] / sum (x[j]^2 + x[j + lag]^2)
 *
 * The first of its maxima that comes near the highest is the period. Channels are correlated each by itself and
 * added, so an inverted channel cancels nothing. The frames then vote, weighted by their energy and clarity.
 */
import type { Hertz } from '../sound.ts';
import type { ActivePart } from './active-part.ts';
import { fourierOf } from './fourier.ts';
import { activeFrames, type FrameAnalysis, isSilent } from './frames.ts';
import { NumberList, PreciseList } from './growable.ts';
import { ANALYSIS_RATE_HZ } from './resample.ts';

export interface Pitch {
  /** 25 Hz .. 5 kHz. null where no frame is periodic, frames disagree, or partials are inharmonic. */
  pitchHz: Hertz | null;
  /** Share 0..1 of the energy that agrees with the pitch, times how periodic it is there. null for silence. */
  pitchConfidence: number | null;
  /** Nearest note of equal temperament at A4 = 440 Hz (ISO 16), C4 = middle C = MIDI 60. */
  note: string | null;
  /** Distance from that note, -50 .. 50 cents. */
  centsOff: number | null;
}

export const LOWEST_PITCH_HZ = 25;
export const HIGHEST_PITCH_HZ = 5_000;
const FRAME = 4096;
const HOP = 2048;
/** Longer sounds get half as many frames. */
const SHORT_SOUND_SECONDS = 5;
/** A maximum this near the highest one is taken, the first from the left. */
const KEY_MAXIMUM_SHARE = 0.9;
/** Frames less periodic than this do not vote. */
const LEAST_CLARITY = 0.6;
/** Votes are counted in bins of a tenth of a semitone. */
const VOTES_A_SEMITONE = 10;
const LEAST_CONFIDENCE = 0.5;

export class PitchAnalysis implements FrameAnalysis {
  readonly frameSize = FRAME;
  readonly hopSize: number;
  readonly #fourier = fourierOf(FRAME * 2);
  readonly #power: Float64Array;
  readonly #correlation: Float64Array;
  readonly #energy = new PreciseList();
  readonly #hz = new NumberList();
  readonly #clarity = new NumberList();

  constructor(expectedSeconds: number) {
    this.hopSize = expectedSeconds > SHORT_SOUND_SECONDS ? HOP * 2 : HOP;
    this.#power = new Float64Array(this.#fourier.bins);
    this.#correlation = new Float64Array(Math.ceil(ANALYSIS_RATE_HZ / LOWEST_PITCH_HZ) + 2);
  }

  analyse(channels: readonly Float32Array[], offset: number): void {
    const power = this.#power;
    power.fill(0);
    if (isSilent(channels, offset, FRAME)) {
      this.#vote(0, 0, 0);
      return;
    }
    for (let channel = 0; channel < channels.length; channel += 2) {
      const second = channel + 1 < channels.length ? channels[channel + 1] : null;
      this.#fourier.addPower(power, channels[channel], second, offset, FRAME, null);
    }
    const correlation = this.#correlation;
    this.#fourier.autocorrelation(power, correlation);
    const energy = correlation[0];
    normalise(correlation, channels, offset);
    const lag = firstKeyMaximum(correlation);
    if (lag === 0) this.#vote(energy, 0, 0);
    else {
      const peak = parabolaTop(correlation, lag);
      this.#vote(energy, ANALYSIS_RATE_HZ / peak.position, Math.min(1, peak.height));
    }
  }

  #vote(energy: number, hz: number, clarity: number): void {
    this.#energy.push(energy);
    this.#hz.push(hz);
    this.#clarity.push(clarity);
  }

  finish(active: ActivePart | null, inharmonic: boolean | null): Pitch {
    const energy = this.#energy.values;
    const hz = this.#hz.values;
    const clarity = this.#clarity.values;
    const [from, to] = activeFrames(energy.length, this.hopSize / ANALYSIS_RATE_HZ, active);
    const votes = new Float64Array(
      Math.ceil(12 * VOTES_A_SEMITONE * Math.log2(HIGHEST_PITCH_HZ / LOWEST_PITCH_HZ)) + 1,
    );
    const binOf = (pitch: number): number => Math.round(12 * VOTES_A_SEMITONE * Math.log2(pitch / LOWEST_PITCH_HZ));
    let total = 0;
    for (let frame = from; frame < to; frame++) {
      total += energy[frame];
      if (clarity[frame] >= LEAST_CLARITY) votes[binOf(hz[frame])] += energy[frame] * clarity[frame];
    }
    if (active === null || total <= 0) return { pitchHz: null, pitchConfidence: null, note: null, centsOff: null };
    const winner = densest(votes, VOTES_A_SEMITONE);
    let agreeing = 0;
    let octaves = 0;
    for (let frame = from; frame < to; frame++) {
      if (clarity[frame] < LEAST_CLARITY) continue;
      if (Math.abs(binOf(hz[frame]) - winner) > VOTES_A_SEMITONE / 2) continue;
      agreeing += energy[frame] * clarity[frame];
      octaves += energy[frame] * clarity[frame] * Math.log2(hz[frame]);
    }
    const pitchConfidence = Math.min(1, agreeing / total);
    if (pitchConfidence < LEAST_CONFIDENCE || inharmonic === true) {
      return { pitchHz: null, pitchConfidence, note: null, centsOff: null };
    }
    const pitchHz = 2 ** (octaves / agreeing);
    return { pitchHz, pitchConfidence, ...noteOf(pitchHz) };
  }
}

const NOTE_NAMES = ['C', 'C#', 'D', 'D#', 'E', 'F', 'F#', 'G', 'G#', 'A', 'A#', 'B'] as const;

/** Nearest note of equal temperament, A4 = 440 Hz = MIDI 69, and the distance from it in cents. */
export function noteOf(pitchHz: Hertz): { note: string; centsOff: number } {
  const exact = 69 + 12 * Math.log2(pitchHz / 440);
  const midi = Math.round(exact);
  const name = NOTE_NAMES[((midi % 12) + 12) % 12];
  return { note: `${name}${Math.floor(midi / 12) - 1}`, centsOff: 100 * (exact - midi) };
}

/** Turns the autocorrelation into n(lag): the energy of both stretches shrinks sample by sample. */
function normalise(correlation: Float64Array, channels: readonly Float32Array[], offset: number): void {
  let both = 2 * correlation[0];
  for (let lag = 0; lag < correlation.length; lag++) {
    if (lag > 0) {
      for (const samples of channels) {
        const front = samples[offset + lag - 1];
        const back = samples[offset + FRAME - lag];
        both -= front * front + back * back;
      }
    }
    correlation[lag] = both > 1e-9 * correlation.length ? (2 * correlation[lag]) / both : 0;
  }
}

/** Highest point of every positive stretch after the first fall below zero; the first that nears the best of them. */
function firstKeyMaximum(n: Float64Array): number {
  const shortest = Math.floor(ANALYSIS_RATE_HZ / HIGHEST_PITCH_HZ);
  const start = n.findIndex((value) => value < 0);
  if (start < 0) return 0;
  let best = 0;
  for (let lag = Math.max(start, shortest); lag < n.length - 1; lag++) {
    if (n[lag] > best && n[lag] >= n[lag - 1] && n[lag] >= n[lag + 1]) best = n[lag];
  }
  if (best < LEAST_CLARITY) return 0;
  for (let lag = Math.max(start, shortest); lag < n.length - 1; lag++) {
    if (n[lag] >= KEY_MAXIMUM_SHARE * best && n[lag] >= n[lag - 1] && n[lag] >= n[lag + 1]) return lag;
  }
  return 0;
}

function parabolaTop(values: Float64Array, index: number): { position: number; height: number } {
  const [before, here, after] = [values[index - 1], values[index], values[index + 1]];
  const bend = before - 2 * here + after;
  const shift = bend < 0 ? (before - after) / (2 * bend) : 0;
  return { position: index + shift, height: here - ((before - after) * shift) / 4 };
}

function densest(votes: Float64Array, width: number): number {
  let best = 0;
  let bestSum = -1;
  for (let middle = 0; middle < votes.length; middle++) {
    let sum = 0;
    for (let bin = Math.max(0, middle - width / 2); bin <= Math.min(votes.length - 1, middle + width / 2); bin++) {
      sum += votes[bin];
    }
    if (sum > bestSum) {
      bestSum = sum;
      best = middle;
    }
  }
  return best;
}
