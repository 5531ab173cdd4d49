/**
 * What the samples themselves say: peak, direct current, crest, clipping.
 */
import type { Decibels, Seconds } from '../sound.ts';
import { quantisationStep } from './quantisation.ts';

export interface Levels {
  /** 20 log10 of the largest absolute sample. null for silence. */
  samplePeakDbfs: Decibels | null;
  /** Sample peak over root mean square, both of the loudest channel and the whole sound. null for silence. */
  crestDb: Decibels | null;
  /** Samples in runs of three or more at the sound's own ceiling (see ClipCounter). */
  clippedSamples: number;
  firstClipSeconds: Seconds | null;
  /** Mean of the samples of the channel where it is farthest from zero, full scale = 1. 0 for silence. */
  dcOffset: number;
  /** The coarsest of the channels' steps (./quantisation.ts); 0 where none shows. */
  quantisationStep: number;
}

export class LevelMeter {
  readonly #sampleRateHz: number;
  readonly #clips: ClipCounter[];
  readonly #sums: Float64Array;
  readonly #squares: Float64Array;
  readonly #peaks: Float64Array;
  readonly #smallest: Float64Array;
  #frames = 0;

  constructor(sampleRateHz: number, channels: number, bitDepth: number | null) {
    this.#sampleRateHz = sampleRateHz;
    this.#clips = Array.from({ length: channels }, () => new ClipCounter(bitDepth));
    this.#sums = new Float64Array(channels);
    this.#squares = new Float64Array(channels);
    this.#peaks = new Float64Array(channels);
    this.#smallest = new Float64Array(channels).fill(Number.POSITIVE_INFINITY);
  }

  push(block: readonly Float32Array[]): void {
    for (let channel = 0; channel < this.#clips.length; channel++) {
      const samples = block[channel];
      let sum = 0;
      let square = 0;
      let highest = 0;
      let lowest = 0;
      let smallest = this.#smallest[channel];
      for (let frame = 0; frame < samples.length; frame++) {
        const value = samples[frame];
        sum += value;
        square += value * value;
        if (value > highest) highest = value;
        else if (value < lowest) lowest = value;
        if (value < smallest && -value < smallest && value !== 0) smallest = Math.abs(value);
      }
      this.#smallest[channel] = smallest;
      this.#sums[channel] += sum;
      this.#squares[channel] += square;
      this.#peaks[channel] = Math.max(this.#peaks[channel], highest, -lowest);
      this.#clips[channel].push(samples, highest, lowest, this.#frames);
    }
    this.#frames += block[0]?.length ?? 0;
  }

