/**
 * How strong the sound is from millisecond to millisecond, in three bands and as a whole: all that the measurements
 * of movement and the splitting of sessions look at. No sample is kept: an hour costs about 60 MB.
 */
import type { Decibels, Hertz, Seconds } from '../sound.ts';

/** Levels at or below this count as digital silence. */
export const SILENCE_DBFS: Decibels = -120;
const SILENCE_POWER = 10 ** (SILENCE_DBFS / 10);

/** Wanted length of one step; the real one is the nearest whole number of frames (`Envelope.hopSeconds`). */
const HOP_SECONDS: Seconds = 0.001;

/** The step that an envelope at this rate has, in whole frames. */
export function hopFramesAt(sampleRateHz: Hertz): number {
  return Math.max(1, Math.round(sampleRateHz * HOP_SECONDS));
}

/** Below this nothing counts as sound: a constant offset or the building's sway. */
const LOWEST_HZ: Hertz = 12;
/** Where the three bands meet: the body of drums and low strings, the middle, the noise of strikes and cymbals. */
const LOW_BELOW_HZ: Hertz = 250;
const HIGH_ABOVE_HZ: Hertz = 2500;
/** The constant offset is first guessed from this much of the beginning, so that it makes no click there. */
const LEAD_SECONDS: Seconds = 0.05;

export interface Envelope {
  sampleRateHz: Hertz;
  /** Length of one step in frames of audio, and in seconds. */
  hopFrames: number;
  hopSeconds: Seconds;
  /** Number of steps: the length of every array below. */
  frames: number;
  /** Frames of audio that went in. */
  audioFrames: number;
  /**
   * Level of each step: 10 log10 of the mean square over its frames and over all channels that are not dead
   * (never above SILENCE_DBFS), so a lone hit on one side weighs the same against its surroundings as in a sum of
   * powers, and noise of equal strength in all channels reads as in one. dBFS re 1.0 (a full-scale sine: -3.01);
   * at least SILENCE_DBFS.
   */
  levelDb: Float32Array;
  /** Mean square of each step below 250 Hz, between, and above 2.5 kHz (first-order slopes and steeper). */
  lowPower: Float32Array;
  midPower: Float32Array;
  highPower: Float32Array;
}

/** Feed it the whole sound block by block (blocks of any length), then call `finish` once: what it kept becomes the result. */
export class EnvelopeFollower {
  readonly #sampleRateHz: Hertz;
  readonly #hopFrames: number;
  readonly #channels: ChannelFollower[];
  readonly #sums: StepSums;
  #lead: Float32Array[] | null = [];
  #leadFrames = 0;
  #audioFrames = 0;

  constructor(sampleRateHz: Hertz, channels: number) {
    this.#sampleRateHz = sampleRateHz;
    this.#hopFrames = hopFramesAt(sampleRateHz);
    this.#channels = Array.from({ length: channels }, () => new ChannelFollower(sampleRateHz));
    this.#sums = new StepSums();
  }

