/**
 * What "sounds alike" is computed from: each sound as one row of numbers in four groups the person can weigh.
 *
 * Every dimension is put on a scale that is roughly even to the ear (logarithms of times and frequencies), centred on
 * the archive's median and divided by its spread (half the range from the 16th to the 84th percentile, one standard
 * deviation in a normal distribution; robust to outliers). Missing values stand at the median, so they neither attract
 * nor repel. Each group is scaled by 1/sqrt(its size): at equal weights every group counts the same.
 */
import { CONTOUR_POINTS, type Measurements } from './sound.ts';

export const VECTOR_GROUPS = ['timbre', 'movement', 'pitch', 'length'] as const;
export type VectorGroup = (typeof VECTOR_GROUPS)[number];

interface Dimension {
  group: VectorGroup;
  name: string;
  /** null where the sound has no such value. */
  value: (sound: Measurements) => number | null;
}

const log2 = (value: number | null, floor: number): number | null =>
  value === null ? null : Math.log2(Math.max(value, floor));

/** Points the contour is averaged to for likeness: enough to tell a swell from a riser, few enough to be robust. */
const CONTOUR_DIMENSIONS = 8;
const CEPSTRUM_DIMENSIONS = 13;

function contourShare(sound: Measurements, part: number): number {
  const width = CONTOUR_POINTS / CONTOUR_DIMENSIONS;
  let sum = 0;
  for (let i = 0; i < width; i++) sum += sound.contour[part * width + i];
  return sum / width;
}

const range = (length: number): number[] => Array.from({ length }, (_, index) => index);

export const VECTOR_DIMENSIONS: readonly Dimension[] = [
  // The first coefficient is level, which must not count; the rest is the spectrum's outline.
  ...range(CEPSTRUM_DIMENSIONS - 1).map(
    (index): Dimension => ({
      group: 'timbre',
      name: `cepstrum ${index + 1}`,
      value: (sound) => sound.cepstrumMean?.[index + 1] ?? null,
    }),
  ),
  ...range(6).map(
    (index): Dimension => ({
      group: 'timbre',
      name: `cepstrum spread ${index + 1}`,
      value: (sound) => sound.cepstrumSpread?.[index + 1] ?? null,
    }),
  ),
  { group: 'timbre', name: 'brightness', value: (sound) => log2(sound.centroidHz, 20) },
  { group: 'timbre', name: 'spread', value: (sound) => log2(sound.spreadHz, 20) },
  { group: 'timbre', name: 'rolloff', value: (sound) => log2(sound.rolloffHz, 20) },
  { group: 'timbre', name: 'flatness', value: (sound) => log2(sound.flatness, 1e-6) },
  { group: 'timbre', name: 'roughness', value: (sound) => sound.roughness },
  ...range(CONTOUR_DIMENSIONS).map(
    (part): Dimension => ({
      group: 'movement',
      name: `contour ${part + 1}`,
      value: (sound) => contourShare(sound, part),
    }),
  ),
  { group: 'movement', name: 'attack', value: (sound) => log2(sound.attackSeconds, 0.001) },
  { group: 'movement', name: 'decay', value: (sound) => log2(sound.decaySeconds, 0.005) },
  { group: 'movement', name: 'centre in time', value: (sound) => sound.temporalCentroid },
  { group: 'movement', name: 'brightness slope', value: (sound) => sound.brightnessSlope },
  { group: 'movement', name: 'accents', value: (sound) => Math.log2(1 + sound.accents.length) },
  { group: 'movement', name: 'crest', value: (sound) => sound.crestDb },
  { group: 'pitch', name: 'pitch', value: (sound) => log2(sound.pitchHz, 16) },
  { group: 'pitch', name: 'pitched', value: (sound) => (sound.pitchHz === null ? 0 : 1) },
  { group: 'length', name: 'length', value: (sound) => log2(sound.activeSeconds ?? sound.durationSeconds, 0.01) },
];

export const VECTOR_SIZE = VECTOR_DIMENSIONS.length;

/** First and last-plus-one dimension of each group. */
export const GROUP_RANGES: Record<VectorGroup, readonly [number, number]> = Object.fromEntries(
  VECTOR_GROUPS.map((group) => {
    const first = VECTOR_DIMENSIONS.findIndex((dimension) => dimension.group === group);
    const size = VECTOR_DIMENSIONS.filter((dimension) => dimension.group === group).length;
    return [group, [first, first + size]];
  }),
) as unknown as Record<VectorGroup, readonly [number, number]>;

export interface Standardisation {
  centre: number[];
  scale: number[];
}

/** Standardised deviations beyond this count as this, so that one odd value cannot decide alone. */
const FURTHEST = 4;

export function fitStandardisation(sounds: readonly Measurements[]): Standardisation {
  const centre: number[] = [];
  const scale: number[] = [];
  for (const dimension of VECTOR_DIMENSIONS) {
    const values = sounds
      .map(dimension.value)
      .filter((value): value is number => value !== null)
      .sort((a, b) => a - b);
    const at = (share: number): number => values[Math.min(values.length - 1, Math.floor(share * values.length))] ?? 0;
    const spread = (at(0.84) - at(0.16)) / 2;
    const [first, end] = GROUP_RANGES[dimension.group];
    centre.push(at(0.5));
    scale.push(Math.fround(Math.sqrt(end - first) * (spread > 1e-9 ? spread : 1)));
  }
  return { centre, scale };
}

/** One sound's row: VECTOR_SIZE numbers, finite for any sound. */
export function vectorOf(sound: Measurements, { centre, scale }: Standardisation): Float32Array {
  const row = new Float32Array(VECTOR_SIZE);
  for (let i = 0; i < VECTOR_SIZE; i++) {
    const [first, end] = GROUP_RANGES[VECTOR_DIMENSIONS[i].group];
    const limit = FURTHEST / Math.sqrt(end - first);
    const value = VECTOR_DIMENSIONS[i].value(sound);
    row[i] = value === null ? 0 : Math.max(-limit, Math.min(limit, (value - centre[i]) / scale[i]));
  }
  return row;
}

export interface LikenessRows extends Standardisation {
  /** VECTOR_SIZE numbers a sound; NaN throughout where nothing is heard. */
  vectors: Float32Array;
  /** Sounds that have a row, in order: silence is like nothing, and has no say in what is usual. */
  heard: number[];
}

/** What a whole archive is compared by. */
export function likenessRows(sounds: readonly Measurements[]): LikenessRows {
  const heard = Array.from(sounds.keys()).filter((at) => !sounds[at].faults.includes('silent'));
  const standardisation = fitStandardisation(heard.map((at) => sounds[at]));
  const vectors = new Float32Array(sounds.length * VECTOR_SIZE).fill(Number.NaN);
  for (const at of heard) vectors.set(vectorOf(sounds[at], standardisation), at * VECTOR_SIZE);
  return { ...standardisation, vectors, heard };
}
