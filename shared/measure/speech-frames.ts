/**
 * What a voice shows from frame to frame: level, period, and the shape of the spectrum that the mouth gives it. At 8 kHz,
 * as a telephone carries speech, every 10 ms.
 */
import type { Hertz, Seconds } from '../sound.ts';
import { fourierOf, hann } from './fourier.ts';
import { remembered } from './memo.ts';
import { decibels } from './running.ts';

export const SPEECH_RATE_HZ = 8_000;
export const SPEECH_HOP_SECONDS: Seconds = 0.01;
const HOP = 80;
const FRAME = 256;
/** Long enough for nearly three periods of the lowest voice. */
const PITCH_FRAME = 320;
const LOWEST_VOICE_HZ = 70;
const HIGHEST_VOICE_HZ = 400;
const SHORTEST_LAG = Math.floor(SPEECH_RATE_HZ / HIGHEST_VOICE_HZ);
const LONGEST_LAG = Math.ceil(SPEECH_RATE_HZ / LOWEST_VOICE_HZ);
/** As in pitch.ts: the first maximum near the highest one is the period. */
const KEY_MAXIMUM_SHARE = 0.88;
const BANDS = 14;
const LOWEST_BAND_HZ = 150;
const HIGHEST_BAND_HZ = 3800;
export const SHAPE_COEFFICIENTS = 6;

/** One value a frame; frame i is centred on i hops. Periods, which cost most, are only looked for where asked. */
export class VoiceFrames {
  readonly count: number;
  /** Level above 100 Hz, dBFS. */
  readonly levelDb: Float64Array;
  /** SHAPE_COEFFICIENTS values a frame: the shape of the spectrum without its level, in dB. */
  readonly shape: Float64Array;
  /** Share 0..1 of the power that lies outside the strongest partial: 0 for a sine, much for a vowel. */
  readonly richness: Float64Array;
  readonly #clean: Float32Array;
  /** Sum of the squares before each sample of #clean. */
  readonly #energyBefore: Float64Array;
  /** NaN where not looked for yet. */
  readonly #clarity: Float64Array;
  readonly #pitchHz: Float64Array;

