/**
 * What is struck, drawn over or bowed: each body is a rule that gives a row of modes. Ratios come from acoustics
 * (Fletcher and Rossing, The Physics of Musical Instruments): free-free bar 1 : 2.756 : 5.404 : 8.933; ideal circular
 * membrane 1 : 1.594 : 2.136 : 2.296 : 2.653 : 2.918; minor-third bell hum 0.5, prime 1, tierce 1.2, quint 1.5,
 * nominal 2; plates have modes evenly dense in frequency. Sizes, dampings and gains are invented for the scenario.
 */
import type { Mode } from './modal-bank.ts';
import type { Random } from './random.ts';

export type Material = 'metal' | 'glass' | 'skin' | 'wood';

export interface Body {
  /** As it stands in a sound's name. */
  noun: string;
  material: Material;
  keywords: readonly string[];
  /** The lowest strong mode, in Hz, as a range the chance draws from. */
  lowestHz: readonly [number, number];
  /** Fall by 60 dB of the lowest modes, in seconds. */
  ringSeconds: number;
  /** Frequency above which the ring shortens, in Hz. */
  dampedAboveHz: number;
  /** True where the lowest mode is heard as a note. */
  pitched: boolean;
  /** Frequencies over the lowest one. */
  ratios: (random: Random) => number[];
  /** How fast gain falls with the ratio: gain = ratio^-tilt. */
  tilt: number;
  /** Seconds by which a mode at 3 kHz speaks late; 0 for all but gongs. */
  bloomSeconds: number;
  /** Share by which doublets of a mode stand apart; what beats. */
  split: number;
}

const BAR = [1, 2.756, 5.404, 8.933, 13.344, 18.637];
const MEMBRANE = [1, 1.594, 2.136, 2.296, 2.653, 2.918, 3.156, 3.5, 3.6, 3.652, 4.06, 4.154];
const BELL = [0.5, 1, 1.2, 1.5, 2, 2.52, 2.66, 3.0, 3.76, 4.2, 5.4, 6.7];
const HARMONIC_ROD = [1, 2.001, 3.003, 4.006, 5.01];

/** `count` modes of a plate: on average `step` apart in ratio, each shifted by chance. */
function plate(count: number, step: number): (random: Random) => number[] {
  return (random) => Array.from({ length: count }, (_, index) => 1 + step * (index + random.range(-0.42, 0.42)));
}

/** Fixed ratios, each mistuned by up to `share`, as in things not made for music. */
function nearly(ratios: readonly number[], share: number): (random: Random) => number[] {
  return (random) => ratios.map((ratio, index) => (index === 0 ? ratio : ratio * (1 + random.range(-share, share))));
}

const METAL = { material: 'metal', pitched: false, bloomSeconds: 0, split: 0.0012 } as const;

export const BODIES = {
  tamTam: {
    ...METAL,
    noun: 'Tam-tam',
    keywords: ['tam-tam', 'gong'],
    lowestHz: [46, 64],
    ringSeconds: 11,
    dampedAboveHz: 900,
    ratios: plate(110, 0.62),
    tilt: 0.55,
    bloomSeconds: 0.28,
  },
  boilerPlate: {
    ...METAL,
    noun: 'Boiler plate',
    keywords: ['plate', 'boiler'],
    lowestHz: [70, 105],
    ringSeconds: 4.5,
    dampedAboveHz: 1200,
    ratios: plate(70, 0.78),
    tilt: 0.5,
  },
  sheetSteel: {
    ...METAL,
    noun: 'Sheet steel',
    keywords: ['plate', 'sheet'],
    lowestHz: [38, 60],
    ringSeconds: 3.2,
    dampedAboveHz: 1800,
    ratios: plate(110, 0.7),
    tilt: 0.3,
    bloomSeconds: 0.08,
  },
} satisfies Record<string, Body>;

export type BodyName = keyof typeof BODIES;

/** The modes of one example of a body, and the frequency of its lowest strong one. */
export function modesOf(
  body: Body,
  random: Random,
  size: number,
): { modes: Mode[]; lowestHz: number; pitched: boolean } {
  const lowestHz = random.logRange(body.lowestHz[0], body.lowestHz[1]) / size;
  const modes: Mode[] = [];
  for (const ratio of body.ratios(random)) {
    const hz = lowestHz * ratio;
    const t60Seconds = (body.ringSeconds / (1 + (hz / body.dampedAboveHz) ** 1.1)) * random.range(0.7, 1.25);
    const gain = Math.max(0.3, ratio) ** -body.tilt * random.logRange(0.35, 1.3);
    const riseSeconds = body.bloomSeconds * Math.sqrt(hz / 3000) * random.range(0.7, 1.3);
    const middle = random.range(-0.7, 0.7);
    const turn = random.sign();
    const shared = {
      t60Seconds,
      riseSeconds,
      left: Math.sqrt((1 - middle) / 2),
      right: turn * Math.sqrt((1 + middle) / 2),
    };
    if (body.split > 0) {
      const apart = body.split * random.range(0.3, 1.5);
      modes.push({ ...shared, hz: hz * (1 - apart / 2), gain: gain * 0.6 });
      modes.push({ ...shared, hz: hz * (1 + apart / 2), gain: gain * 0.4, left: shared.right, right: shared.left });
    } else {
      modes.push({ ...shared, hz, gain });
    }
  }
  return { modes, lowestHz, pitched: body.pitched };
}

export { BAR, BELL, HARMONIC_ROD, MEMBRANE, nearly };
