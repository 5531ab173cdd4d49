/**
 * Two-pole filters, in place, with coefficients that may move. The state-variable form is the trapezoidal
 * one (Simper, "Solving the continuous SVF equations using trapezoidal integration", 2013): stable while its
 * cut-off is swept, which gusts, pours and brushes need.
 */

export type FilterKind = 'low' | 'band' | 'high';

/** A number that stays, or one that moves with time in seconds. */
export type Moving = number | ((seconds: number) => number);

export interface FilterOptions {
  kind: FilterKind;
  /** Cut-off or centre in Hz; kept between 5 Hz and 0.49 of the rate. */
  hz: Moving;
  /** 0.7 is flat; a band filter's gain at its centre is 1 whatever its quality. */
  quality?: number;
}

/** How many frames pass between two looks at a moving cut-off. */
const CONTROL_FRAMES = 32;

/** Filters `samples` in place and returns them. */
export function filterInPlace(samples: Float32Array, rateHz: number, options: FilterOptions): Float32Array {
  const { kind, hz, quality = Math.SQRT1_2 } = options;
  const damping = 1 / quality;
  let first = 0;
  let second = 0;
  for (let start = 0; start < samples.length; start += CONTROL_FRAMES) {
    const wanted = typeof hz === 'number' ? hz : hz(start / rateHz);
    const g = Math.tan((Math.PI * Math.min(0.49 * rateHz, Math.max(5, wanted))) / rateHz);
    const a1 = 1 / (1 + g * (g + damping));
    const a2 = g * a1;
    const a3 = g * a2;
    const end = Math.min(samples.length, start + CONTROL_FRAMES);
    for (let index = start; index < end; index += 1) {
      const input = samples[index];
      const difference = input - second;
      const band = a1 * first + a2 * difference;
      const low = second + a2 * first + a3 * difference;
      first = 2 * band - first;
      second = 2 * low - second;
      samples[index] = kind === 'low' ? low : kind === 'band' ? damping * band : input - damping * band - low;
    }
  }
  return samples;
}
