/**
 * What is struck, drawn over or bowed: each body is a rule that gives a row of modes. Ratios come from acoustics
 * (Fletcher and Rossing, The Physics of Musical Instruments; from memory): free-free bar 1 : 2.756 : 5.404 : 8.933; ideal circular
 * membrane 1 : 1.594 : 2.136 : 2.296 : 2.653 : 2.918; minor-third bell hum 0.5, prime 1, tierce 1.2, quint 1.5,
 * nominal 2; rims of glasses near n^2; plates have modes evenly dense in frequency. Sizes, dampings and gains are
 * invented for the scenario.
 */
import type { Random } from './random.ts';

export type Material = 'metal' | 'glass' | 'skin' | 'wood' | 'string';

export interface Body {
  /** As it stands in a sound's name. */
  noun: string;
  material: Material;
  /** The frequency that ratio 1 stands for, in Hz, as a range the chance draws from. */
  lowestHz: readonly [number, number];
  /** Fall by 60 dB of the lowest modes, in seconds. */
  ringSeconds: number;
  /** Frequency above which the ring shortens, in Hz. */
  dampedAboveHz: number;
  /** True where ratio 1 is heard as a note. */
  pitched: boolean;
  /** Frequencies over the lowest one. */
  ratios: (random: Random) => number[];
  /** How fast gain falls with the ratio: gain = ratio^-tilt. */
  tilt: number;
  /** Seconds by which a mode at 3 kHz speaks late: gongs and big sheets, whose energy moves upwards after the blow. */
  bloomSeconds: number;
  /** Share by which the two halves of a mode stand apart: what beats. 0 = single modes. */
  split: number;
  /** Share by which a full blow starts sharp. */
  sharpness: number;
}

const BAR = [1, 2.756, 5.404, 8.933, 13.344, 18.637, 24.81];
const MEMBRANE = [
  1, 1.594, 2.136, 2.296, 2.653, 2.918, 3.156, 3.5, 3.6, 3.652, 4.06, 4.154, 4.601, 4.832, 5.131, 5.412,
];
const BELL = [0.5, 1, 1.2, 1.5, 2, 2.52, 2.66, 3.0, 3.76, 4.2, 5.4, 6.7, 8.1, 9.6];
const RIM = [1, 2.32, 4.25, 6.63, 9.38, 12.2];
const RING = [1, 2.83, 5.42, 8.77, 12.86, 17.7];
const ROD = [1, 2.001, 3.003, 4.006, 5.01, 6.02];
const STRING = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14];

/** `count` modes of a plate: about `step` apart in ratio, thinning out upwards (`spread` > 1), each moved by chance. */
function plate(count: number, step: number, spread = 1.12): (random: Random) => number[] {
  return (random) =>
    Array.from({ length: count }, (_, index) => 1 + step * (index + random.range(-0.4, 0.4)) ** spread || 1);
}

/** Fixed ratios, each mistuned by up to `share`, as in things not made for music, and `extra` more of a plate above. */
function nearly(ratios: readonly number[], share: number, extra = 0): (random: Random) => number[] {
  return (random) => [
    ...ratios.map((ratio) => (ratio === 1 ? 1 : ratio * (1 + random.range(-share, share)))),
    ...Array.from({ length: extra }, () => random.logRange(2, 40)),
  ];
}

type More = Partial<Pick<Body, 'material' | 'pitched' | 'bloomSeconds' | 'split' | 'sharpness'>>;

/** One line a body: noun, range of the lowest mode, ring, where damping sets in, tilt, ratios, and what is special. */
function family(material: Material, split: number, sharpness: number) {
  return (
    noun: string,
    lowestHz: readonly [number, number],
    ringSeconds: number,
    dampedAboveHz: number,
    tilt: number,
    ratios: Body['ratios'],
    more: More = {},
  ): Body => ({
    ...{ noun, material, lowestHz, ringSeconds, dampedAboveHz, tilt, ratios, split, sharpness },
    ...{ pitched: false, bloomSeconds: 0, ...more },
  });
}

const metal = family('metal', 0.0015, 0);
const glass = family('glass', 0.001, 0);
const skin = family('skin', 0.004, 0.05);
const wood = family('wood', 0, 0);

