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

const METAL = { material: 'metal', pitched: false, bloomSeconds: 0, split: 0.0015, sharpness: 0 } as const;
const GLASS = { material: 'glass', pitched: false, bloomSeconds: 0, split: 0.001, sharpness: 0 } as const;
const SKIN = { material: 'skin', pitched: false, bloomSeconds: 0, split: 0.004, sharpness: 0.05 } as const;
const WOOD = { material: 'wood', pitched: false, bloomSeconds: 0, split: 0, sharpness: 0 } as const;

export const BODIES = {
  tamTam: {
    ...METAL,
    noun: 'Tam-tam',
    lowestHz: [48, 62],
    ringSeconds: 12,
    dampedAboveHz: 1300,
    ratios: plate(120, 0.55, 1.15),
    tilt: 0.25,
    bloomSeconds: 0.3,
  },
  smallGong: {
    ...METAL,
    noun: 'Small gong',
    lowestHz: [150, 230],
    ringSeconds: 6,
    dampedAboveHz: 1800,
    ratios: nearly([1, 1.5, 2.02, 2.9, 3.8, 4.9], 0.04, 30),
    tilt: 0.7,
    bloomSeconds: 0.06,
    pitched: true,
    sharpness: 0.02,
  },
  boilerPlate: {
    ...METAL,
    noun: 'Boiler plate',
    lowestHz: [68, 100],
    ringSeconds: 4.2,
    dampedAboveHz: 1500,
    ratios: plate(80, 0.7, 1.15),
    tilt: 0.3,
  },
  sheetSteel: {
    ...METAL,
    noun: 'Sheet steel',
    lowestHz: [36, 55],
    ringSeconds: 3.4,
    dampedAboveHz: 2400,
    ratios: plate(120, 0.7, 1.15),
    tilt: 0.12,
    bloomSeconds: 0.09,
  },
  anchor: {
    ...METAL,
    noun: 'Anchor',
    lowestHz: [170, 260],
    ringSeconds: 1.5,
    dampedAboveHz: 3000,
    ratios: nearly(BAR, 0.12, 26),
    tilt: 0.35,
  },
  sawBlade: {
    ...METAL,
    noun: 'Saw blade',
    lowestHz: [290, 520],
    ringSeconds: 2.8,
    dampedAboveHz: 2600,
    ratios: nearly(BAR, 0.05, 18),
    tilt: 0.5,
    pitched: true,
    split: 0,
  },
  cymbal: {
    ...METAL,
    noun: 'Cymbal',
    lowestHz: [210, 320],
    ringSeconds: 6,
    dampedAboveHz: 3500,
    ratios: plate(120, 0.28, 1.15),
    tilt: -0.05,
    bloomSeconds: 0.04,
  },
  crackedCymbal: {
    ...METAL,
    noun: 'Cracked cymbal',
    lowestHz: [260, 380],
    ringSeconds: 0.9,
    dampedAboveHz: 4000,
    ratios: plate(90, 0.34, 1.15),
    tilt: 0,
  },
  shipsBell: {
    ...METAL,
    noun: "Ship's bell",
    lowestHz: [520, 760],
    ringSeconds: 5.5,
    dampedAboveHz: 2500,
    ratios: nearly(BELL, 0.006),
    tilt: 0.35,
    pitched: true,
    split: 0.0006,
  },
  mooringRing: {
    ...METAL,
    noun: 'Mooring ring',
    lowestHz: [430, 700],
    ringSeconds: 2.6,
    dampedAboveHz: 4500,
    ratios: nearly(RING, 0.03, 8),
    tilt: 0.3,
    pitched: true,
  },
  oilDrum: {
    ...METAL,
    noun: 'Oil drum',
    lowestHz: [75, 110],
    ringSeconds: 1.1,
    dampedAboveHz: 1600,
    ratios: plate(70, 0.5, 1.15),
    tilt: 0.35,
    sharpness: 0.02,
  },
  singingRod: {
    ...METAL,
    noun: 'Singing rod',
    lowestHz: [620, 1400],
    ringSeconds: 10,
    dampedAboveHz: 3500,
    ratios: nearly(ROD, 0.001),
    tilt: 1.1,
    pitched: true,
    split: 0.0004,
  },
  pipe: {
    ...METAL,
    noun: 'Scaffold pipe',
    lowestHz: [240, 560],
    ringSeconds: 3.2,
    dampedAboveHz: 3000,
    ratios: nearly(BAR, 0.02, 6),
    tilt: 0.4,
    pitched: true,
  },
  bronzeBar: {
    ...METAL,
    noun: 'Bronze bar',
    lowestHz: [190, 480],
    ringSeconds: 7,
    dampedAboveHz: 1800,
    ratios: nearly(BAR, 0.004),
    tilt: 0.8,
    pitched: true,
    split: 0.0007,
  },
  stoveLid: {
    ...METAL,
    noun: 'Stove lid',
    lowestHz: [340, 520],
    ringSeconds: 0.8,
    dampedAboveHz: 2500,
    ratios: plate(26, 0.6, 1.2),
    tilt: 0.3,
  },
  stairRail: {
    ...METAL,
    noun: 'Stair rail',
    lowestHz: [90, 150],
    ringSeconds: 1.6,
    dampedAboveHz: 2600,
    ratios: nearly(BAR, 0.05, 34),
    tilt: 0.2,
  },
  lampCover: {
    ...METAL,
    noun: 'Lamp cover',
    lowestHz: [260, 390],
    ringSeconds: 3.5,
    dampedAboveHz: 2200,
    ratios: nearly(BELL, 0.08, 14),
    tilt: 0.45,
    bloomSeconds: 0.02,
  },
  bucket: {
    ...METAL,
    noun: 'Zinc bucket',
    lowestHz: [210, 330],
    ringSeconds: 0.6,
    dampedAboveHz: 2800,
    ratios: plate(40, 0.4, 1.2),
    tilt: 0.2,
  },
  wineGlass: {
    ...GLASS,
    noun: 'Wine glass',
    lowestHz: [380, 880],
    ringSeconds: 2.4,
    dampedAboveHz: 2500,
    ratios: nearly(RIM, 0.02),
    tilt: 0.8,
    pitched: true,
  },
  bottle: {
    ...GLASS,
    noun: 'Green bottle',
    lowestHz: [1300, 2500],
    ringSeconds: 0.35,
    dampedAboveHz: 6000,
    ratios: nearly(RIM, 0.08, 4),
    tilt: 0.4,
  },
  windowPane: {
    ...GLASS,
    noun: 'Window pane',
    lowestHz: [140, 230],
    ringSeconds: 0.35,
    dampedAboveHz: 2500,
    ratios: plate(40, 0.6, 1.2),
    tilt: 0.15,
  },
  lampLens: {
    ...GLASS,
    noun: 'Lamp lens',
    lowestHz: [560, 900],
    ringSeconds: 3.8,
    dampedAboveHz: 5000,
    ratios: nearly(RIM, 0.06, 12),
    tilt: 0.25,
  },
  pickleJar: {
    ...GLASS,
    noun: 'Pickle jar',
    lowestHz: [620, 1100],
    ringSeconds: 0.7,
    dampedAboveHz: 4000,
    ratios: nearly(RIM, 0.05, 3),
    tilt: 0.5,
  },
  frameDrum: {
    ...SKIN,
    noun: 'Frame drum',
    lowestHz: [78, 125],
    ringSeconds: 0.9,
    dampedAboveHz: 320,
    ratios: nearly(MEMBRANE, 0.02),
    tilt: 0.4,
  },
  bigDrum: {
    ...SKIN,
    noun: 'Big drum',
    lowestHz: [36, 50],
    ringSeconds: 1.9,
    dampedAboveHz: 180,
    ratios: nearly(MEMBRANE, 0.02),
    tilt: 0.5,
    sharpness: 0.07,
  },
  tarpaulin: {
    ...SKIN,
    noun: 'Tarpaulin',
    lowestHz: [50, 85],
    ringSeconds: 0.22,
    dampedAboveHz: 500,
    ratios: nearly(MEMBRANE, 0.15, 14),
    tilt: 0.1,
    sharpness: 0.1,
  },
  wetSail: {
    ...SKIN,
    noun: 'Wet sail',
    lowestHz: [40, 65],
    ringSeconds: 0.16,
    dampedAboveHz: 400,
    ratios: nearly(MEMBRANE, 0.2, 12),
    tilt: 0.15,
    sharpness: 0.12,
  },
  plank: {
    ...WOOD,
    noun: 'Plank',
    lowestHz: [150, 300],
    ringSeconds: 0.24,
    dampedAboveHz: 1500,
    ratios: nearly(BAR, 0.08, 12),
    tilt: 0.3,
  },
  oar: {
    ...WOOD,
    noun: 'Oar',
    lowestHz: [120, 210],
    ringSeconds: 0.4,
    dampedAboveHz: 1200,
    ratios: nearly(BAR, 0.06, 6),
    tilt: 0.35,
  },
  woodBlock: {
    ...WOOD,
    noun: 'Wooden block',
    lowestHz: [640, 1250],
    ringSeconds: 0.11,
    dampedAboveHz: 3000,
    ratios: nearly([1, 1.62, 2.71, 4.1, 5.6], 0.06),
    tilt: 0.6,
  },
  hull: {
    ...WOOD,
    noun: 'Boat hull',
    lowestHz: [58, 90],
    ringSeconds: 0.5,
    dampedAboveHz: 500,
    ratios: plate(40, 0.45, 1.2),
    tilt: 0.45,
  },
  pew: {
    ...WOOD,
    noun: 'Pew',
    lowestHz: [95, 150],
    ringSeconds: 0.3,
    dampedAboveHz: 900,
    ratios: plate(34, 0.6, 1.2),
    tilt: 0.35,
  },
  door: {
    ...WOOD,
    noun: 'Door',
    lowestHz: [52, 80],
    ringSeconds: 0.35,
    dampedAboveHz: 450,
    ratios: plate(40, 0.5, 1.2),
    tilt: 0.5,
  },
  chairLeg: {
    ...WOOD,
    noun: 'Chair',
    lowestHz: [170, 260],
    ringSeconds: 0.09,
    dampedAboveHz: 2500,
    ratios: nearly([1, 1.7, 2.4, 3.6, 5.1, 7.2], 0.08, 8),
    tilt: 0.25,
  },
  lowString: {
    ...WOOD,
    material: 'string',
    noun: 'Low string',
    lowestHz: [41, 98],
    ringSeconds: 0.9,
    dampedAboveHz: 500,
    ratios: nearly(STRING, 0.002),
    tilt: 0.5,
    pitched: true,
  },
  midString: {
    ...WOOD,
    material: 'string',
    noun: 'Middle string',
    lowestHz: [130, 330],
    ringSeconds: 0.45,
    dampedAboveHz: 1100,
    ratios: nearly(STRING, 0.002),
    tilt: 0.45,
    pitched: true,
  },
  longWire: {
    ...METAL,
    material: 'string',
    noun: 'Long wire',
    lowestHz: [44, 72],
    ringSeconds: 7,
    dampedAboveHz: 1400,
    ratios: nearly(STRING, 0.004, 10),
    tilt: 0.35,
    pitched: true,
    split: 0.0008,
  },
} satisfies Record<string, Body>;

export type BodyName = keyof typeof BODIES;