  /** `samples` at SPEECH_RATE_HZ. */
  constructor(samples: Float32Array) {
    const count = Math.floor(samples.length / HOP) + 1;
    this.count = count;
    this.levelDb = new Float64Array(count);
    this.shape = new Float64Array(count * SHAPE_COEFFICIENTS);
    this.richness = new Float64Array(count);
    this.#clarity = new Float64Array(count).fill(Number.NaN);
    this.#pitchHz = new Float64Array(count);
    const padded = new Float32Array(samples.length + 2 * PITCH_FRAME);
    padded.set(samples, PITCH_FRAME);
    this.#clean = withoutRumble(padded);
    this.#energyBefore = new Float64Array(padded.length + 1);
    for (let n = 0; n < padded.length; n++) this.#energyBefore[n + 1] = this.#energyBefore[n] + this.#clean[n] ** 2;
    const fourier = fourierOf(FRAME);
    const power = new Float64Array(fourier.bins);
    for (let i = 0; i < count; i++) {
      power.fill(0);
      fourier.addPower(power, this.#clean, null, PITCH_FRAME + i * HOP - FRAME / 2, FRAME, hann(FRAME));
      this.#describeSpectrum(power, i);
    }
  }

  /** How periodic it is, 0..1 (normalised square difference, McLeod & Wyvill 2005). */
  clarity(i: number): number {
    if (Number.isNaN(this.#clarity[i])) this.#describePeriod(i);
    return this.#clarity[i];
  }

  /** 70..400 Hz; meaningless where clarity is low. */
  pitchHz(i: number): Hertz {
    if (Number.isNaN(this.#clarity[i])) this.#describePeriod(i);
    return this.#pitchHz[i];
  }

  #describeSpectrum(power: Float64Array, i: number): void {
    let total = 0;
    let strongest = 1;
    for (let bin = 1; bin < power.length; bin++) {
      total += power[bin];
      if (power[bin] > power[strongest]) strongest = bin;
    }
    // The window spreads a partial over two bins on either side.
    const partial = power.subarray(Math.max(1, strongest - 2), strongest + 3).reduce((sum, value) => sum + value, 0);
    this.richness[i] = total > 0 ? Math.max(0, 1 - partial / total) : 0;
    // Hann: mean of the squared window is 3/8; half the spectrum holds half the power.
    this.levelDb[i] = decibels((total * 2) / (FRAME * FRAME * 0.375));
    const { weights, cosines } = shapeTables(FRAME);
    for (let band = 0; band < BANDS; band++) {
      const { firstBin, triangle } = weights[band];
      let sum = 0;
      for (let n = 0; n < triangle.length; n++) sum += power[firstBin + n] * triangle[n];
      const level = decibels(sum / (FRAME * FRAME));
      for (let k = 0; k < SHAPE_COEFFICIENTS; k++) {
        this.shape[i * SHAPE_COEFFICIENTS + k] += (level * cosines[k][band] * 2) / BANDS;
      }
    }
  }

  #describePeriod(i: number): void {
    const offset = PITCH_FRAME + i * HOP - PITCH_FRAME / 2;
    const n = normalisedDifferences(this.#clean, this.#energyBefore, offset);
    let highest = 0;
    const isTop = (lag: number): boolean => n[lag] >= n[lag - 1] && n[lag] > n[lag + 1];
    for (let lag = SHORTEST_LAG; lag <= LONGEST_LAG; lag++) if (isTop(lag) && n[lag] > highest) highest = n[lag];
    this.#clarity[i] = highest;
    if (highest <= 0) return;
    for (let lag = SHORTEST_LAG; lag <= LONGEST_LAG; lag++) {
      if (!isTop(lag) || n[lag] < KEY_MAXIMUM_SHARE * highest) continue;
      const curve = n[lag - 1] - 2 * n[lag] + n[lag + 1];
      const shift = curve < 0 ? (n[lag - 1] - n[lag + 1]) / (2 * curve) : 0;
      this.#pitchHz[i] = SPEECH_RATE_HZ / (lag + shift);
      return;
    }
  }
}

const DIFFERENCES = new Float64Array(LONGEST_LAG + 5);

/** n(lag) of the frame at `offset`, at the lags SHORTEST_LAG - 1 to LONGEST_LAG + 1; it lasts until the next call. */
function normalisedDifferences(samples: Float32Array, energyBefore: Float64Array, offset: number): Float64Array {
  const end = offset + PITCH_FRAME;
  // Four lags at once read each sample once for all of them.
  for (let lag = SHORTEST_LAG - 1; lag <= LONGEST_LAG + 1; lag += 4) {
    let [first, second, third, fourth] = [0, 0, 0, 0];
    const last = end - lag - 3;
    for (let j = offset; j < last; j++) {
      const a = samples[j];
      const at = j + lag;
      first += a * samples[at];
      second += a * samples[at + 1];
      third += a * samples[at + 2];
      fourth += a * samples[at + 3];
    }
    first +=
      samples[last] * samples[end - 3] + samples[last + 1] * samples[end - 2] + samples[last + 2] * samples[end - 1];
    second += samples[last] * samples[end - 2] + samples[last + 1] * samples[end - 1];
    third += samples[last] * samples[end - 1];
    DIFFERENCES[lag] = 2 * first;
    DIFFERENCES[lag + 1] = 2 * second;
    DIFFERENCES[lag + 2] = 2 * third;
    DIFFERENCES[lag + 3] = 2 * fourth;
  }
  for (let lag = SHORTEST_LAG - 1; lag <= LONGEST_LAG + 1; lag++) {
    const front = energyBefore[end - lag] - energyBefore[offset];
    const back = energyBefore[end] - energyBefore[offset + lag];
    DIFFERENCES[lag] /= front + back + LEAST_ENERGY;
  }
  return DIFFERENCES;
}

/** Keeps silence from being divided by nothing. */
const LEAST_ENERGY = 1e-12;

/** Second-order high pass (Butterworth) at 100 Hz: a room's rumble hides no voice. */
function withoutRumble(samples: Float32Array): Float32Array {
  const k = Math.tan((Math.PI * 100) / SPEECH_RATE_HZ);
  const norm = 1 / (1 + Math.SQRT2 * k + k * k);
  const a1 = 2 * (k * k - 1) * norm;
  const a2 = (1 - Math.SQRT2 * k + k * k) * norm;
  const out = new Float32Array(samples.length);
  let x1 = 0;
  let x2 = 0;
  let y1 = 0;
  let y2 = 0;
  for (let i = 0; i < samples.length; i++) {
    const x = samples[i];
    const y = norm * (x - 2 * x1 + x2) - a1 * y1 - a2 * y2;
    x2 = x1;
    x1 = x;
    y2 = y1;
    y1 = Math.abs(y) < 1e-25 ? 0 : y;
    out[i] = y;
  }
  return out;
}

/** Triangles evenly spread over mel (2595 log10(1 + f / 700)), and the cosines 1..SHAPE_COEFFICIENTS over them. */
const shapeTables = remembered((frame: number) => {
  const mel = (hertz: Hertz): number => 2595 * Math.log10(1 + hertz / 700);
  const hertz = (value: number): Hertz => 700 * (10 ** (value / 2595) - 1);
  const step = (mel(HIGHEST_BAND_HZ) - mel(LOWEST_BAND_HZ)) / (BANDS + 1);
  const edges = Array.from({ length: BANDS + 2 }, (_, i) => hertz(mel(LOWEST_BAND_HZ) + i * step));
  const weights = Array.from({ length: BANDS }, (_, band) => {
    const [low, middle, high] = edges.slice(band, band + 3);
    const firstBin = Math.floor((low * frame) / SPEECH_RATE_HZ) + 1;
    const lastBin = Math.ceil((high * frame) / SPEECH_RATE_HZ) - 1;
    const triangle = Float64Array.from({ length: lastBin - firstBin + 1 }, (_, n) => {
      const f = ((firstBin + n) * SPEECH_RATE_HZ) / frame;
      return f <= middle ? (f - low) / (middle - low) : (high - f) / (high - middle);
    });
    return { firstBin, triangle };
  });
  const cosines = Array.from({ length: SHAPE_COEFFICIENTS }, (_, k) =>
    Array.from({ length: BANDS }, (_, band) => Math.cos((Math.PI * (k + 1) * (band + 0.5)) / BANDS)),
  );
  return { weights, cosines };
});