  push(block: readonly Float32Array[]): void {
    const length = block[0]?.length ?? 0;
    if (length === 0) return;
    this.#audioFrames += length;
    if (this.#lead === null) {
      this.#follow(block);
      return;
    }
    const lead = this.#lead;
    const wanted = this.#sampleRateHz * LEAD_SECONDS;
    // Only what must wait for the next block is copied.
    const enough = this.#leadFrames === 0 && length >= wanted;
    this.#lead = enough
      ? block.slice(0, this.#channels.length)
      : this.#channels.map((_, channel) => joined(lead[channel], block[channel]));
    this.#leadFrames += length;
    if (this.#leadFrames >= wanted) this.#startFollowing();
  }

  finish(): Envelope {
    if (this.#lead !== null) this.#startFollowing();
    const hopFrames = this.#hopFrames;
    const frames = Math.ceil(this.#audioFrames / hopFrames);
    if (this.#audioFrames % hopFrames > 0) for (const channel of this.#channels) channel.flush(frames - 1, this.#sums);
    const live = Math.max(1, this.#channels.filter((channel) => channel.alive).length);
    const lastStep = this.#audioFrames - (frames - 1) * hopFrames;
    // In place: of a long recording there is no room for the sums twice.
    const meanOf = (sums: Float32Array): Float32Array => {
      const means = sums.subarray(0, frames);
      for (let i = 0; i < frames; i++) means[i] /= (i === frames - 1 ? lastStep : hopFrames) * live;
      return means;
    };
    const levelDb = meanOf(this.#sums.all);
    for (let i = 0; i < frames; i++) levelDb[i] = 10 * Math.log10(Math.max(SILENCE_POWER, levelDb[i]));
    return {
      sampleRateHz: this.#sampleRateHz,
      hopFrames,
      hopSeconds: hopFrames / this.#sampleRateHz,
      frames,
      audioFrames: this.#audioFrames,
      levelDb,
      lowPower: meanOf(this.#sums.low),
      midPower: meanOf(this.#sums.mid),
      highPower: meanOf(this.#sums.high),
    };
  }

  #startFollowing(): void {
    const lead = this.#lead ?? [];
    this.#lead = null;
    if (this.#leadFrames === 0) return;
    lead.forEach((samples, channel) => {
      this.#channels[channel].settle(samples.subarray(0, Math.ceil(this.#sampleRateHz * LEAD_SECONDS)));
    });
    this.#follow(lead, 0);
  }

  #follow(block: readonly Float32Array[], startFrame = this.#audioFrames - block[0].length): void {
    this.#sums.makeRoomFor(Math.ceil((startFrame + block[0].length) / this.#hopFrames));
    this.#channels.forEach((channel, index) => {
      const samples = block[index];
      if (samples) channel.follow(samples, startFrame, this.#hopFrames, this.#sums);
    });
  }
}

/** Sums of squares a step, grown by doubling. */
class StepSums {
  all: Float32Array = new Float32Array(4096);
  low: Float32Array = new Float32Array(4096);
  mid: Float32Array = new Float32Array(4096);
  high: Float32Array = new Float32Array(4096);

  makeRoomFor(steps: number): void {
    if (steps <= this.all.length) return;
    const length = Math.max(steps, this.all.length * 2);
    this.all = grown(this.all, length);
    this.low = grown(this.low, length);
    this.mid = grown(this.mid, length);
    this.high = grown(this.high, length);
  }

  add(step: number, all: number, low: number, mid: number, high: number): void {
    this.all[step] += all;
    this.low[step] += low;
    this.mid[step] += mid;
    this.high[step] += high;
  }
}

/**
 * Filters of one channel. Offset and low band: one-pole low-passes s += k (x - s), k = 1 - exp(-2 pi f / rate), the low band two
 * in a row. High band: two one-pole high-passes in a row, by the bilinear transform, so that they do the same at every
 * rate. The middle is what one of each leaves.
 */
class ChannelFollower {
  alive = false;
  readonly #offsetGain: number;
  readonly #lowGain: number;
  readonly #highGain: number;
  readonly #highPole: number;
  #offset = 0;
  #before = 0;
  #low1 = 0;
  #low2 = 0;
  #high1 = 0;
  #high2 = 0;
  /** Sums over the step that the last block left unfinished. */
  #partial = { all: 0, low: 0, mid: 0, high: 0 };

  constructor(sampleRateHz: Hertz) {
    const gain = (hz: Hertz): number => 1 - Math.exp((-2 * Math.PI * Math.min(hz, sampleRateHz / 3)) / sampleRateHz);
    this.#offsetGain = gain(LOWEST_HZ);
    this.#lowGain = gain(LOW_BELOW_HZ);
    const warped = Math.tan((Math.PI * Math.min(HIGH_ABOVE_HZ, sampleRateHz / 3)) / sampleRateHz);
    this.#highGain = 1 / (1 + warped);
    this.#highPole = (1 - warped) / (1 + warped);
  }

  /** Hands over what has gathered in the last, unfinished step. */
  flush(step: number, sums: StepSums): void {
    const { all, low, mid, high } = this.#partial;
    if (!Number.isFinite(all + low + mid + high)) return;
    if (all > SILENCE_POWER) this.alive = true;
    sums.add(step, all, low, mid, high);
  }

  settle(lead: Float32Array): void {
    let sum = 0;
    for (const sample of lead) if (Number.isFinite(sample)) sum += sample;
    this.#offset = lead.length > 0 ? sum / lead.length : 0;
  }

  follow(samples: Float32Array, startFrame: number, hopFrames: number, sums: StepSums): void {
    const offsetGain = this.#offsetGain;
    const lowGain = this.#lowGain;
    const highGain = this.#highGain;
    const highPole = this.#highPole;
    let before = this.#before;
    let offset = this.#offset;
    let low1 = this.#low1;
    let low2 = this.#low2;
    let high1 = this.#high1;
    let high2 = this.#high2;
    let { all, low, mid, high } = this.#partial;
    let step = Math.floor(startFrame / hopFrames);
    let untilNext = hopFrames - (startFrame % hopFrames);
    for (let i = 0; i < samples.length; ) {
      const from = i;
      const end = Math.min(samples.length, i + untilNext);
      for (; i < end; i++) {
        const raw = samples[i];
        offset += offsetGain * (raw - offset);
        const x = raw - offset;
        low1 += lowGain * (x - low1);
        low2 += lowGain * (low1 - low2);
        const above = highGain * (x - before) + highPole * high1;
        const top = highGain * (above - high1) + highPole * high2;
        before = x;
        high1 = above;
        high2 = top;
        const middle = x - above - low1;
        all += x * x;
        low += low2 * low2;
        mid += middle * middle;
        high += top * top;
      }
      untilNext -= end - from;
      if (untilNext > 0) break;
      if (!Number.isFinite(all + low + mid + high)) {
        // A broken sample (NaN, infinity) in a float file: the step counts as silent and the filters start afresh.
        offset = before = low1 = low2 = high1 = high2 = all = low = mid = high = 0;
      }
      if (all > hopFrames * SILENCE_POWER) this.alive = true;
      sums.add(step, all, low, mid, high);
      all = low = mid = high = 0;
      // In digital silence the states would shrink into denormal numbers, which are a hundred times slower.
      if (Math.abs(offset) < 1e-30) offset = 0;
      if (Math.abs(low1) < 1e-30) low1 = 0;
      if (Math.abs(low2) < 1e-30) low2 = 0;
      if (Math.abs(high1) < 1e-30) high1 = 0;
      if (Math.abs(high2) < 1e-30) high2 = 0;
      if (Math.abs(before) < 1e-30) before = 0;
      step++;
      untilNext = hopFrames;
    }
    this.#partial = { all, low, mid, high };
    this.#offset = offset;
    this.#before = before;
    this.#low1 = low1;
    this.#low2 = low2;
    this.#high1 = high1;
    this.#high2 = high2;
  }
}

function joined(first: Float32Array | undefined, second: Float32Array | undefined): Float32Array {
  const a = first ?? new Float32Array(0);
  const b = second ?? new Float32Array(0);
  const both = new Float32Array(a.length + b.length);
  both.set(a);
  both.set(b, a.length);
  return both;
}

function grown(array: Float32Array, length: number): Float32Array {
  const longer = new Float32Array(length);
  longer.set(array);
  return longer;
}
