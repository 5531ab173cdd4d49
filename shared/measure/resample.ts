/**
 * Streaming sample-rate conversion by a polyphase windowed sinc.
 *
 *   y[m] = sum over n of x[n] h(m * from/to - n)      h: Kaiser-windowed sinc, delay compensated, so times do not move
 *
 * Flat to 20 kHz (to 0.4535 of the lower rate where that is under 44.1 kHz) within 0.1 dB, more than 80 dB rejection of
 * what would fold back onto frequencies below that. A sound of n frames gives round(n * to / from) frames. Equal rates
 * pass unchanged. Both ends stand in silence.
 */
import { kaiser, kaiserBeta, kaiserTaps, sinc } from './kaiser.ts';
import { remembered } from './memo.ts';

export const ANALYSIS_RATE_HZ = 48_000;

/** How steep the filter is. */
export interface Steepness {
  /** Of what would fold back onto the pass band. */
  rejectionDb: number;
  /** What stays untouched: PASS_HZ, or such a share of the lower rate where that is less. */
  passShare: number;
}

const PASS_HZ = 20_000;
/** As large a share of a low rate as 20 kHz is of 44.1 kHz. */
const FOR_MEASURING: Steepness = { rejectionDb: 90, passShare: 20 / 44.1 };
/** Above this many phases the filter is interpolated between rows instead of tabulated for each. */
const MOST_EXACT_PHASES = 1024;
const INTERPOLATED_PHASES = 512;

export class Resampler {
  readonly #up: number;
  readonly #down: number;
  readonly #taps: number;
  readonly #phases: number;
  readonly #table: Float64Array;
  /** What each channel still needs: the last frames and those not yet used. */
  readonly #history: Float32Array[];
  #historyLength: number;
  /** Input frame that #history starts with. */
  #historyStart: number;
  #inputFrames = 0;
  #outputFrames = 0;

  constructor(channels: number, fromHz: number, toHz: number = ANALYSIS_RATE_HZ, steepness: Steepness = FOR_MEASURING) {
    const { up, down, taps, phases, table } = conversion(steepness)(fromHz)(toHz);
    this.#up = up;
    this.#down = down;
    this.#taps = taps;
    this.#phases = phases;
    this.#table = table;
    this.#historyLength = this.#taps;
    this.#historyStart = -this.#taps;
    this.#history = Array.from({ length: channels }, () => new Float32Array(this.#taps * 2));
  }

