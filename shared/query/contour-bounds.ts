/**
 * The warped cost of two contours, and three lower bounds of it, each cheaper than the next.
 *
 * Every walk of the symmetric form (see contour.ts) pays |a - b| once for each point of either contour when it first comes to
 * that point, so bounds over the points of one side and of the other may be added up:
 *
 * - ends: the walk begins with both first points, paid twice, and ends with both last ones (S.-W. Kim, S. Park and
 *   W. W. Chu, "An index-based approach for similarity search supporting time warping", ICDE 2001; of their four features
 *   only the ends, as the greatest value of every contour is the same);
 * - coarse: sums over SEGMENTS parts against the sums of the other side's envelope (Y. Zhu and D. Shasha, "Warping indexes
 *   with envelope transforms for query by humming", SIGMOD 2003);
 * - fine: each point against the envelope of the other side's band (E. Keogh and C. A. Ratanamahatana, "Exact indexing of
 *   dynamic time warping", Knowledge and Information Systems 7, 2005).
 *
 * Steps in one contour alone cost STEP_COST more; leaving that out keeps bounds below the cost.
 *
 * Costs are whole numbers, so that bounds and costs compare exactly: COST_UNIT is a mean difference of 1.
 */
import { CONTOUR_POINTS } from '../sound.ts';

/** How far the walk may leave the diagonal. */
export const BAND_POINTS = 10;
/**
 * Each step in one contour alone costs a tenth of full height besides, so that of two like sounds the one that needs less
 * warping is nearer: an accent that comes a tenth of the length late costs 0.01.
 */
export const STEP_COST = 25;
/** Coarse parts of a contour. */
export const SEGMENTS = 16;
const SEGMENT_POINTS = CONTOUR_POINTS / SEGMENTS;
/** The cost of the loudest against silence throughout: 255 for each point of both contours. */
export const COST_UNIT = 255 * 2 * CONTOUR_POINTS;

/** Beyond every cost, and sums of it stay within 32 bits. */
const UNREACHED = 2 ** 24;

/** How far the windows of an envelope reach from one pass to the next: side by side they leave no point out. */
const REACHES = [1, 3, 7, BAND_POINTS];
const passes = REACHES.map(() => ({ upper: new Uint8Array(CONTOUR_POINTS), lower: new Uint8Array(CONTOUR_POINTS) }));

/** Greatest and least value of a row within BAND_POINTS of each point, by windows that grow from three of the pass before. */
export function writeEnvelope(row: Uint8Array, upper: Uint8Array, lower: Uint8Array): void {
  let from = { upper: row, lower: row };
  let reach = 0;
  for (let pass = 0; pass < REACHES.length; pass++) {
    widen(from, REACHES[pass] - reach, passes[pass]);
    from = passes[pass];
    reach = REACHES[pass];
  }
  upper.set(from.upper);
  lower.set(from.lower);
}

function widen(from: { upper: Uint8Array; lower: Uint8Array }, by: number, to: typeof from): void {
  for (let point = 0; point < CONTOUR_POINTS; point++) {
    const before = Math.max(0, point - by);
    const after = Math.min(CONTOUR_POINTS - 1, point + by);
    to.upper[point] = Math.max(from.upper[before], from.upper[point], from.upper[after]);
    to.lower[point] = Math.min(from.lower[before], from.lower[point], from.lower[after]);
  }
}

export function sumSegments(rows: Uint8Array, at: number, sums: Uint16Array, to: number): void {
  for (let segment = 0; segment < SEGMENTS; segment++) {
    let sum = 0;
    for (let point = 0; point < SEGMENT_POINTS; point++) sum += rows[at + segment * SEGMENT_POINTS + point];
    sums[to + segment] = sum;
  }
}

/** Sum of what `values` exceed the envelope by, above or below. */
export function beyondEnvelope(
  values: ArrayLike<number>,
  at: number,
  upper: ArrayLike<number>,
  lower: ArrayLike<number>,
  envelopeAt: number,
  length: number,
): number {
  let sum = 0;
  for (let i = 0; i < length; i++) {
    const value = values[at + i];
    const over = (value - upper[envelopeAt + i]) | 0;
    const under = (lower[envelopeAt + i] - value) | 0;
    // What is negative is masked away by its sign.
    sum = (sum + (over & ~(over >> 31)) + (under & ~(under >> 31))) | 0;
  }
  return sum;
}

