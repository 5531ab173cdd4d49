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
 *
 * A period is not yet a note: partials on the 5th, 10th and 12th multiple of a low tone have its period, and nobody hears
 * it. So the partials (fine-spectrum.ts) must fill the period's row; else the note is that of one partial that drowns
 * all others, or none.
 */
import type { Hertz } from '../sound.ts';
import type { ActivePart } from './active-part.ts';
import { fourierOf } from './fourier.ts';
import { activeFrames, type FrameAnalysis, isSilent } from './frames.ts';
import { doubles, singles } from './growable.ts';
import type { HarmonicRow } from './partials.ts';
import { ANALYSIS_RATE_HZ } from './resample.ts';
import type { RulingPartial } from './ruling-partial.ts';
import { interpolator } from './true-peak.ts';

export interface Pitch {
  /** 25 Hz .. 5 kHz. null where frames have no common period, or its partials fill no row, and no partial rules. */
  pitchHz: Hertz | null;
  /**
   * Share 0..1 of the energy that agrees with the pitch, times how periodic it is there; of a ruling partial the share
   * of the sound in which it rules. null for silence.
   */
  pitchConfidence: number | null;
  /** Nearest note of equal temperament at A4 = 440 Hz (ISO 16), C4 = middle C = MIDI 60. */
  note: string | null;
  /** Distance from that note, -50 .. 50 cents. */
  centsOff: number | null;
}

/** What the spectrum's partials say about a pitch (fine-spectrum.ts). */
export interface PartialsVerdict {
  inharmonic: boolean | null;
  /** The harmonic row of a pitch and the share of the partials' power in it; null without partials. */
  rowOf(pitchHz: Hertz): HarmonicRow | null;
  /** The one partial that drowns all others, or null. */
  rulingPartial(): RulingPartial | null;
}

export const LOWEST_PITCH_HZ = 25;
export const HIGHEST_PITCH_HZ = 5_000;
const FRAME = 4096;
const HOP = 2048;
/** Longer sounds get half as many frames. */
const SHORT_SOUND_SECONDS = 5;
/** A maximum this near the highest one is taken, the first from the left. */
const KEY_MAXIMUM_SHARE = 0.9;
/** Lags below this are looked at in quarter samples. */
const FINE_LAGS = 64;
const FINE_STEPS = 4;
/** Frames less periodic than this do not vote. */
const LEAST_CLARITY = 0.6;
/** Votes are counted in bins of a tenth of a semitone. */
const VOTES_A_SEMITONE = 10;
/** Of the partials' power so much must lie in the pitch's row: a bell's common period is no pitch. */
const HARMONIC_BOUNDS = { confidence: 0.5, rowShare: 0.5 };
/** Partials in no row still give a pitch where one of them rules, as in a bell heard from far. */
const INHARMONIC_BOUNDS = { confidence: 0.8, rowShare: 0.85 };
/** The row an octave up holds as much as this of a row's share: its odd places are empty, and it is the octave. */
const OCTAVE_SHARE = 0.99;

export class PitchAnalysis implements FrameAnalysis {
  readonly frameSize = FRAME;
  readonly hopSize: number;
  readonly #fourier = fourierOf(FRAME * 2);
  readonly #power: Float64Array;
  readonly #correlation: Float64Array;
  readonly #lost: Float64Array;
  readonly #fine = new Float64Array(FINE_LAGS * FINE_STEPS);
  readonly #energy = doubles();
  readonly #hz = singles();
  readonly #clarity = singles();

  constructor(expectedSeconds: number) {
    this.hopSize = expectedSeconds > SHORT_SOUND_SECONDS ? HOP * 2 : HOP;
    this.#power = new Float64Array(this.#fourier.bins);
    this.#correlation = new Float64Array(Math.ceil(ANALYSIS_RATE_HZ / LOWEST_PITCH_HZ) + 2);
    this.#lost = new Float64Array(this.#correlation.length);
  }