  /** The output frames this block makes possible: one array a channel, fresh. */
  push(block: readonly Float32Array[]): Float32Array[] {
    const frames = block[0]?.length ?? 0;
    this.#inputFrames += frames;
    if (this.#up === this.#down) return block.map((channel) => channel.slice());
    this.#append(block, frames);
    // Output m needs input up to floor(m * down / up) + taps / 2.
    const reach = this.#historyStart + this.#historyLength - this.#taps / 2;
    return this.#produce(Math.max(this.#outputFrames, Math.ceil((reach * this.#up) / this.#down)));
  }

  /** What is left, up to round(n * to / from) frames altogether. */
  finish(): Float32Array[] {
    if (this.#up === this.#down) return this.#history.map(() => new Float32Array(0));
    const total = Math.round((this.#inputFrames * this.#up) / this.#down);
    const missing = Math.ceil((total * this.#down) / this.#up) + this.#taps - this.#historyStart - this.#historyLength;
    if (missing > 0) {
      const silence = new Float32Array(missing);
      this.#append(
        this.#history.map(() => silence),
        missing,
      );
    }
    return this.#produce(total);
  }

  #append(block: readonly Float32Array[], frames: number): void {
    const needed = this.#historyLength + frames;
    for (let channel = 0; channel < this.#history.length; channel++) {
      if (this.#history[channel].length < needed) {
        const larger = new Float32Array(needed + this.#taps);
        larger.set(this.#history[channel].subarray(0, this.#historyLength));
        this.#history[channel] = larger;
      }
      this.#history[channel].set(block[channel], this.#historyLength);
    }
    this.#historyLength = needed;
  }

  #produce(untilFrame: number): Float32Array[] {
    const count = untilFrame - this.#outputFrames;
    const output = this.#history.map(() => new Float32Array(count));
    for (let channel = 0; channel < output.length; channel += 2) {
      const second = Math.min(channel + 1, output.length - 1);
      // Silence stays silence; long pauses would otherwise cost as much as sound.
      if (this.#isSilent(channel) && this.#isSilent(second)) continue;
      if (this.#phases === this.#up && second === channel) {
        this.#convolveOne(this.#history[channel], output[channel]);
      } else if (this.#phases === this.#up) {
        this.#convolvePair(this.#history[channel], this.#history[second], output[channel], output[second]);
      } else {
        this.#convolveBetweenPhases(this.#history[channel], output[channel]);
        this.#convolveBetweenPhases(this.#history[second], output[second]);
      }
    }
    this.#outputFrames = untilFrame;
    this.#dropUsed();
    return output;
  }

  #isSilent(channel: number): boolean {
    const samples = this.#history[channel];
    for (let i = 0; i < this.#historyLength; i++) if (samples[i] !== 0) return false;
    return true;
  }

  #convolveOne(samples: Float32Array, made: Float32Array): void {
    const taps = this.#taps;
    const table = this.#table;
    let position = this.#outputFrames * this.#down;
    for (let m = 0; m < made.length; m++, position += this.#down) {
      const whole = Math.floor(position / this.#up);
      const row = (position - whole * this.#up) * taps;
      const first = whole - taps / 2 + 1 - this.#historyStart;
      let even = 0;
      let odd = 0;
      for (let tap = 0; tap < taps; tap += 2) {
        even += samples[first + tap] * table[row + tap];
        odd += samples[first + tap + 1] * table[row + tap + 1];
      }
      made[m] = even + odd;
    }
  }

  /** Two channels at once, since fetching the taps costs as much as the sum. */
  #convolvePair(left: Float32Array, right: Float32Array, madeLeft: Float32Array, madeRight: Float32Array): void {
    const taps = this.#taps;
    const table = this.#table;
    const position = this.#outputFrames * this.#down;
    let whole = Math.floor(position / this.#up);
    let phase = position - whole * this.#up;
    whole += 1 - taps / 2 - this.#historyStart;
    for (let m = 0; m < madeLeft.length; m++) {
      const row = phase * taps;
      let leftEven = 0;
      let leftOdd = 0;
      let rightEven = 0;
      let rightOdd = 0;
      for (let tap = 0; tap < taps; tap += 2) {
        const even = table[row + tap];
        const odd = table[row + tap + 1];
        leftEven += left[whole + tap] * even;
        leftOdd += left[whole + tap + 1] * odd;
        rightEven += right[whole + tap] * even;
        rightOdd += right[whole + tap + 1] * odd;
      }
      madeLeft[m] = leftEven + leftOdd;
      madeRight[m] = rightEven + rightOdd;
      phase += this.#down;
      const frames = Math.floor(phase / this.#up);
      whole += frames;
      phase -= frames * this.#up;
    }
  }

  #convolveBetweenPhases(samples: Float32Array, made: Float32Array): void {
    const taps = this.#taps;
    const table = this.#table;
    let position = this.#outputFrames * this.#down;
    for (let m = 0; m < made.length; m++, position += this.#down) {
      const whole = Math.floor(position / this.#up);
      const phase = ((position - whole * this.#up) / this.#up) * this.#phases;
      const row = Math.floor(phase) * taps;
      const share = phase - Math.floor(phase);
      const first = whole - taps / 2 + 1 - this.#historyStart;
      let sum = 0;
      for (let tap = 0; tap < taps; tap++) {
        const here = table[row + tap];
        sum += samples[first + tap] * (here + share * (table[row + taps + tap] - here));
      }
      made[m] = sum;
    }
  }

  #dropUsed(): void {
    const nextWhole = Math.floor((this.#outputFrames * this.#down) / this.#up);
    const used = Math.min(this.#historyLength, nextWhole - this.#taps / 2 + 1 - this.#historyStart);
    if (used <= 0) return;
    for (const samples of this.#history) samples.copyWithin(0, used, this.#historyLength);
    this.#historyLength -= used;
    this.#historyStart += used;
  }
}

interface Conversion {
  up: number;
  down: number;
  taps: number;
  phases: number;
  table: Float64Array;
}

const conversion = remembered((steepness: Steepness) =>
  remembered((fromHz: number) => remembered((toHz: number) => conversionOf(fromHz, toHz, steepness))),
);

function conversionOf(fromHz: number, toHz: number, { rejectionDb, passShare }: Steepness): Conversion {
  const shared = greatestCommonDivisor(fromHz, toHz);
  const up = toHz / shared;
  const lowerHz = Math.min(fromHz, toHz);
  const passHz = Math.min(PASS_HZ, lowerHz * passShare);
  // The slope falls from there to its mirror image about half the lower rate.
  const wanted = kaiserTaps(rejectionDb, (lowerHz - 2 * passHz) / fromHz);
  const taps = wanted + (wanted % 2);
  const phases = up <= MOST_EXACT_PHASES ? up : INTERPOLATED_PHASES;
  const table = filterTable(taps, phases, lowerHz / fromHz, kaiserBeta(rejectionDb));
  return { up, down: fromHz / shared, taps, phases, table };
}

/** One row of taps a phase, and one more, so that interpolation finds a neighbour; each row passes 0 Hz unchanged. */
function filterTable(taps: number, phases: number, cutoffShare: number, beta: number): Float64Array {
  const table = new Float64Array((phases + 1) * taps);
  for (let phase = 0; phase <= phases; phase++) {
    let sum = 0;
    for (let tap = 0; tap < taps; tap++) {
      const distance = phase / phases + taps / 2 - 1 - tap;
      const value = sinc(distance * cutoffShare) * kaiser(distance / (taps / 2), beta);
      table[phase * taps + tap] = value;
      sum += value;
    }
    for (let tap = 0; tap < taps; tap++) table[phase * taps + tap] /= sum;
  }
  return table;
}

function greatestCommonDivisor(a: number, b: number): number {
  return b === 0 ? a : greatestCommonDivisor(b, a % b);
}
