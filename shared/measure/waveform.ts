/**
 * Minimum and maximum of every channel in WAVEFORM_COLUMNS equal stretches of the whole sound, as -127..127 of full
 * scale, interleaved. Louder than full scale reads 127. A sound shorter than the columns repeats its samples.
 */
import { WAVEFORM_COLUMNS, type Waveform } from '../sound.ts';
import { singles } from './growable.ts';

/** Extremes are first kept for stretches this long, or shorter when the sound is. */
const MOST_FRAMES = 256;

export class WaveformDrawing {
  readonly #stretchFrames: number;
  readonly #lows = singles();
  readonly #highs = singles();
  #low = Number.POSITIVE_INFINITY;
  #high = Number.NEGATIVE_INFINITY;
  #inStretch = 0;

  /** `expectedFrames` only sets the fineness; another number of frames may follow. */
  constructor(expectedFrames: number) {
    const finest = Math.floor(expectedFrames / WAVEFORM_COLUMNS / 8);
    this.#stretchFrames = Math.min(MOST_FRAMES, Math.max(1, finest));
  }

  push(block: readonly Float32Array[]): void {
    const frames = block[0]?.length ?? 0;
    for (let from = 0; from < frames; ) {
      const to = Math.min(frames, from + this.#stretchFrames - this.#inStretch);
      for (const samples of block) {
        for (let frame = from; frame < to; frame++) {
          const value = samples[frame];
          if (value < this.#low) this.#low = value;
          if (value > this.#high) this.#high = value;
        }
      }
      this.#inStretch += to - from;
      from = to;
      if (this.#inStretch === this.#stretchFrames) this.#closeStretch();
    }
  }

  #closeStretch(): void {
    this.#lows.push(this.#low);
    this.#highs.push(this.#high);
    this.#low = Number.POSITIVE_INFINITY;
    this.#high = Number.NEGATIVE_INFINITY;
    this.#inStretch = 0;
  }

  finish(): Waveform {
    if (this.#inStretch > 0) this.#closeStretch();
    const lows = this.#lows.values;
    const highs = this.#highs.values;
    const drawn = new Int8Array(WAVEFORM_COLUMNS * 2);
    if (lows.length === 0) return drawn;
    for (let column = 0; column < WAVEFORM_COLUMNS; column++) {
      const from = Math.floor((column * lows.length) / WAVEFORM_COLUMNS);
      const to = Math.max(from + 1, Math.floor(((column + 1) * lows.length) / WAVEFORM_COLUMNS));
      let low = lows[from];
      let high = highs[from];
      for (let stretch = from + 1; stretch < to; stretch++) {
        if (lows[stretch] < low) low = lows[stretch];
        if (highs[stretch] > high) high = highs[stretch];
      }
      drawn[2 * column] = toByte(low);
      drawn[2 * column + 1] = toByte(high);
    }
    return drawn;
  }
}

function toByte(value: number): number {
  return Math.round(127 * Math.min(1, Math.max(-1, value)));
}
