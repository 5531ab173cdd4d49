/**
 * Watches the samples for breaks as they stream past: holes of digital silence inside sound, blocks played twice, and
 * a constant offset that stays.
 */
import type { Decibels, Seconds } from '../sound.ts';
import { singles } from './growable.ts';
import { quantisationStep } from './quantisation.ts';

export interface Dropout {
  seconds: Seconds;
  kind: 'hole' | 'repeat';
  lengthSeconds: Seconds;
}

export interface SignalFlaws {
  /** In order of time; empty where they are so many, or so regular, that they must be meant. */
  dropouts: Dropout[];
  /**
   * How far three quarters of all 20 ms stretches have their mean from zero, on the same side; of the channel where
   * that is farthest, full scale = 1. 0 where the means scatter about zero, and below LEAST_STRETCHES stretches.
   */
  steadyOffset: number;
  /** Peak of every channel, dBFS; silence reads -200. */
  channelPeaksDbfs: Decibels[];
}

const STRETCH_SECONDS = 0.02;
const LEAST_STRETCHES = 10;
/** More dropouts than this are a gated or pulsing texture, not an accident. */
const MOST_DROPOUTS = 20;
const RHYTHM_TOLERANCE = 0.03;

export class SignalWatch {
  readonly #sampleRateHz: number;
  readonly #offsets: OffsetWatch[];
  readonly #holes: HoleWatch[];
  readonly #repeats: RepeatWatch;

  constructor(sampleRateHz: number, channels: number) {
    this.#sampleRateHz = sampleRateHz;
    this.#offsets = Array.from({ length: channels }, () => new OffsetWatch(sampleRateHz));
    this.#holes = Array.from({ length: channels }, () => new HoleWatch(sampleRateHz));
    this.#repeats = new RepeatWatch();
  }

  push(block: readonly Float32Array[]): void {
    this.#offsets.forEach((watch, channel) => {
      watch.push(block[channel]);
    });
    this.#holes.forEach((watch, channel) => {
      watch.push(block[channel]);
    });
    if (block.length > 0) this.#repeats.push(block[0]);
  }

  finish(): SignalFlaws {
    const found = [...this.#holes.flatMap((watch) => watch.finish()), ...this.#repeats.finish()];
    const dropouts = found
      .sort((a, b) => a.startFrame - b.startFrame)
      // Both channels usually break together.
      .filter((hole, index, all) => index === 0 || hole.startFrame > all[index - 1].startFrame + all[index - 1].frames)
      .map(({ startFrame, frames, kind }) => ({
        seconds: startFrame / this.#sampleRateHz,
        lengthSeconds: frames / this.#sampleRateHz,
        kind,
      }));
    const offsets = this.#offsets.map((watch) => watch.steadyOffset());
    return {
      dropouts: dropouts.length > MOST_DROPOUTS || isRhythm(dropouts) ? [] : dropouts,
      steadyOffset: offsets.reduce(
        (farthest, offset) => (Math.abs(offset) > Math.abs(farthest) ? offset : farthest),
        0,
      ),
      channelPeaksDbfs: this.#offsets.map(({ peak }) => (peak > 0 ? 20 * Math.log10(peak) : -200)),
    };
  }
}

/** Four or more, every distance a whole multiple of the smallest: a gate in tempo. */
function isRhythm(dropouts: readonly Dropout[]): boolean {
  if (dropouts.length < 4) return false;
  const distances = dropouts.slice(1).map((dropout, index) => dropout.seconds - dropouts[index].seconds);
  const beat = Math.min(...distances);
  return distances.every((distance) => Math.abs(distance / beat - Math.round(distance / beat)) < RHYTHM_TOLERANCE);
}

class OffsetWatch {
  peak = 0;
  readonly #stretchFrames: number;
  readonly #means = singles();
  #sum = 0;
  #inStretch = 0;

  constructor(sampleRateHz: number) {
    this.#stretchFrames = Math.max(1, Math.round(STRETCH_SECONDS * sampleRateHz));
  }