  analyse(channels: readonly Float32Array[], offset: number): void {
    const power = this.#power;
    power.fill(0);
    if (isSilent(channels, offset, FRAME)) {
      this.#vote(0, 0, 0);
      return;
    }
    this.#fourier.addPowers(power, channels, offset, FRAME, null);
    const correlation = this.#correlation;
    this.#fourier.autocorrelation(power, correlation);
    const energy = normalise(correlation, this.#lost, channels, offset);
    const period = findPeriod(correlation, this.#fine);
    // A tone above the range must not answer as its own subharmonic: it is found, and not called a pitch.
    if (period === null || period.lag < ANALYSIS_RATE_HZ / HIGHEST_PITCH_HZ) this.#vote(energy, 0, 0);
    else this.#vote(energy, ANALYSIS_RATE_HZ / period.lag, Math.min(1, period.clarity));
  }

  #vote(energy: number, hz: number, clarity: number): void {
    this.#energy.push(energy);
    this.#hz.push(hz);
    this.#clarity.push(clarity);
  }

  finish(active: ActivePart | null, partials: PartialsVerdict): Pitch {
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
    const least = partials.inharmonic === true ? INHARMONIC_BOUNDS : HARMONIC_BOUNDS;
    if (agreeing > 0 && pitchConfidence >= least.confidence) {
      const { pitchHz, rowShare } = heardInRow(2 ** (octaves / agreeing), partials);
      if (rowShare >= least.rowShare) return { pitchHz, pitchConfidence, ...noteOf(pitchHz) };
    }
    const ruling = partials.rulingPartial();
    if (ruling === null || ruling.hz < LOWEST_PITCH_HZ || ruling.hz > HIGHEST_PITCH_HZ) {
      return { pitchHz: null, pitchConfidence, note: null, centsOff: null };
    }
    return { pitchHz: ruling.hz, pitchConfidence: ruling.share, ...noteOf(ruling.hz) };
  }
}

/**
 * A period as its partials have it: an octave or more up where only even places of its row are filled, and where
 * the others stand in no row, which pull the period to and fro, on the row's own fundamental.
 */
function heardInRow(periodHz: Hertz, partials: PartialsVerdict): { pitchHz: Hertz; rowShare: number } {
  let row = partials.rowOf(periodHz);
  if (row === null) return { pitchHz: periodHz, rowShare: 1 };
  let pitchHz = periodHz;
  while (row.share > 0 && pitchHz * 2 <= HIGHEST_PITCH_HZ) {
    const above = partials.rowOf(pitchHz * 2);
    if (above === null || above.share < row.share * OCTAVE_SHARE) break;
    pitchHz *= 2;
    row = above;
  }
  return { pitchHz: partials.inharmonic === false ? pitchHz : row.fundamentalHz, rowShare: row.share };
}

const NOTE_NAMES = ['C', 'C#', 'D', 'D#', 'E', 'F', 'F#', 'G', 'G#', 'A', 'A#', 'B'] as const;

/** Nearest note of equal temperament, A4 = 440 Hz = MIDI 69, and the distance from it in cents. */
export function noteOf(pitchHz: Hertz): { note: string; centsOff: number } {
  const exact = 69 + 12 * Math.log2(pitchHz / 440);
  const midi = Math.round(exact);
  const name = NOTE_NAMES[((midi % 12) + 12) % 12];
  return { note: `${name}${Math.floor(midi / 12) - 1}`, centsOff: 100 * (exact - midi) };
}

/**
 * Turns the autocorrelation into n(lag), each channel's mean taken out: the energy of both stretches and their sums
 * shrink sample by sample. Returns the energy of the frame.
 */
function normalise(
  correlation: Float64Array,
  lost: Float64Array,
  channels: readonly Float32Array[],
  offset: number,
): number {
  const lags = correlation.length;
  lost.fill(0);
  for (const samples of channels) {
    const mean = meanOf(samples, offset);
    let sums = 2 * mean * FRAME;
    correlation[0] -= mean * mean * FRAME;
    for (let lag = 1; lag < lags; lag++) {
      const front = samples[offset + lag - 1];
      const back = samples[offset + FRAME - lag];
      sums -= front + back;
      correlation[lag] -= mean * (sums - mean * (FRAME - lag));
      lost[lag] += (front - mean) * (front - mean) + (back - mean) * (back - mean);
    }
  }
  const energy = Math.max(0, correlation[0]);
  let both = 2 * energy;
  for (let lag = 1; lag < lags; lag++) {
    both -= lost[lag];
    // Where next to nothing of the frame's energy is left, the quotient would be rounding alone.
    correlation[lag] = both > energy * 1e-4 ? (2 * correlation[lag]) / both : 0;
  }
  correlation[0] = 1;
  return energy;
}

function meanOf(samples: Float32Array, offset: number): number {
  let sum = 0;
  for (let n = offset; n < offset + FRAME; n++) sum += samples[n];
  return sum / FRAME;
}

interface Period {
  lag: number;
  clarity: number;
}

/**
 * The first maximum that nears the highest one (after n has fallen below zero), made more exact by its multiples.
 * Short lags are looked at between the samples, where a bright high tone has its maxima.
 */
function findPeriod(n: Float64Array, fine: Float64Array): Period | null {
  const start = n.findIndex((value) => value < 0);
  if (start < 0) return null;
  interpolateShortLags(n, fine);
  let best = 0;
  for (let turn = 0; turn < 2; turn++) {
    const fineFrom = start * FINE_STEPS;
    for (let step = fineFrom; step < fine.length - 1; step++) {
      if (fine[step] < LEAST_CLARITY || fine[step] < fine[step - 1] || fine[step] < fine[step + 1]) continue;
      const top = parabolaTop(fine, step);
      if (turn === 0) best = Math.max(best, top.clarity);
      else if (top.clarity >= KEY_MAXIMUM_SHARE * best) {
        return sharpened(n, { lag: top.lag / FINE_STEPS, clarity: top.clarity });
      }
    }
    for (let lag = Math.max(start, FINE_LAGS - 1); lag < n.length - 1; lag++) {
      if (n[lag] < LEAST_CLARITY || n[lag] < n[lag - 1] || n[lag] < n[lag + 1]) continue;
      const top = parabolaTop(n, lag);
      if (turn === 0) best = Math.max(best, top.clarity);
      else if (top.clarity >= KEY_MAXIMUM_SHARE * best) return sharpened(n, top);
    }
    if (best === 0) return null;
  }
  return null;
}

/** n at quarter samples; it is even about 0 and band-limited, so the interpolation of true-peak.ts holds for it. */
function interpolateShortLags(n: Float64Array, fine: Float64Array): void {
  for (let step = 0; step < fine.length; step++) {
    const lag = Math.floor(step / FINE_STEPS);
    if (step % FINE_STEPS === 0) {
      fine[step] = n[lag];
      continue;
    }
    const taps = interpolator((step % FINE_STEPS) / FINE_STEPS);
    const first = lag - taps.length / 2 + 1;
    let sum = 0;
    for (let tap = 0; tap < taps.length; tap++) sum += n[Math.abs(first + tap)] * taps[tap];
    fine[step] = sum;
  }
}

/** A period found again at 2, 4, 8 .. times its lag is known 2, 4, 8 times more exactly. */
function sharpened(n: Float64Array, found: Period): Period {
  let lag = found.lag;
  for (let times = 2; lag * times < n.length * 0.75; times *= 2) {
    const middle = Math.round(lag * times);
    const reach = Math.floor(Math.max(1, Math.min(lag / 4, 8)));
    let highest = middle;
    for (let near = middle - reach; near <= middle + reach; near++) if (n[near] > n[highest]) highest = near;
    if (highest <= middle - reach || highest >= middle + reach || n[highest] < 0.8 * found.clarity) break;
    lag = parabolaTop(n, highest).lag / times;
  }
  return { lag, clarity: found.clarity };
}

function parabolaTop(values: Float64Array, index: number): Period {
  const [before, here, after] = [values[index - 1], values[index], values[index + 1]];
  const bend = before - 2 * here + after;
  const shift = bend < 0 ? (before - after) / (2 * bend) : 0;
  return { lag: index + shift, clarity: here - ((before - after) * shift) / 4 };
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
