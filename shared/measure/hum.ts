/**
 * Mains hum: sharp, steady lines on multiples of 50 or 60 Hz, found in spectra of 2.93 Hz a bin.
 *
 * In each frame a line is present where a peak within LINE_WIDTH_HZ of the multiple stands LEAST_PROMINENCE_DB above
 * the geometric mean around it. Hum is reported when at least two multiples are present in nine frames of ten and their
 * levels stay within STEADY_DB; a sound that itself consists of such lines (a bass note) is louder than the limit
 * LOUDEST_SHARE of the whole and is not called hum. Common practice, no published rule.
 */
import type { Decibels, Hertz } from '../sound.ts';
import { singles } from './growable.ts';

export interface Hum {
  mainsHz: 50 | 60;
  /** Mean square of the lines together, in dB; one line of full scale reads -3. */
  levelDbfs: Decibels;
}

const MAINS = [50, 60] as const;
const MULTIPLES = [1, 2, 3, 4, 5, 6] as const;
const LINES_HZ: readonly Hertz[] = MAINS.flatMap((mains) => MULTIPLES.map((multiple) => mains * multiple));
/** Mains frequency strays by 0.2 Hz at most (EN 50160: 1 % in 99.5 % of a year; usually far less; from memory). */
const LINE_WIDTH_HZ = 0.5;
const LEAST_PROMINENCE_DB = 12;
const STEADY_DB = 4;
const PRESENT_SHARE = 0.9;
const LOUDEST_SHARE = 0.1;
const LEAST_FRAMES = 5;
const QUIETEST_HUM_DBFS = -85;
/** Bins either side that the line is compared with, its main lobe left out. */
const NEAREST_BIN = 3;
const FARTHEST_BIN = 7;

export class HumWatch {
  readonly #frameSize: number;
  readonly #binHz: number;
  /** Power of a sine for each line and frame; 0 where the line is not present. */
  readonly #lines = singles();
  readonly #energy = singles();
  #frames = 0;

  constructor(frameSize: number, sampleRateHz: number) {
    this.#frameSize = frameSize;
    this.#binHz = sampleRateHz / frameSize;
  }

  push(power: Float64Array, energy: number): void {
    this.#frames++;
    // Under the Hann window a sine of power p has a peak of p N^2 / 8, and 1.5 times that in its whole lobe.
    const toPower = 8 / this.#frameSize ** 2;
    this.#energy.push((energy * toPower) / 1.5);
    for (const lineHz of LINES_HZ) this.#lines.push(this.#lineHeight(power, lineHz) * toPower);
  }

  #lineHeight(power: Float64Array, lineHz: Hertz): number {
    const nearest = Math.round(lineHz / this.#binHz);
    let peak = nearest;
    for (const bin of [nearest - 1, nearest + 1]) if (power[bin] > power[peak]) peak = bin;
    const [a, b, c] = [power[peak - 1], power[peak], power[peak + 1]].map((p) => Math.log(p + 1e-30));
    const bend = a - 2 * b + c;
    if (b <= -69 || bend >= 0) return 0;
    const shift = (a - c) / (2 * bend);
    if (Math.abs((peak + shift) * this.#binHz - lineHz) > LINE_WIDTH_HZ) return 0;
    let around = 0;
    for (let distance = NEAREST_BIN; distance <= FARTHEST_BIN; distance++) {
      around += Math.log(power[peak - distance] + 1e-30) + Math.log(power[peak + distance] + 1e-30);
    }
    around /= 2 * (FARTHEST_BIN - NEAREST_BIN + 1);
    return b - around >= (LEAST_PROMINENCE_DB * Math.LN10) / 10 ? Math.exp(b - ((a - c) * shift) / 4) : 0;
  }

  /** Over the whole sound: hum does not stop where the sound does. null where there is none. */
  finish(): Hum | null {
    // The first and last frame reach beyond the sound.
    const from = 1;
    const to = this.#frames - 1;
    if (to - from < LEAST_FRAMES) return null;
    let total = 0;
    for (let frame = from; frame < to; frame++) total += this.#energy.values[frame];
    const found = MAINS.map((mainsHz, index) => {
      const lines = MULTIPLES.map((_, multiple) => this.#steadyPower(index * MULTIPLES.length + multiple, from, to));
      const present = lines.filter((power) => power > 0);
      return { mainsHz, present: present.length, power: present.reduce((sum, power) => sum + power, 0) };
    }).filter(({ present, power }) => present >= 2 && power <= (LOUDEST_SHARE * total) / (to - from));
    const loudest = found.sort((a, b) => b.power - a.power)[0];
    if (loudest === undefined) return null;
    const levelDbfs = 10 * Math.log10(loudest.power);
    return levelDbfs > QUIETEST_HUM_DBFS ? { mainsHz: loudest.mainsHz, levelDbfs } : null;
  }

  /** Median power of a line, 0 where it comes and goes or swells. */
  #steadyPower(line: number, from: number, to: number): number {
    const powers: number[] = [];
    for (let frame = from; frame < to; frame++) {
      const power = this.#lines.values[frame * LINES_HZ.length + line];
      if (power > 0) powers.push(power);
    }
    if (powers.length < PRESENT_SHARE * (to - from)) return 0;
    powers.sort((a, b) => a - b);
    const at = (share: number): number => powers[Math.round(share * (powers.length - 1))];
    return 10 * Math.log10(at(0.9) / at(0.1)) <= STEADY_DB ? at(0.5) : 0;
  }
}
