/**
 * The strong partials of a spectrum, and whether they stand in one harmonic row.
 *
 * A partial is a local maximum of the power spectrum (Hann window) that stands PROMINENCE_DB above the geometric mean
 * of the power around it (which other partials hardly raise) and no more than RANGE_DB below the strongest. Its frequency comes from a parabola through the logarithms
 * of the three highest bins.
 *
 * The row is that of a string with stiffness, f[n] = n f0 sqrt(1 + B n^2) (Fletcher & Rossing, The Physics of Musical
 * Instruments, section 2.18; B up to 0.01 in a piano's top octave; from memory), so that a piano stays harmonic. The
 * share of the partials' weight (square root of power) that the best row leaves over is the inharmonic share.
 */
const RANGE_DB = 36;
const PROMINENCE_DB = 13;
const NEIGHBOURHOOD_BINS = 24;
export const MOST_PARTIALS = 16;
/** Partials nearer than this to a stronger one belong to it. */
const APART_SHARE = 0.015;
const APART_BINS = 4;
export const HIGHEST_HARMONIC = 40;
/** A row is tried on each of the strongest partials as its first, second .. harmonic. */
const ANCHORS = 4;
const HIGHEST_ANCHOR_NUMBER = 8;
const LOWEST_FUNDAMENTAL_HZ = 25;
/** Of a row's places up to its highest partial this share must be filled: a clarinet's row is half empty. */
export const LEAST_FILLED = 0.45;
const STIFFEST = 0.02;
/** So near its place (about 10 cents, and what a peak's frequency is uncertain by) a partial belongs to the row. */
const TOLERANCE = 0.012;
const TOLERANCE_BINS = 0.1;

export interface Partial {
  hz: number;
  power: number;
}

export interface HarmonicRow {
  fundamentalHz: number;
  /** Share 0..1 of the partials that lies in the row. */
  share: number;
}

export class PartialFinder {
  readonly #binHz: number;
  readonly #first: number;
  readonly #last: number;
  /** Sums of the logarithms of power, for geometric means over any stretch of bins. */
  readonly #logSums: Float64Array;

  constructor(binHz: number, lowestHz: number, highestHz: number) {
    this.#binHz = binHz;
    this.#first = Math.max(2, Math.floor(lowestHz / binHz));
    this.#last = Math.ceil(highestHz / binHz);
    this.#logSums = new Float64Array(this.#last + NEIGHBOURHOOD_BINS + 2);
  }

