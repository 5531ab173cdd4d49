/**
 * One pitch for a sound, or none.
 *
 * Every frame (4096 samples every 2048 at 48 kHz) gives a normalised square difference, the autocorrelation scaled so
 * that a perfect period reads 1 (McLeod & Wyvill, "A smarter way to find pitch", ICMC 2005):
 *
 *   n(lag) = 2 sum x[j] x[j + lag] / sum (x[j]^2 + x[j + lag]^2)
 *
 * The first of its maxima that comes near the highest is the period. Channels are correlated each by itself and
 * added, so an inverted channel cancels nothing. The frames then vote (pitch-track.ts), and the partials say which note it
 * is, if any (heard-note.ts).
 */
import type { Hertz } from '../sound.ts';
import type { ActivePart } from './active-part.ts';
import { fourierOf } from './fourier.ts';
import { activeFrames, type FrameAnalysis, isSilent } from './frames.ts';
import { doubles, singles } from './growable.ts';
import { heardPitch, type PartialsVerdict } from './heard-note.ts';
import { HIGHEST_PITCH_HZ, LEAST_CLARITY, LOWEST_PITCH_HZ } from './pitch-track.ts';
import { ANALYSIS_RATE_HZ } from './resample.ts';
import { interpolator } from './true-peak.ts';

export interface Pitch {
  /** 25 Hz .. 5 kHz. null where frames have no common period, or its partials fill no row, and no partial rules. */
  pitchHz: Hertz | null;
  /**
   * Share 0..1 of the loudness that agrees with the pitch, times how periodic it is there; of a ruling partial the share
   * of the sound in which it rules. null for silence.
   */
  pitchConfidence: number | null;
  /** Nearest note of equal temperament at A4 = 440 Hz (ISO 16), C4 = middle C = MIDI 60. */
  note: string | null;
  /** Distance from that note, -50 .. 50 cents. */
  centsOff: number | null;
}

const FRAME = 4096;
/** Of shorter sounds the end counts. */
const LEAST_FRAMES_WITHOUT_END = 8;
const HOP = 2048;
/** Longer sounds get half as many frames. */
const SHORT_SOUND_SECONDS = 5;
/** A maximum this near the highest one is taken, the first from the left. */
const KEY_MAXIMUM_SHARE = 0.9;
/** Lags below this are looked at in quarter samples. */
const FINE_LAGS = 64;
const FINE_STEPS = 4;
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
    const hopSeconds = this.hopSize / ANALYSIS_RATE_HZ;
    const [from, last] = activeFrames(this.#energy.length, hopSeconds, active);
    // The last frame is half silence, which lasts as long as the sound's other frames and has no period.
    const to = last - from < LEAST_FRAMES_WITHOUT_END ? last : last - 1;
    const [energy, hz, clarity] = [this.#energy.values, this.#hz.values, this.#clarity.values];
    const { pitchHz, pitchConfidence } =
      active === null
        ? { pitchHz: null, pitchConfidence: null }
        : heardPitch({ hopSeconds, energy, hz, clarity, from, to }, partials);
    return { pitchHz, pitchConfidence, ...(pitchHz === null ? { note: null, centsOff: null } : noteOf(pitchHz)) };
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
