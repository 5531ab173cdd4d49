/** Sums over any stretch of a series in constant time, and what is made from them. */

/** Prefix sums of a series: the mean over any stretch costs two look-ups. */
export class RunningMean {
  readonly length: number;
  readonly #sums: Float64Array;

  constructor(values: ArrayLike<number>) {
    this.length = values.length;
    this.#sums = new Float64Array(values.length + 1);
    for (let i = 0; i < values.length; i++) this.#sums[i + 1] = this.#sums[i] + values[i];
  }

  /** Mean over the steps [from, to), clamped to the series; 0 where nothing is left. */
  mean(from: number, to: number): number {
    const start = Math.max(0, from);
    const end = Math.min(this.length, to);
    return end > start ? Math.max(0, this.#sums[end] - this.#sums[start]) / (end - start) : 0;
  }

  /** Mean over `width` steps centred on each step, shorter at the edges. */
  smoothed(width: number): Float64Array {
    const before = Math.floor((width - 1) / 2);
    const smooth = new Float64Array(this.length);
    for (let i = 0; i < this.length; i++) smooth[i] = this.mean(i - before, i - before + width);
    return smooth;
  }

  /** Means of consecutive stretches of `width` steps; the last may be shorter. */
  thinned(width: number): Float64Array {
    const thin = new Float64Array(Math.ceil(this.length / width));
    for (let i = 0; i < thin.length; i++) thin[i] = this.mean(i * width, (i + 1) * width);
    return thin;
  }
}

/** Largest value within [i - before, i + after] for every i, in linear time (monotonic queue). */
export function runningMaximum(values: ArrayLike<number>, before: number, after: number): Float64Array {
  const maxima = new Float64Array(values.length);
  const queue = new Int32Array(values.length);
  let head = 0;
  let tail = 0;
  let next = 0;
  for (let i = 0; i < values.length; i++) {
    for (; next < values.length && next <= i + after; next++) {
      while (tail > head && values[queue[tail - 1]] <= values[next]) tail--;
      queue[tail++] = next;
    }
    while (queue[head] < i - before) head++;
    maxima[i] = values[queue[head]];
  }
  return maxima;
}

export function decibels(power: number): number {
  return 10 * Math.log10(Math.max(power, 1e-12));
}

/** decibels(power) - decibels(reference), with one logarithm. */
export function decibelsAbove(power: number, reference: number): number {
  return 10 * Math.log10(Math.max(power, 1e-12) / Math.max(reference, 1e-12));
}

export function powerOf(decibel: number): number {
  return 10 ** (decibel / 10);
}

/** Arithmetic mean; 0 of nothing. */
export function mean(values: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) sum += values[i];
  return sum / Math.max(1, values.length);
}

/** The value below which `share` (0..1) of the values lie, by nearest rank; NaN-free input, at least one value. */
export function quantile(values: ArrayLike<number>, share: number): number {
  const sorted = Float64Array.from(values).sort();
  return sorted[Math.min(sorted.length - 1, Math.max(0, Math.round(share * (sorted.length - 1))))];
}
