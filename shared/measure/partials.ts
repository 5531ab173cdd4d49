/**
 * The strong partials of a spectrum, and whether they stand in one harmonic row.
 *
 * A partial is a local maximum of the power spectrum (Hann window) that stands PROMINENCE_DB above the mean level
 * around it and no more than RANGE_DB below the strongest. Its frequency comes from a parabola through the logarithms
 * of the three highest bins.
 *
 * The row is that of a string with stiffness, f[n] = n f0 sqrt(1 + B n^2) (Fletcher & Rossing, The Physics of Musical
 * Instruments, section 2.18; B up to 0.01 in a piano's top octave; from memory), so that a piano stays harmonic. The
 * share of the partials' weight (square root of power) that the best row leaves over is the inharmonic share.
 */
const RANGE_DB = 36;
const PROMINENCE_DB = 12;
const NEIGHBOURHOOD_BINS = 24;
const MOST_PARTIALS = 16;
const HIGHEST_HARMONIC = 20;
const STIFFNESSES = [0, 1e-4, 3e-4, 1e-3, 3e-3, 1e-2] as const;
/** Within this share of its place a partial belongs to the row (about 17 cents), or within half a bin. */
const TOLERANCE = 0.01;

export interface Partial {
  hz: number;
  power: number;
}

export interface HarmonicRow {
  fundamentalHz: number;
  /** Share 0..1 of the partials' weight that lies in the row. */
  share: number;
}

export function findPartials(power: Float64Array, binHz: number, lowestHz: number, highestHz: number): Partial[] {
  const first = Math.max(2, Math.floor(lowestHz / binHz));
  const last = Math.min(power.length - 3, Math.ceil(highestHz / binHz));
  let strongest = 0;
  for (let k = first; k <= last; k++) if (power[k] > strongest) strongest = power[k];
  const least = strongest * 10 ** (-RANGE_DB / 10);
  const partials: Partial[] = [];
  for (let k = first; k <= last; k++) {
    const here = power[k];
    if (here < least || here <= power[k - 1] || here < power[k + 1]) continue;
    if (here < surroundings(power, k) * 10 ** (PROMINENCE_DB / 10)) continue;
    const [a, b, c] = [Math.log(power[k - 1] + 1e-300), Math.log(here), Math.log(power[k + 1] + 1e-300)];
    const bend = a - 2 * b + c;
    const shift = bend < 0 ? (a - c) / (2 * bend) : 0;
    partials.push({ hz: (k + shift) * binHz, power: here });
  }
  return partials.sort((p, q) => q.power - p.power).slice(0, MOST_PARTIALS);
}

/** Mean power beside a peak, its own main lobe (two bins each side) left out. */
function surroundings(power: Float64Array, peak: number): number {
  let sum = 0;
  let count = 0;
  for (let distance = 3; distance <= NEIGHBOURHOOD_BINS; distance++) {
    if (peak - distance >= 1) {
      sum += power[peak - distance];
      count++;
    }
    if (peak + distance < power.length) {
      sum += power[peak + distance];
      count++;
    }
  }
  return count > 0 ? sum / count : 0;
}

/** The row that holds most of the partials' weight; of equals the one with the highest fundamental. */
export function bestRow(partials: readonly Partial[], binHz: number): HarmonicRow | null {
  const total = partials.reduce((sum, partial) => sum + Math.sqrt(partial.power), 0);
  if (partials.length === 0 || total <= 0) return null;
  let best: HarmonicRow | null = null;
  for (const anchor of partials.slice(0, 4)) {
    for (let number = 1; number <= 8; number++) {
      for (const stiffness of STIFFNESSES) {
        const fundamentalHz = anchor.hz / (number * Math.sqrt(1 + stiffness * number * number));
        const share = rowWeight(partials, fundamentalHz, stiffness, binHz) / total;
        const better = best === null || share > best.share + 0.02;
        const higher = best !== null && share > best.share - 0.02 && fundamentalHz > best.fundamentalHz * 1.1;
        if (better || higher) best = { fundamentalHz, share };
      }
    }
  }
  return best;
}

function rowWeight(partials: readonly Partial[], fundamentalHz: number, stiffness: number, binHz: number): number {
  let weight = 0;
  for (const partial of partials) {
    const ratio = partial.hz / fundamentalHz;
    let number = Math.max(1, Math.round(ratio));
    while (number > 1 && number * Math.sqrt(1 + stiffness * number * number) > ratio * 1.01) number--;
    if (number > HIGHEST_HARMONIC) continue;
    const placeHz = fundamentalHz * number * Math.sqrt(1 + stiffness * number * number);
    if (Math.abs(partial.hz - placeHz) <= Math.max(placeHz * TOLERANCE, binHz / 2)) weight += Math.sqrt(partial.power);
  }
  return weight;
}