export const BODIES = {
  tamTam: metal('Tam-tam', [48, 62], 12, 1300, 0.25, plate(120, 0.55, 1.15), { bloomSeconds: 0.3 }),
  smallGong: metal('Small gong', [150, 230], 6, 1800, 0.7, nearly([1, 1.5, 2.02, 2.9, 3.8, 4.9], 0.04, 30), {
    bloomSeconds: 0.06,
    sharpness: 0.02,
    pitched: true,
  }),
  boilerPlate: metal('Boiler plate', [68, 100], 4.2, 1500, 0.3, plate(80, 0.7, 1.15)),
  sheetSteel: metal('Sheet steel', [36, 55], 3.4, 2400, 0.12, plate(120, 0.7, 1.15), { bloomSeconds: 0.09 }),
  anchor: metal('Anchor', [170, 260], 1.5, 3000, 0.35, nearly(BAR, 0.12, 26)),
  sawBlade: metal('Saw blade', [290, 520], 2.8, 2600, 0.5, nearly(BAR, 0.05, 18), { split: 0, pitched: true }),
  cymbal: metal('Cymbal', [210, 320], 6, 3500, -0.05, plate(120, 0.28, 1.15), { bloomSeconds: 0.04 }),
  crackedCymbal: metal('Cracked cymbal', [260, 380], 0.9, 4000, 0, plate(90, 0.34, 1.15)),
  shipsBell: metal("Ship's bell", [520, 760], 5.5, 2500, 0.35, nearly(BELL, 0.006), { split: 0.0006, pitched: true }),
  mooringRing: metal('Mooring ring', [430, 700], 2.6, 4500, 0.6, nearly(RING, 0.03, 8), { pitched: true }),
  oilDrum: metal('Oil drum', [75, 110], 1.1, 1600, 0.35, plate(70, 0.5, 1.15), { sharpness: 0.02 }),
  singingRod: metal('Singing rod', [620, 1400], 10, 3500, 1.1, nearly(ROD, 0.001), { split: 0.0004, pitched: true }),
  pipe: metal('Scaffold pipe', [240, 560], 3.2, 3000, 0.75, nearly(BAR, 0.02, 6), { pitched: true }),
  bronzeBar: metal('Bronze bar', [190, 480], 7, 1800, 0.8, nearly(BAR, 0.004), { split: 0.0007, pitched: true }),
  stoveLid: metal('Stove lid', [340, 520], 0.8, 2500, 0.3, plate(26, 0.6, 1.2)),
  stairRail: metal('Stair rail', [90, 150], 1.6, 2600, 0.2, nearly(BAR, 0.05, 34)),
  lampCover: metal('Lamp cover', [260, 390], 3.5, 2200, 0.45, nearly(BELL, 0.08, 14), { bloomSeconds: 0.02 }),
  bucket: metal('Zinc bucket', [210, 330], 0.6, 2800, 0.2, plate(40, 0.4, 1.2)),
  wineGlass: glass('Wine glass', [380, 880], 2.4, 2500, 0.8, nearly(RIM, 0.02), { pitched: true }),
  bottle: glass('Green bottle', [1300, 2500], 0.35, 6000, 0.4, nearly(RIM, 0.08, 4)),
  windowPane: glass('Window pane', [140, 230], 0.35, 2500, 0.15, plate(40, 0.6, 1.2)),
  lampLens: glass('Lamp lens', [560, 900], 3.8, 5000, 0.25, nearly(RIM, 0.06, 12)),
  pickleJar: glass('Pickle jar', [620, 1100], 0.7, 4000, 0.5, nearly(RIM, 0.05, 3)),
  frameDrum: skin('Frame drum', [78, 125], 0.9, 320, 0.4, nearly(MEMBRANE, 0.02)),
  bigDrum: skin('Big drum', [36, 50], 1.9, 180, 0.5, nearly(MEMBRANE, 0.02), { sharpness: 0.07 }),
  tarpaulin: skin('Tarpaulin', [50, 85], 0.22, 500, 0.1, nearly(MEMBRANE, 0.15, 14), { sharpness: 0.1 }),
  wetSail: skin('Wet sail', [40, 65], 0.16, 400, 0.15, nearly(MEMBRANE, 0.2, 12), { sharpness: 0.12 }),
  plank: wood('Plank', [150, 300], 0.24, 1500, 0.3, nearly(BAR, 0.08, 12)),
  oar: wood('Oar', [120, 210], 0.4, 1200, 0.35, nearly(BAR, 0.06, 6)),
  woodBlock: wood('Wooden block', [640, 1250], 0.11, 3000, 0.6, nearly([1, 1.62, 2.71, 4.1, 5.6], 0.06)),
  hull: wood('Boat hull', [58, 90], 0.5, 500, 0.45, plate(40, 0.45, 1.2)),
  pew: wood('Pew', [95, 150], 0.3, 900, 0.35, plate(34, 0.6, 1.2)),
  door: wood('Door', [52, 80], 0.35, 450, 0.5, plate(40, 0.5, 1.2)),
  chairLeg: wood('Chair', [170, 260], 0.09, 2500, 0.25, nearly([1, 1.7, 2.4, 3.6, 5.1, 7.2], 0.08, 8)),
  lowString: wood('Low string', [41, 98], 0.9, 500, 0.5, nearly(STRING, 0.002), { material: 'string', pitched: true }),
  midString: wood('Middle string', [130, 330], 0.45, 1100, 0.45, nearly(STRING, 0.002), {
    material: 'string',
    pitched: true,
  }),
  longWire: metal('Long wire', [44, 72], 7, 1400, 0.35, nearly(STRING, 0.004, 10), {
    material: 'string',
    split: 0.0008,
    pitched: true,
  }),
} satisfies Record<string, Body>;

export type BodyName = keyof typeof BODIES;