/** The same point by point: `rest[i]` is the sum from point i on, `rest[CONTOUR_POINTS]` 0. */
export function restBeyondEnvelope(
  values: Uint8Array,
  at: number,
  upper: Uint8Array,
  lower: Uint8Array,
  envelopeAt: number,
  rest: Int32Array,
): number {
  let sum = 0;
  for (let i = CONTOUR_POINTS - 1; i >= 0; i--) {
    const value = values[at + i];
    const over = (value - upper[envelopeAt + i]) | 0;
    const under = (lower[envelopeAt + i] - value) | 0;
    // What is negative is masked away by its sign.
    sum = (sum + (over & ~(over >> 31)) + (under & ~(under >> 31))) | 0;
    rest[i] = sum;
  }
  return sum;
}

/** Both ends of the walk: the first pair is stepped to in both contours, the last in at least one. */
export function endsBound(a: Uint8Array, aAt: number, b: Uint8Array, bAt: number): number {
  const last = CONTOUR_POINTS - 1;
  return 2 * Math.abs(a[aAt] - b[bAt]) + Math.abs(a[aAt + last] - b[bAt + last]);
}

/** What is still to be paid at least: by points of a from the index on, and by points of b. */
export interface Rest {
  a: Int32Array;
  b: Int32Array;
}
export const NO_REST: Rest = { a: new Int32Array(CONTOUR_POINTS + 1), b: new Int32Array(CONTOUR_POINTS + 1) };

/** By step off the diagonal; one more at the end, which no walk reaches. */
const costs = new Int32Array(2 * BAND_POINTS + 2);
/** Rows between two looks at whether the limit can still be kept. */
const LOOK_ROWS = 4;

/**
 * Least cost of a walk through both contours. When every walk so far, with what is still to be paid at least, is beyond
 * `limit`, the search ends (T. Rakthanmanon et al., "Searching and mining trillions of time series subsequences under dynamic
 * time warping", KDD 2012): then the answer is limit + 1, else it is the cost itself.
 *
 * The lesser of two numbers is taken without a branch, as b + min(a - b, 0) with the sign bit as a mask: which one it is
 * cannot be foretold, and a processor that guesses wrong loses more time than all the sums take. `| 0` keeps numbers whole.
 */
export function warpedCost(
  a: Uint8Array,
  aAt: number,
  b: Uint8Array,
  bAt: number,
  limit: number = UNREACHED,
  rest: Rest = NO_REST,
): number {
  costs.fill(UNREACHED);
  costs[BAND_POINTS] = 0;
  for (let i = 0; i < CONTOUR_POINTS; i++) {
    const value = a[aAt + i];
    const other = (bAt + i - BAND_POINTS) | 0;
    const first = Math.max(0, BAND_POINTS - i) | 0;
    const last = Math.min(2 * BAND_POINTS, CONTOUR_POINTS - 1 - i + BAND_POINTS) | 0;
    let straight = costs[first] | 0;
    let cost = UNREACHED | 0;
    for (let k = first; k <= last; k++) {
      const signed = (value - b[other + k]) | 0;
      const difference = ((signed ^ (signed >> 31)) - (signed >> 31)) | 0;
      // From one point of a to the next with b standing still, the step off the diagonal is one less.
      const above = costs[k + 1] | 0;
      const aloneInA = (above + STEP_COST) | 0;
      const apart = (straight + difference - aloneInA) | 0;
      const before = (aloneInA + (apart & (apart >> 31))) | 0;
      const aloneInB = (cost + STEP_COST) | 0;
      const further = (before - aloneInB) | 0;
      cost = (aloneInB + (further & (further >> 31)) + difference) | 0;
      costs[k] = cost;
      straight = above;
    }
    if (i % LOOK_ROWS === LOOK_ROWS - 1) {
      const toPay = rest.a[i + 1] + rest.b[Math.min(CONTOUR_POINTS, i + BAND_POINTS + 1)];
      if (leastCost(first, last) + toPay > limit) return limit + 1;
    }
  }
  return Math.min(costs[BAND_POINTS], limit + 1);
}

function leastCost(first: number, last: number): number {
  let least = UNREACHED | 0;
  for (let k = first; k <= last; k++) {
    const less = (costs[k] - least) | 0;
    least = (least + (less & (less >> 31))) | 0;
  }
  return least;
}
