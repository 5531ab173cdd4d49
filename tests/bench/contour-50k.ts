/**
 * How long a question by shape takes over 50,000 sounds, beside the warping of every one of them in the same run; the lists of
 * both are compared. Run: npx node tests/bench/contour-50k.ts [SOUNDS] [SITE]
 *
 * Two shelves: real recordings (and those of a built SITE, such as the demo's) bent and mixed, and made-up courses. Asked
 * for are the page's presets, without and with a length, and distorted takes. Seeded; figures are the least, the
 * middle and the most over the questions, each asked three times and the best taken.
 */
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { EXACT_SOUNDS, nearestByShape, type WantedShape, wantedRow } from '../../shared/query/contour.ts';
import { COST_UNIT, warpedCost } from '../../shared/query/contour-bounds.ts';
import { shapeRowsOf } from '../../shared/query/contour-rows.ts';
import { Shelf } from '../../shared/shelf.ts';
import { CONTOUR_POINTS } from '../../shared/sound.ts';
import { PRESETS, wantedOf } from '../../src/client/drawn-shape.ts';
import { Random } from '../measure/random.ts';
import { distort, inventContour } from '../query/contours.ts';
import { recordedContours } from '../query/recorded-contours.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

const SOUNDS = Number(process.argv[2] ?? 50_000);
const SITE = process.argv[3];
const RUNS = 3;
const TAKES_ASKED = 12;

async function siteContours(folder: string): Promise<Float32Array<ArrayBuffer>[]> {
  const script = await readFile(join(folder, 'data/shelf.js'), 'utf8');
  const packed = /"([A-Za-z0-9+/=]{100,})"/.exec(script)?.[1];
  if (packed === undefined) throw new Error(`${folder} holds no shelf this bench can read.`);
  const shelf = new Shelf(new Uint8Array(Buffer.from(packed, 'base64')));
  return Array.from({ length: shelf.count }, (_, sound) =>
    Float32Array.from(shelf.contour(sound), (value) => value / 255),
  );
}

/** A recording bent in time and level, with a part of another under it: as takes of like sources are. */
function likeOneOf(recorded: readonly Float32Array<ArrayBuffer>[], random: Random): Float32Array {
  const [one, other] = [random.pick(recorded), random.pick(recorded)];
  const share = random.chance(0.5) ? random.between(0, 0.5) : 0;
  const mixed = one.map((value, at) => (1 - share) * value + share * other[at]);
  return distort(mixed, { speed: random.between(0, 0.4), rippleDb: random.between(0, 6), noise: 0.02 }, random);
}

function shelfFrom(make: () => Float32Array): Shelf {
  return shelfOf(inventSounds(SOUNDS, 50).map((sound) => ({ ...sound, contour: Array.from(make()) })));
}

interface Question {
  name: string;
  wanted: WantedShape;
}

function questions(shelf: Shelf, random: Random): Question[] {
  const presets = Array.from(PRESETS).flatMap(([name, heights]) => [
    { name, wanted: wantedOf({ heights, seconds: null }) },
    { name: `${name}, 2.5 s`, wanted: wantedOf({ heights, seconds: 2.5 }) },
  ]);
  const takes = Array.from({ length: TAKES_ASKED }, (_, at) => {
    const contour = Float32Array.from(shelf.contour(random.whole(0, SOUNDS - 1)), (value) => value / 255);
    const wanted = { contour: distort(contour, { speed: 0.15, rippleDb: 3, noise: 0.02 }, random), seconds: null };
    return { name: `take ${at + 1}`, wanted };
  });
  return [...presets, ...takes];
}

function best(work: () => void): number {
  let least = Number.POSITIVE_INFINITY;
  for (let run = 0; run < RUNS; run++) {
    const start = performance.now();
    work();
    least = Math.min(least, performance.now() - start);
  }
  return least;
}

/** Every sound warped to the end, then sorted. Questions without a length only. */
function naive(shelf: Shelf, wanted: WantedShape, limit: number): number[] {
  const { rows } = shapeRowsOf(shelf);
  const { row } = wantedRow(wanted);
  const distances = new Float64Array(shelf.count);
  for (let sound = 0; sound < shelf.count; sound++) {
    distances[sound] = warpedCost(row, 0, rows, sound * CONTOUR_POINTS) / COST_UNIT;
  }
  return Array.from(distances.keys())
    .sort((a, b) => distances[a] - distances[b] || a - b)
    .slice(0, limit);
}

const recorded = (await recordedContours(Number.POSITIVE_INFINITY)).map(({ contour }) => Float32Array.from(contour));
if (SITE !== undefined) recorded.push(...(await siteContours(SITE)));
const random = new Random(50);
const shelves: [string, Shelf][] = [
  [`${recorded.length} measured contours, bent and mixed`, shelfFrom(() => likeOneOf(recorded, random))],
  ['made-up courses', shelfFrom(() => inventContour(random))],
];
for (const [name, shelf] of shelves) {
  const start = performance.now();
  shapeRowsOf(shelf);
  console.log(`\n${SOUNDS} sounds: ${name}. Made ready once in ${(performance.now() - start).toFixed(0)} ms`);
  const asked = questions(shelf, random);
  for (const { wanted } of asked) nearestByShape(shelf, wanted, EXACT_SOUNDS);
  const times: number[] = [];
  const ratios: number[] = [];
  for (const { name: question, wanted } of asked) {
    const ours = best(() => nearestByShape(shelf, wanted, EXACT_SOUNDS));
    times.push(ours);
    if (wanted.seconds !== null) {
      console.log(`${question.padEnd(24)} ${ours.toFixed(1).padStart(7)} ms`);
      continue;
    }
    let list: number[] = [];
    const plain = best(() => {
      list = naive(shelf, wanted, EXACT_SOUNDS);
    });
    const same = nearestByShape(shelf, wanted, EXACT_SOUNDS).every(({ index }, at) => index === list[at]);
    ratios.push(plain / ours);
    console.log(
      `${question.padEnd(24)} ${ours.toFixed(1).padStart(7)} ms, every one warped ${plain.toFixed(0).padStart(5)} ms: ` +
        `${(plain / ours).toFixed(1).padStart(5)} times${same ? '' : '  LISTS DIFFER'}`,
    );
  }
  const spread = (values: number[]) => {
    const sorted = [...values].sort((a, b) => a - b);
    return [0, 0.5, 1].map((share) => sorted[Math.round(share * (sorted.length - 1))].toFixed(1)).join(' / ');
  };
  console.log(`least / middle / most: ${spread(times)} ms; ${spread(ratios)} times`);
}
