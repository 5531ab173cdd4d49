/** Made-up loudness contours with the courses real takes have, and ways to distort them; seeded. */
import { CONTOUR_POINTS } from '../../shared/sound.ts';
import type { Random } from '../measure/random.ts';

/** Loudness halves with 10 dB (Stevens 1955), so a decay that is straight in decibels halves in equal times. */
const halving = (time: number): number => 2 ** -time;

type Course = (share: number) => number;

const COURSES: readonly ((random: Random) => Course)[] = [
  // Struck, and left to die: 25 to 70 dB over the length.
  (random) => {
    const halvings = random.between(2.5, 7);
    return (share) => halving(share * halvings);
  },
  // Rises to its loudest, then rings or stops.
  (random) => {
    const [top, power, halvings] = [random.between(0.3, 0.95), random.between(0.5, 4), random.between(3, 40)];
    return (share) => (share < top ? (share / top) ** power : halving((share - top) * halvings));
  },
  // Swells and falls.
  (random) => {
    const [top, rise, fall] = [random.between(0.2, 0.8), random.between(0.6, 3), random.between(0.6, 3)];
    return (share) => (share < top ? (share / top) ** rise : ((1 - share) / (1 - top)) ** fall);
  },
  // Holds, with an edge at both ends and a slow waver.
  (random) => {
    const [edge, waver, turns] = [random.between(0.01, 0.12), random.between(0, 0.3), random.between(0.5, 6)];
    return (share) =>
      Math.min(1, share / edge, (1 - share) / edge) * (1 - waver * (0.5 + 0.5 * Math.sin(turns * 6.28 * share)));
  },
  // Repeats.
  (random) => {
    const [strokes, halvings, slope] = [random.whole(2, 9), random.between(1, 5), random.between(-0.6, 0.6)];
    return (share) => halving(((share * strokes) % 1) * halvings) * Math.min(1, 1 + slope * (share - 0.5));
  },
  // Several events, each its own.
  (random) => {
    const events = Array.from({ length: random.whole(2, 5) }, () => ({
      at: random.between(0, 0.9),
      height: random.between(0.3, 1),
      halvings: random.between(4, 20),
    }));
    return (share) =>
      Math.max(
        ...events.map(({ at, height, halvings }) => (share < at ? 0 : height * halving((share - at) * halvings))),
      );
  },
];

/**
 * CONTOUR_POINTS values 0..1, the loudest 1. No take is as smooth as its course: the level wanders, by as much as it stands
 * apart from a smooth course in recordings (2 dB on the average, common practice, no source).
 */
export function inventContour(random: Random): Float32Array {
  const course = random.pick(COURSES)(random);
  let wander = 0;
  return fullHeight(
    Float32Array.from({ length: CONTOUR_POINTS }, (_, at) => {
      wander = 0.8 * wander + 0.6 * 2 * random.normal();
      return course(at / (CONTOUR_POINTS - 1)) * 2 ** (wander / 10);
    }),
  );
}

export interface Distortion {
  /** How much faster and slower it runs in places: 0.15 for between 0.85 and 1.15 times. */
  speed: number;
  /** Between trough and crest of an even wave of level, in decibels. */
  rippleDb: number;
  /** Even noise added, as a share of full height. */
  noise: number;
}

/** Bends time smoothly, ripples the level, adds noise. */
export function distort(
  contour: ArrayLike<number>,
  { speed, rippleDb, noise }: Distortion,
  random: Random,
): Float32Array {
  const side = random.chance(0.5) ? speed : -speed;
  // Faster in one half, slower in the other; the slope is 1 + side * cos(pi share).
  const moved = (share: number): number => share + (side / Math.PI) * Math.sin(Math.PI * share);
  const [turns, phase] = [random.between(1, 6), random.between(0, 6.28)];
  return fullHeight(
    Float32Array.from({ length: CONTOUR_POINTS }, (_, at) => {
      const share = at / (CONTOUR_POINTS - 1);
      const place = Math.max(0, Math.min(1, moved(share))) * (CONTOUR_POINTS - 1);
      const before = Math.min(CONTOUR_POINTS - 2, Math.floor(place));
      const value = contour[before] + (contour[before + 1] - contour[before]) * (place - before);
      const decibels = (rippleDb / 2) * Math.sin(turns * 6.28 * share + phase);
      return Math.max(0, value * 2 ** (decibels / 10) + noise * random.between(-1, 1));
    }),
  );
}

function fullHeight(contour: Float32Array): Float32Array {
  const peak = contour.reduce((most, value) => Math.max(most, value), 0);
  return peak > 0 ? contour.map((value) => value / peak) : contour;
}
