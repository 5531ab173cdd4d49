/**
 * How long "nearest by ear" takes over 50,000 sounds, exact over all of them, beside a plain version in the same run: one
 * array a sound, every distance kept with its index, all of them sorted.
 * Run: npx node tests/bench/likeness-50k.ts [SOUNDS]
 */
import { EQUAL_WEIGHTS, nearestTo, sourceOf } from '../../shared/query/likeness.ts';
import { bothNearnesses, colourNearness, shapeNearness } from '../../shared/query/sound-nearness.ts';
import { GROUP_RANGES, VECTOR_GROUPS } from '../../shared/vectors.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

const SOUNDS = Number(process.argv[2] ?? 50_000);
const RUNS = 15;
const shelf = shelfOf(inventSounds(SOUNDS, 50));
const rows = Array.from({ length: SOUNDS }, (_, sound) => [...shelf.vector(sound)]);
const weightOf = VECTOR_GROUPS.flatMap((group) => {
  const [first, end] = GROUP_RANGES[group];
  return new Array<number>(end - first).fill(EQUAL_WEIGHTS[group]);
});

/** Something must read the results, or the engine may leave the work out. */
let sink = 0;

function plainly(from: readonly number[]): number {
  const middle = rows[0].map((_, i) => from.reduce((sum, sound) => sum + rows[sound][i], 0) / from.length);
  return rows
    .map((row, index) => ({ index, distance: row.reduce((sum, x, i) => sum + weightOf[i] * (x - middle[i]) ** 2, 0) }))
    .filter(({ index }) => !from.includes(index))
    .sort((a, b) => a.distance - b.distance || a.index - b.index)[0].index;
}

function time(label: string, work: () => number): number {
  sink += work();
  const times = Array.from({ length: RUNS }, () => {
    const start = performance.now();
    sink += work();
    return performance.now() - start;
  });
  const least = Math.min(...times);
  const mean = times.reduce((sum, value) => sum + value, 0) / RUNS;
  console.log(`${label.padEnd(48)} ${least.toFixed(2).padStart(8)} ${mean.toFixed(2).padStart(8)}`);
  return least;
}

console.log(`${SOUNDS} sounds${''.padEnd(35)} ms least    mean`);
const plain = time('plainly, from three sounds', () => plainly([1, 20, 300]));
const ours = time('nearestTo, from three sounds', () => nearestTo(shelf, sourceOf(shelf, [1, 20, 300]), 24)[0].index);
time(
  'nearestTo, from one, darker and longer',
  () => nearestTo(shelf, sourceOf(shelf, [7]), 24, EQUAL_WEIGHTS, ['darker', 'longer']).length,
);
const all = Uint32Array.from({ length: SOUNDS }, (_, sound) => sound);
const wanted = { vector: shelf.vector(9), centroidHz: 900, roughness: 0.3 };
time('a new sound by colour, all distances', () => colourNearness(shelf, wanted).distances(all, () => 0)[5]);
const colour = colourNearness(shelf, wanted);
const shape = shapeNearness(shelf, {
  contour: Float32Array.from(shelf.contour(9), (value) => value / 255),
  seconds: null,
});
time('by shape', () => shape.distances(all, () => 0)[5]);
time('by both, prepared', () => bothNearnesses(SOUNDS, shape, colour).reason(5, 0).text.length);
const both = bothNearnesses(SOUNDS, shape, colour);
time('by both', () => both.distances(all, () => 0)[5]);
console.log(`plain / ours: ${(plain / ours).toFixed(1)}   (sum of results ${sink.toFixed(3)})`);
