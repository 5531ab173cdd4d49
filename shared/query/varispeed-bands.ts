/**
 * How the spectrum of a sound moves at another speed: its profile goes up or down by whole bands, and what crosses the
 * edges of what is measured drops out.
 *
 * The measurer's windows stay as they are, so that a low sound is seen through them otherwise than a high one. Both effects
 * are those of a Hann window and are worked out, not fitted:
 *
 *   W(d) = sinc(d) / (1 - d^2)        amplitude of a line d bins away from a bin (Harris, Proc. IEEE 66(1), 1978)
 */
import { semitoneBands } from '../measure/profile.ts';
import { PROFILE_BANDS, PROFILE_LOWEST_HZ, type Semitones } from '../sound.ts';

/** Width of a bin of the transform that colour is read from (2048 samples at 48 kHz). */
export const COLOUR_BIN_HZ = 48_000 / 2048;
/** Width of a bin of the transform that the profile is read from (16 384 samples at 48 kHz). */
export const PROFILE_BIN_HZ = 48_000 / 16_384;
/** Nothing above this is measured, and nobody hears it. */
export const BAND_TOP_HZ = 24_000;
/** Up to here nothing is taken away on the way to 48 kHz (shared/measure/resample.ts). */
const FILTER_PASS_HZ = 20_000;
export const SILENT_BAND_DB = -80;

const BAND_HZ = Float64Array.from({ length: PROFILE_BANDS }, (_, band) => PROFILE_LOWEST_HZ * 2 ** (band / 12));
/** Power of a line over all bins of a Hann window: 1 + 2 / 4. */
const LINE_POWER = 1.5;
/** A line's power further away than this is less than a ten-thousandth of it. */
const REACH_BINS = 5;

function lineAt(bins: number): number {
  const distance = Math.abs(bins);
  if (distance < 1e-9) return 1;
  if (Math.abs(distance - 1) < 1e-9) return 0.5;
  const turn = Math.PI * distance;
  return Math.sin(turn) / turn / (1 - distance * distance);
}

/** What the transform for colour tells of a line: the share of its power, and where that seems to lie. */
interface Seen {
  share: number;
  hertz: number;
}

/** Bin 0 and its skirt are taken out with the standing offset, and with them most of what lies under 20 Hz. */
export function seenAt(hertz: number): Seen {
  const place = hertz / COLOUR_BIN_HZ;
  if (place > REACH_BINS) return { share: 1, hertz };
  const offset = lineAt(place);
  let power = 0;
  let moment = 0;
  for (let bin = 1; bin <= place + REACH_BINS; bin++) {
    const skirt = bin === 1 ? offset / 2 : 0;
    const here = (lineAt(bin - place) - skirt) ** 2 + (lineAt(bin + place) - skirt) ** 2;
    power += here;
    moment += bin * here;
  }
  return { share: power / LINE_POWER, hertz: (moment / power) * COLOUR_BIN_HZ };
}

/**
 * Going up, a filter lets nothing through that does not fit under BAND_TOP_HZ: whole up to FILTER_PASS_HZ, half the
 * amplitude at the top, and as much above it folded back as is let through there.
 */
function seenThroughFilter(hertz: number): Seen {
  const beyond = (hertz - FILTER_PASS_HZ) / (2 * (BAND_TOP_HZ - FILTER_PASS_HZ));
  if (beyond <= 0) return seenAt(hertz);
  const amplitude = beyond < 1 ? Math.cos((Math.PI / 2) * beyond) ** 2 : 0;
  return { share: amplitude ** 2, hertz: hertz <= BAND_TOP_HZ ? hertz : 2 * BAND_TOP_HZ - hertz };
}

/** For every band of the profile as recorded: share and share times frequency, as seen after a shift. */
interface Moved {
  shares: Float64Array;
  moments: Float64Array;
}

function movedBy(semitones: Semitones): Moved {
  const rate = 2 ** (semitones / 12);
  const seen = Array.from(BAND_HZ, (hertz) => (rate > 1 ? seenThroughFilter : seenAt)(hertz * rate));
  return {
    shares: Float64Array.from(seen, ({ share }) => share),
    moments: Float64Array.from(seen, ({ share, hertz }) => share * hertz),
  };
}

export interface Remains {
  /** Centroid after the shift over the centroid as recorded; null where nothing is left to have one. */
  centroidFactor: number | null;
  /** Centroid as recorded, as the profile alone has it. */
  centroidHz: number;
  /** Share 0..1 of the sound's energy that stays within what is measured. */
  keptShare: number;
}

/**
 * What a shift does to sounds, each given by the energies of its bands (any scale). Where all stays within what is
 * measured, the factor is the rate.
 */
export function remainsAt(semitones: Semitones): (energies: Float64Array) => Remains {
  const before = movedBy(0);
  const after = movedBy(semitones);
  return (energies) => {
    let energyBefore = 0;
    let momentBefore = 0;
    let energyAfter = 0;
    let momentAfter = 0;
    for (let band = 0; band < PROFILE_BANDS; band++) {
      const energy = energies[band];
      energyBefore += energy * before.shares[band];
      momentBefore += energy * before.moments[band];
      energyAfter += energy * after.shares[band];
      momentAfter += energy * after.moments[band];
    }
    if (!(energyAfter > 0) || !(momentBefore > 0)) return { centroidFactor: null, centroidHz: 0, keptShare: 0 };
    return {
      centroidHz: momentBefore / energyBefore,
      centroidFactor: ((momentAfter / energyAfter) * energyBefore) / momentBefore,
      keptShare: Math.min(1, energyAfter / energyBefore),
    };
  };
}

/**
 * The profile after a shift, in dB below its strongest band. Bands move by whole ones (the nearest, where the shift is
 * none); what enters from outside is at the floor. Going down, low bands widen to what the window can tell apart; going
 * up, they stay as wide as they were measured. null where nothing is left.
 */
export function profileAt(profile: readonly number[], semitones: Semitones): number[] | null {
  const shift = Math.round(semitones);
  if (shift === 0) return [...profile];
  const bands = new Float64Array(PROFILE_BANDS);
  const lines = new Float64Array(Math.ceil(BAND_TOP_HZ / PROFILE_BIN_HZ) + 1);
  for (let band = 0; band < PROFILE_BANDS; band++) {
    const to = band + shift;
    if (profile[band] <= SILENT_BAND_DB) continue;
    const energy = 10 ** (profile[band] / 10);
    if (shift > 0) {
      if (to < PROFILE_BANDS) bands[to] += energy;
    } else addLine(lines, PROFILE_LOWEST_HZ * 2 ** (to / 12), energy);
  }
  if (shift < 0) semitoneBands(PROFILE_BIN_HZ).compute(lines, bands);
  const strongest = Math.max(...bands);
  if (!(strongest > 0)) return null;
  return Array.from(bands, (energy) =>
    energy > 0 ? Math.max(SILENT_BAND_DB, 10 * Math.log10(energy / strongest)) : SILENT_BAND_DB,
  );
}

function addLine(lines: Float64Array, hertz: number, energy: number): void {
  const place = hertz / PROFILE_BIN_HZ;
  for (let bin = Math.max(1, Math.ceil(place - REACH_BINS)); bin <= place + REACH_BINS; bin++) {
    lines[bin] += (energy * lineAt(bin - place) ** 2) / LINE_POWER;
  }
}