  push(samples: Float32Array): void {
    for (let from = 0; from < samples.length; ) {
      const to = Math.min(samples.length, from + this.#stretchFrames - this.#inStretch);
      let sum = 0;
      let peak = this.peak;
      for (let frame = from; frame < to; frame++) {
        const value = samples[frame];
        sum += value;
        if (value > peak) peak = value;
        else if (-value > peak) peak = -value;
      }
      this.#sum += sum;
      this.peak = peak;
      this.#inStretch += to - from;
      from = to;
      if (this.#inStretch === this.#stretchFrames) this.#close();
    }
  }

  #close(): void {
    this.#means.push(this.#sum / this.#inStretch);
    this.#sum = 0;
    this.#inStretch = 0;
  }

  steadyOffset(): number {
    const sorted = this.#means.values.slice().sort();
    if (sorted.length < LEAST_STRETCHES) return 0;
    const low = sorted[Math.floor(sorted.length / 4)];
    const high = sorted[Math.floor((3 * sorted.length) / 4)];
    return low > 0 ? low : Math.min(high, 0);
  }
}

interface Break {
  startFrame: number;
  frames: number;
  kind: Dropout['kind'];
}

const SHORTEST_HOLE_SECONDS = 0.0007;
const LONGEST_HOLE_SECONDS = 0.1;
/** How long the level before and after a hole is remembered. */
const SURROUNDINGS_SECONDS = 0.003;
/** Sound as quiet as this around a hole may well be silent by itself. */
const QUIETEST_SURROUNDINGS = 0.003;
/** A sound that ends by itself is near zero where it ends; a hole cuts in anywhere. */
const ABRUPT_SHARE = 0.03;
/**
 * Coarse samples rest on zero by themselves wherever the wave is weaker than half a step, and leave it by a step or two; what
 * leaves it by so many steps at once did not come from there by itself.
 */
const ABRUPT_STEPS = 4;
/** The step is that of one or two such stretches before the hole, and of what follows up to where it is judged. */
const STEP_SECONDS = 0.05;

/** Runs of exact zeros with sound right before and right after them, cut off and taken up abruptly. */
class HoleWatch {
  readonly #shortest: number;
  readonly #longest: number;
  readonly #surroundings: number;
  readonly #decay: number;
  readonly #stepFrames: number;
  readonly #found: Break[] = [];
  #frame = 0;
  /** Recent peak, fading with SURROUNDINGS_SECONDS. */
  #level = 0;
  #last = 0;
  #zeros = 0;
  #levelBefore = 0;
  #edgeBefore = 0;
  /** A hole that waits for the level after it. */
  #candidate: Break | null = null;
  #candidateEdge = 0;
  #edgeAfter = 0;
  #checkAtFrame = Number.POSITIVE_INFINITY;
  /** Smallest sample other than 0 in the stretch that runs, and in the one before. */
  #smallest = Number.POSITIVE_INFINITY;
  #smallestBefore = Number.POSITIVE_INFINITY;
  #nextStretchFrame: number;

  constructor(sampleRateHz: number) {
    this.#shortest = Math.max(8, Math.round(SHORTEST_HOLE_SECONDS * sampleRateHz));
    this.#longest = Math.round(LONGEST_HOLE_SECONDS * sampleRateHz);
    this.#surroundings = Math.max(1, Math.round(SURROUNDINGS_SECONDS * sampleRateHz));
    this.#decay = Math.exp(-1 / this.#surroundings);
    this.#stepFrames = Math.max(1, Math.round(STEP_SECONDS * sampleRateHz));
    this.#nextStretchFrame = this.#stepFrames;
  }

