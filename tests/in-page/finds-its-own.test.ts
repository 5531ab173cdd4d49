/**
 * Judged on real sounds (supersonic-scsynth-samples, CC0): one that comes back through a microphone, softer, in another
 * room's noise, with pauses around it and in one channel, must still find the take that it is.
 */
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, expect, test } from 'vitest';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { carryOut } from '../../scripts/in-page/measure-here.ts';
import type { MeasureNews } from '../../shared/measure-here.ts';
import {
  bothNearnesses,
  colourNearness,
  contourOfActivePart,
  shapeNearness,
} from '../../shared/query/sound-nearness.ts';
import type { Shelf } from '../../shared/shelf.ts';
import type { Measurements } from '../../shared/sound.ts';
import { vectorOf } from '../../shared/vectors.ts';
import { Random } from '../measure/random.ts';
import { measureFile, SAMPLES } from '../measure/recordings.ts';
import { roomNoise } from '../measure/sources.ts';
import { inventSounds, shelfOf } from '../shared/invented-sounds.ts';

const PAUSE_SECONDS = 0.5;
/** 12 dB softer. */
const GAIN = 0.25;
const ROOM_LEVEL = 1e-4;
const LONGEST_SECONDS = 3;

const files = readdirSync(SAMPLES)
  .filter((name) => name.endsWith('.flac'))
  .sort()
  .filter((_, at) => at % 4 === 0);
let shelf: Shelf;

beforeAll(async () => {
  const [pattern] = inventSounds(1);
  const sounds = [];
  for (const file of files) {
    const measured = await measureFile(join(SAMPLES, file), LONGEST_SECONDS);
    sounds.push({ ...pattern, ...measured, id: file, name: file });
  }
  shelf = shelfOf(sounds);
});

/** As a microphone gives it to the page; null where nothing was heard. */
async function throughMicrophone(file: string, random: Random): Promise<Measurements | null> {
  const stream = await openAudio(join(SAMPLES, file));
  const rate = stream.format.sampleRateHz;
  const left: number[] = [];
  for await (const block of stream.blocks({ startFrame: 0, endFrame: LONGEST_SECONDS * rate })) left.push(...block[0]);
  await stream.close();
  const pause = Math.round(PAUSE_SECONDS * rate);
  const samples = roomNoise(random, left.length + 2 * pause, rate, ROOM_LEVEL);
  for (const [at, sample] of left.entries()) samples[pause + at] += GAIN * sample;
  let last: MeasureNews | null = null;
  await carryOut({ kind: 'samples', samples: [samples], sampleRateHz: rate, trim: true }, (news) => {
    last = news;
  });
  const news = last as MeasureNews | null;
  return news?.kind === 'measured' ? news.measured.measurements : null;
}

test('by both, nine of ten are among the first three; the two together do not do worse than either alone', async () => {
  const random = new Random(8);
  const { vectorCentre: centre, vectorScale: scale } = shelf.parameters;
  const all = Uint32Array.from(files.keys());
  const among = { shape: 0, colour: 0, both: 0 };
  let heard = 0;
  for (const [at, file] of files.entries()) {
    const measured = await throughMicrophone(file, random);
    if (measured === null) continue;
    heard++;
    const { centroidHz, roughness } = measured;
    const colour = colourNearness(shelf, { vector: vectorOf(measured, { centre, scale }), centroidHz, roughness });
    const shape = shapeNearness(shelf, { contour: contourOfActivePart(measured), seconds: null });
    for (const [way, nearness] of Object.entries({ shape, colour, both: bothNearnesses(shelf.count, shape, colour) })) {
      const distances = nearness.distances(all, () => 0);
      const nearer = distances.filter((distance) => distance < distances[at]).length;
      if (nearer < 3) among[way as keyof typeof among]++;
    }
  }
  expect(heard).toBeGreaterThan(0.9 * files.length);
  expect(among.both / heard, JSON.stringify({ ...among, heard })).toBeGreaterThanOrEqual(0.9);
  expect(among.both).toBeGreaterThanOrEqual(Math.max(among.shape, among.colour));
});