  finish(): Levels {
    const steps = Array.from(this.#smallest, quantisationStep);
    this.#clips.forEach((clips, channel) => {
      clips.finish(steps[channel]);
    });
    const firstClipFrame = Math.min(...this.#clips.map((clips) => clips.firstFrame));
    const loudest = this.#peaks.indexOf(Math.max(...this.#peaks));
    const peak = this.#peaks[loudest] ?? 0;
    const means = [...this.#sums].map((sum) => (this.#frames === 0 ? 0 : sum / this.#frames));
    return {
      samplePeakDbfs: peak > 0 ? 20 * Math.log10(peak) : null,
      crestDb: peak > 0 ? 10 * Math.log10((peak * peak * this.#frames) / this.#squares[loudest]) : null,
      clippedSamples: this.#clips.reduce((total, clips) => total + clips.samples, 0),
      firstClipSeconds: Number.isFinite(firstClipFrame) ? firstClipFrame / this.#sampleRateHz : null,
      dcOffset: means.reduce((farthest, mean) => (Math.abs(mean) > Math.abs(farthest) ? mean : farthest), 0),
      quantisationStep: Math.max(0, ...steps),
    };
  }
}

/**
 * Counts flat tops: runs of at least three equal samples at the highest (or lowest) value the channel ever takes, which
 * need not be full scale. A slow wave of whole numbers also rests on its top value for some samples, but leaves it by
 * one step only; a clipped wave arrives at or leaves the ceiling by more than STEEPEST_ROUNDING steps. A step is that of
 * the file, or of the material where that is coarser: 8 bits may be kept in 16.
 * Ceilings below QUIETEST_CEILING (-40 dBFS) are never called clipping.
 */
const SHORTEST_RUN = 3;
/** A parabola that keeps within one step for three samples falls at most 2.8 steps in the next; one more for rounding. */
const STEEPEST_ROUNDING = 4;
const QUIETEST_CEILING = 0.01;

class ClipCounter {
  readonly #top: FlatTops;
  readonly #bottom: FlatTops;
  readonly #tolerance: number;
  #coarser = 0;

  constructor(bitDepth: number | null) {
    // Float files often hold 16-bit material; 24 bits is the finest a float resolves near full scale.
    const stepBits = bitDepth !== null && bitDepth <= 24 ? bitDepth : 16;
    this.#tolerance = STEEPEST_ROUNDING / 2 ** (stepBits - 1);
    this.#top = new FlatTops(1, this.#tolerance);
    this.#bottom = new FlatTops(-1, this.#tolerance);
  }

  push(samples: Float32Array, highest: number, lowest: number, startFrame: number): void {
    this.#top.push(samples, highest, startFrame);
    this.#bottom.push(samples, -lowest, startFrame);
  }

  finish(step: number): void {
    this.#top.finish();
    this.#bottom.finish();
    this.#coarser = Math.max(0, Math.ceil(Math.log2((STEEPEST_ROUNDING * step) / this.#tolerance)));
  }

  get samples(): number {
    return this.#top.samplesFrom(this.#coarser) + this.#bottom.samplesFrom(this.#coarser);
  }

  /** Infinity when nothing is clipped. */
  get firstFrame(): number {
    return Math.min(this.#top.firstFrameFrom(this.#coarser), this.#bottom.firstFrameFrom(this.#coarser));
  }
}

/** Runs are kept by how steep they are, as the step of the material is known only at the end: doublings of the tolerance. */
const STEEPNESSES = 32;

class FlatTops {
  readonly #samples = new Float64Array(STEEPNESSES);
  readonly #firstFrames = new Float64Array(STEEPNESSES).fill(Number.POSITIVE_INFINITY);
  readonly #sign: number;
  readonly #tolerance: number;
  #ceiling = QUIETEST_CEILING;
  #run = 0;
  #runStart = 0;
  #arrival = 0;
  #previous = 0;

  constructor(sign: number, tolerance: number) {
    this.#sign = sign;
    this.#tolerance = tolerance;
  }

  push(samples: Float32Array, blockHighest: number, startFrame: number): void {
    if (blockHighest >= this.#ceiling) {
      if (blockHighest > this.#ceiling) this.#raise(blockHighest);
      this.#count(samples, startFrame);
    } else {
      this.#endRun(samples.length > 0 ? this.#sign * samples[0] : this.#previous);
    }
    if (samples.length > 0) this.#previous = this.#sign * samples[samples.length - 1];
  }

  finish(): void {
    this.#endRun(0);
  }

  /** Of runs steeper than the tolerance doubled so many times. */
  samplesFrom(doublings: number): number {
    return this.#samples.subarray(doublings).reduce((sum, samples) => sum + samples, 0);
  }

  firstFrameFrom(doublings: number): number {
    return this.#firstFrames.subarray(doublings).reduce((first, frame) => Math.min(first, frame), Infinity);
  }

  #raise(ceiling: number): void {
    this.#ceiling = ceiling;
    this.#run = 0;
    this.#samples.fill(0);
    this.#firstFrames.fill(Number.POSITIVE_INFINITY);
  }

  #count(samples: Float32Array, startFrame: number): void {
    const ceiling = this.#ceiling;
    let previous = this.#previous;
    for (let frame = 0; frame < samples.length; frame++) {
      const value = this.#sign * samples[frame];
      if (value === ceiling) {
        if (this.#run === 0) {
          this.#runStart = startFrame + frame;
          this.#arrival = ceiling - previous;
        }
        this.#run++;
      } else if (this.#run > 0) {
        this.#endRun(value);
      }
      previous = value;
    }
  }

  #endRun(next: number): void {
    const steepest = Math.max(this.#arrival, this.#ceiling - next);
    if (this.#run >= SHORTEST_RUN && steepest > this.#tolerance) {
      const doublings = Math.min(STEEPNESSES, Math.ceil(Math.log2(steepest / this.#tolerance))) - 1;
      this.#samples[doublings] += this.#run;
      this.#firstFrames[doublings] = Math.min(this.#firstFrames[doublings], this.#runStart);
    }
    this.#run = 0;
  }
}