  push(samples: Float32Array): void {
    for (let n = 0; n < samples.length; n++, this.#frame++) {
      const value = samples[n];
      if (value === 0) {
        if (this.#zeros++ === 0) {
          this.#levelBefore = this.#level;
          this.#edgeBefore = Math.abs(this.#last);
        }
        this.#level *= this.#decay;
      } else {
        const size = Math.abs(value);
        if (size < this.#smallest) this.#smallest = size;
        if (this.#zeros >= this.#shortest) this.#endHole(size);
        this.#zeros = 0;
        this.#level = Math.max(size, this.#level * this.#decay);
      }
      this.#last = value;
      if (this.#frame >= this.#checkAtFrame) this.#judge();
      if (this.#frame >= this.#nextStretchFrame) this.#beginStretch();
    }
  }

  #beginStretch(): void {
    this.#nextStretchFrame += this.#stepFrames;
    // While a hole is looked at, what went before it stays known.
    if (this.#zeros > 0 || this.#candidate !== null) return;
    this.#smallestBefore = this.#smallest;
    this.#smallest = Number.POSITIVE_INFINITY;
  }

  #endHole(size: number): void {
    const abrupt = this.#edgeBefore >= ABRUPT_SHARE * this.#levelBefore;
    if (this.#zeros <= this.#longest && this.#levelBefore >= QUIETEST_SURROUNDINGS && abrupt) {
      this.#candidate = { startFrame: this.#frame - this.#zeros, frames: this.#zeros, kind: 'hole' };
      this.#candidateEdge = this.#edgeBefore;
      this.#edgeAfter = size;
      this.#checkAtFrame = this.#frame + this.#surroundings;
    }
    this.#level = 0;
  }

  #judge(): void {
    const loud = this.#level >= QUIETEST_SURROUNDINGS && this.#level >= 0.1 * this.#levelBefore;
    const leastEdge = ABRUPT_STEPS * quantisationStep(Math.min(this.#smallest, this.#smallestBefore));
    const abrupt = this.#edgeAfter >= ABRUPT_SHARE * this.#level;
    if (this.#candidate !== null && loud && abrupt && Math.min(this.#candidateEdge, this.#edgeAfter) >= leastEdge)
      this.#found.push(this.#candidate);
    this.#candidate = null;
    this.#checkAtFrame = Number.POSITIVE_INFINITY;
  }

  finish(): Break[] {
    return this.#found;
  }
}

/** Sizes in which sound cards and drivers pass audio on. */
const BUFFER_SIZES = [64, 128, 256, 512, 1024, 2048] as const;
const LONGEST_BUFFER = 2048;

/** A wave whose period divides the block is equal for much longer than one block; a block played twice for just one. */
const LONGEST_CHANCE = 8;
/** What must be known on either side of a sample that is looked at. */
const REACH = 2 * LONGEST_BUFFER + LONGEST_CHANCE;

/**
 * Blocks equal to the one just before them, sample by sample. Any such block of S samples holds two whole multiples of
 * S / 2, so only there need one look, and only where there is a match to both sides.
 */
class RepeatWatch {
  readonly #found: Break[] = [];
  #buffer = new Float32Array(2 * REACH);
  /** Frame of the sound that the buffer starts with; before the sound lies silence. */
  #startFrame = -2 * REACH;

  push(samples: Float32Array): void {
    const length = 2 * REACH + samples.length;
    if (this.#buffer.length < length) {
      const larger = new Float32Array(length);
      larger.set(this.#buffer.subarray(0, 2 * REACH));
      this.#buffer = larger;
    }
    this.#buffer.set(samples, 2 * REACH);
    for (const size of BUFFER_SIZES) {
      const step = size / 2;
      const offset = ((this.#startFrame % step) + step) % step;
      for (let n = REACH + ((step - ((REACH + offset) % step)) % step); n < length - REACH; n += step) {
        if (this.#buffer[n] === this.#buffer[n - size] && this.#buffer[n] !== 0) this.#look(n, size);
      }
    }
    this.#buffer.copyWithin(0, length - 2 * REACH, length);
    this.#startFrame += samples.length;
  }

  #look(at: number, size: number): void {
    const buffer = this.#buffer;
    const longest = size + LONGEST_CHANCE;
    let first = at;
    while (at - first < longest && buffer[first - 1] === buffer[first - 1 - size]) first--;
    let end = at + 1;
    while (end - first < longest && buffer[end] === buffer[end - size]) end++;
    if (end - first < size || end - first >= longest) return;
    let moving = 0;
    for (let n = first; n < end; n++) if (buffer[n] !== buffer[n - 1]) moving++;
    // A held value is no audio.
    if (moving > size / 2) this.#found.push({ startFrame: this.#startFrame + first, frames: size, kind: 'repeat' });
  }

  finish(): Break[] {
    this.push(new Float32Array(REACH));
    return this.#found;
  }
}