  /** Strongest first. */
  find(power: Float64Array): Partial[] {
    let strongest = 0;
    for (let k = this.#first; k <= this.#last; k++) if (power[k] > strongest) strongest = power[k];
    if (strongest <= 0) return [];
    const sums = this.#logSums;
    for (let k = 0; k + 1 < sums.length; k++) sums[k + 1] = sums[k] + Math.log(power[k] + strongest * 1e-12);
    const least = strongest * 10 ** (-RANGE_DB / 10);
    const partials: Partial[] = [];
    for (let k = this.#first; k <= this.#last; k++) {
      const here = power[k];
      if (here < least || here <= power[k - 1] || here < power[k + 1]) continue;
      if (Math.log(here) < this.#surroundings(k) + PROMINENCE_DB * (Math.LN10 / 10)) continue;
      const [a, b, c] = [Math.log(power[k - 1] + 1e-300), Math.log(here), Math.log(power[k + 1] + 1e-300)];
      const bend = a - 2 * b + c;
      partials.push({ hz: (k + (bend < 0 ? (a - c) / (2 * bend) : 0)) * this.#binHz, power: here });
    }
    return strongestApart(partials, this.#binHz);
  }

  /** Mean logarithm beside a peak, its own main lobe (two bins each side) left out. */
  #surroundings(peak: number): number {
    const sums = this.#logSums;
    const low = Math.max(1, peak - NEIGHBOURHOOD_BINS);
    const high = Math.min(sums.length - 1, peak + NEIGHBOURHOOD_BINS + 1);
    const below = sums[Math.max(low, peak - 2)] - sums[low];
    const above = sums[high] - sums[Math.min(high, peak + 3)];
    return (below + above) / Math.max(1, high - low - 5);
  }
}

/** The strongest partials, without the weaker ones close beside them: sidebands of a beat, a detuned second string. */
function strongestApart(partials: Partial[], binHz: number): Partial[] {
  const kept: Partial[] = [];
  for (const partial of partials.sort((p, q) => q.power - p.power)) {
    if (kept.length === MOST_PARTIALS) break;
    const apart = Math.max(partial.hz * APART_SHARE, binHz * APART_BINS);
    if (kept.every((stronger) => Math.abs(stronger.hz - partial.hz) > apart)) kept.push(partial);
  }
  return kept;
}

/**
 * The row that holds most of the partials' weight; null where no row is filled well enough to be one. Tried are rows
 * that have one of the strongest partials as their first, second .. harmonic; each is fitted to the partials it meets
 * on the way up, since stiffness shows in the high ones: (f/n)^2 = f0^2 + f0^2 B n^2 is a straight line over n^2.
 */
export function bestRow(partials: readonly Partial[], binHz: number): HarmonicRow | null {
  const rising = [...partials].sort((p, q) => p.hz - q.hz);
  const total = rising.reduce((sum, partial) => sum + amplitude(partial), 0);
  let best: HarmonicRow | null = null;
  for (const anchor of partials.slice(0, ANCHORS)) {
    for (let number = 1; number <= HIGHEST_ANCHOR_NUMBER; number++) {
      if (anchor.hz / number < LOWEST_FUNDAMENTAL_HZ) break;
      const row = fittedRow(rising, anchor.hz / number, binHz);
      const share = weightInRow(rising, row, binHz, amplitude) / total;
      if (share > (best?.share ?? 0)) best = { ...row, share };
    }
  }
  return best;
}

/** A partial may stand so far from a pitch's harmonic where the pitch glides or trembles: a quarter tone. */
const GLIDE_SHARE = 0.03;

/**
 * The row of one pitch, with the share of the partials' power in it; null where none of the strongest stands near a
 * harmonic. The row hangs on the partials, not on the pitch, so that it follows a glide. As a row with most places
 * empty holds nothing, the common period of a few partials on its 5th, 10th and 12th place has no share: the ear makes
 * a tone that is not there of neighbouring harmonics only. Partials come strongest first.
 */
export function rowOfPitch(pitchHz: number, partials: readonly Partial[], binHz: number): HarmonicRow | null {
  const rising = [...partials].sort((p, q) => p.hz - q.hz);
  const total = partials.reduce((sum, partial) => sum + partial.power, 0);
  let best: HarmonicRow | null = null;
  for (const anchor of partials.slice(0, ANCHORS)) {
    const number = Math.round(anchor.hz / pitchHz);
    if (number < 1 || Math.abs(anchor.hz / (number * pitchHz) - 1) > GLIDE_SHARE) continue;
    const row = fittedRow(rising, anchor.hz / number, binHz);
    const share = weightInRow(rising, row, binHz, (partial) => partial.power) / total;
    if (share > (best?.share ?? 0)) best = { ...row, share };
  }
  return best;
}

function amplitude(partial: Partial): number {
  return Math.sqrt(partial.power);
}

interface Row {
  fundamentalHz: number;
  stiffness: number;
}

function fittedRow(rising: readonly Partial[], firstGuessHz: number, binHz: number): Row {
  let row: Row = { fundamentalHz: firstGuessHz, stiffness: 0 };
  let [count, sumX, sumY, sumXX, sumXY] = [0, 0, 0, 0, 0];
  for (const partial of rising) {
    const number = placeInRow(partial.hz, row, binHz);
    if (number === 0) continue;
    const x = number * number;
    const y = (partial.hz / number) ** 2;
    count++;
    sumX += x;
    sumY += y;
    sumXX += x * x;
    sumXY += x * y;
    const spread = count * sumXX - sumX * sumX;
    if (count < 3 || spread <= 0) continue;
    const slope = (count * sumXY - sumX * sumY) / spread;
    const square = (sumY - slope * sumX) / count;
    if (slope < 0 || square <= 0) row = { fundamentalHz: Math.sqrt(sumY / count), stiffness: 0 };
    else row = { fundamentalHz: Math.sqrt(square), stiffness: Math.min(STIFFEST, slope / square) };
  }
  return row;
}

/**
 * Weight of the partials in a row, up to the highest harmonic below which the row is filled well enough: with many
 * empty places matches are chance.
 */
function weightInRow(
  rising: readonly Partial[],
  row: Row,
  binHz: number,
  weightOf: (partial: Partial) => number,
): number {
  let weight = 0;
  let credible = 0;
  let filled = 0;
  let highest = 0;
  for (const partial of rising) {
    const number = placeInRow(partial.hz, row, binHz);
    if (number === 0) continue;
    weight += weightOf(partial);
    if (number > highest) filled++;
    highest = Math.max(highest, number);
    if (filled >= highest * LEAST_FILLED) credible = weight;
  }
  return credible;
}

/** Number of the harmonic a frequency lies on, 0 for none. */
function placeInRow(hz: number, { fundamentalHz, stiffness }: Row, binHz: number): number {
  const ratio = hz / fundamentalHz;
  // n sqrt(1 + B n^2) = ratio, solved for n, without the difference that cancels where B is next to nothing.
  const number = Math.round(ratio * Math.sqrt(2 / (1 + Math.sqrt(1 + 4 * stiffness * ratio * ratio))));
  if (number < 1 || number > HIGHEST_HARMONIC) return 0;
  const placeHz = fundamentalHz * number * Math.sqrt(1 + stiffness * number * number);
  return Math.abs(hz - placeHz) <= placeHz * TOLERANCE + binHz * TOLERANCE_BINS ? number : 0;
}
