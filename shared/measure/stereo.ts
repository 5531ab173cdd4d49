/**
 * How the two channels of a stereo sound stand to each other, over the whole sound. Of more than two channels the
 * first pair (front left and right) is taken. null for mono and where nothing sounds.
 */
export interface Stereo {
  /**
   * Share of the side in the whole energy: sum S^2 / sum (M^2 + S^2), M = (L+R)/2, S = (L-R)/2, constant offsets
   * removed. 0 = both channels alike, 0.5 = unrelated or one side only, 1 = one channel inverted.
   */
  stereoWidth: number | null;
  /** Pearson correlation of the channels, -1..1. Also null when one of them is silent. */
  correlation: number | null;
  /** Energy of L - R over that of L + R's channels: 0 for identical channels. */
  differenceShare: number | null;
}

export class StereoMeter {
  readonly #channels: number;
  #frames = 0;
  #sumLeft = 0;
  #sumRight = 0;
  #leftLeft = 0;
  #rightRight = 0;
  #leftRight = 0;
  #difference = 0;

  constructor(channels: number) {
    this.#channels = channels;
  }

  push(block: readonly Float32Array[]): void {
    if (this.#channels < 2) return;
    const [left, right] = block;
    let [sumLeft, sumRight, leftLeft, rightRight, leftRight, difference] = [0, 0, 0, 0, 0, 0];
    for (let frame = 0; frame < left.length; frame++) {
      const l = left[frame];
      const r = right[frame];
      sumLeft += l;
      sumRight += r;
      leftLeft += l * l;
      rightRight += r * r;
      leftRight += l * r;
      difference += (l - r) * (l - r);
    }
    this.#frames += left.length;
    this.#sumLeft += sumLeft;
    this.#sumRight += sumRight;
    this.#leftLeft += leftLeft;
    this.#rightRight += rightRight;
    this.#leftRight += leftRight;
    this.#difference += difference;
  }

  finish(): Stereo {
    const left = this.#leftLeft - this.#sumLeft ** 2 / Math.max(1, this.#frames);
    const right = this.#rightRight - this.#sumRight ** 2 / Math.max(1, this.#frames);
    const cross = this.#leftRight - (this.#sumLeft * this.#sumRight) / Math.max(1, this.#frames);
    // Rounding of the sums leaves about this much of the energy behind where a channel is constant.
    const rounding = 1e-12 * (this.#leftLeft + this.#rightRight);
    const sounding = this.#channels >= 2 && left + right > rounding;
    return {
      stereoWidth: sounding ? Math.min(1, Math.max(0, 0.5 - cross / (left + right))) : null,
      correlation: sounding && left > rounding && right > rounding ? clampToOne(cross / Math.sqrt(left * right)) : null,
      differenceShare: sounding ? this.#difference / (this.#leftLeft + this.#rightRight) : null,
    };
  }
}

function clampToOne(value: number): number {
  return Math.min(1, Math.max(-1, value));
}
