/**
 * Watches the samples for breaks as they stream past: holes of digital silence inside sound, blocks played twice,
 * a constant offset that stays.
 */
import type { Decibels, Seconds } from '../sound.ts';
import { NumberList } from './growable.ts';

export interface Dropout {
  seconds: Seconds;
  what: string;
}

export interface SignalFlaws {
  dropouts: Dropout[];
  /** Median over 50 ms stretches of the channel's mean, of the channel where it is farthest from zero. */
  steadyOffset: number;
  /** Peak of every channel, dBFS; -Infinity is never given, silence reads -200. */
  channelPeaksDbfs: Decibels[];
}

const STRETCH_SECONDS = 0.05;

export class SignalWatch {
  readonly #sampleRateHz: number;
  readonly #stretchFrames: number;
  readonly #means: NumberList[];
  readonly #openSums: Float64Array;
  readonly #peaks: Float64Array;
  #inStretch = 0;

  constructor(sampleRateHz: number, channels: number) {
    this.#sampleRateHz = sampleRateHz;
    this.#stretchFrames = Math.max(1, Math.round(STRETCH_SECONDS * sampleRateHz));
    this.#means = Array.from({ length: channels }, () => new NumberList());
    this.#openSums = new Float64Array(channels);
    this.#peaks = new Float64Array(channels);
  }

  push(block: readonly Float32Array[]): void {
    const frames = block[0]?.length ?? 0;
    for (let from = 0; from < frames; ) {
      const to = Math.min(frames, from + this.#stretchFrames - this.#inStretch);
      for (let channel = 0; channel < block.length; channel++) {
        const samples = block[channel];
        let sum = 0;
        let peak = this.#peaks[channel];
        for (let frame = from; frame < to; frame++) {
          sum += samples[frame];
          const size = Math.abs(samples[frame]);
          if (size > peak) peak = size;
        }
        this.#openSums[channel] += sum;
        this.#peaks[channel] = peak;
      }
      this.#inStretch += to - from;
      from = to;
      if (this.#inStretch === this.#stretchFrames) this.#closeStretch();
    }
  }

  #closeStretch(): void {
    this.#means.forEach((means, channel) => {
      means.push(this.#openSums[channel] / this.#inStretch);
    });
    this.#openSums.fill(0);
    this.#inStretch = 0;
  }

  finish(): SignalFlaws {
    if (this.#inStretch > 0) this.#closeStretch();
    const offsets = this.#means.map((means) => median(means.values));
    return {
      dropouts: [],
      steadyOffset: offsets.reduce(
        (farthest, offset) => (Math.abs(offset) > Math.abs(farthest) ? offset : farthest),
        0,
      ),
      channelPeaksDbfs: Array.from(this.#peaks, (peak) => (peak > 0 ? 20 * Math.log10(peak) : -200)),
    };
  }

  get sampleRateHz(): number {
    return this.#sampleRateHz;
  }
}

function median(values: Float32Array): number {
  if (values.length === 0) return 0;
  const sorted = values.slice().sort();
  return sorted[Math.floor(sorted.length / 2)];
}
