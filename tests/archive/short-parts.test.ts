/** A part that cannot be heard costs that part, and a file that decodes to nothing is told as such. */
import { readFileSync } from 'node:fs';
import { afterAll, describe, expect, test } from 'vitest';
import { UnreadableAudio } from '../../scripts/archive/audio-stream.ts';
import { processFile } from '../../scripts/archive/process-file.ts';
import { longParts } from '../../scripts/archive/short-parts.ts';
import { bytes, chunk, lena, riff, scratchFolder, seeded, u32, waveFormat } from './bytes.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

const RATE = 192_000;

/** Noise that decays, 16 bit mono. */
function noise(frames: number, seed: number): Uint8Array {
  const random = seeded(seed);
  const samples = Int16Array.from(
    { length: frames },
    (_, i) => 12_000 * (random() - 0.5) * Math.exp((-4 * i) / frames),
  );
  return new Uint8Array(samples.buffer);
}

/** `cue `: number of points; of each: id, position, "data", 0, 0, sample offset. */
const cue = (...frames: number[]): Uint8Array =>
  chunk(
    'cue ',
    bytes(
      u32(frames.length),
      ...frames.map((frame, i) => bytes(u32(i + 1), u32(frame), 'data', u32(0), u32(0), u32(frame))),
    ),
  );

const recording = (name: string, frames: number, markers: number[]): string =>
  scratch.write(name, riff([waveFormat({ rate: RATE }), chunk('data', noise(frames, 5)), cue(...markers)]));

/** As in a build: with previews. */
async function processed(path: string): Promise<Awaited<ReturnType<typeof processFile>>> {
  return processFile(path, { onPreview: async ({ parts }) => expect(parts.length).toBeGreaterThan(0) });
}

test('two markers a frame apart cost no other take, and are told', async () => {
  const { takes, warnings } = await processed(recording('slip.wav', RATE, [0, 40_000, 40_001, 90_000]));
  expect(takes.map(({ startFrame }) => startFrame)).toEqual([0, 40_001, 90_000]);
  expect(takes.every(({ previewParts }) => previewParts > 0)).toBe(true);
  expect(warnings.filter((warning) => /0\.208 s is 1 frame long, too short to be heard/.test(warning))).toHaveLength(1);
});

describe('parts shorter than a millisecond', () => {
  const region = (startFrame: number, endFrame: number) =>
    ({ startFrame, endFrame, label: null, note: null, reason: 'marker' }) as const;
  test.each([
    [[region(0, 47), region(47, 48_000)], 1],
    [[region(0, 48), region(48, 48_000)], 2],
    [[region(0, 3), region(3, 6)], 1],
  ])('%j at 48 kHz: %i stay', (regions, count) => {
    const { parts, warnings } = longParts(regions, regions[1].endFrame, 48_000);
    expect(parts).toHaveLength(count);
    expect(warnings.length > 0).toBe(count < 2 || regions[1].endFrame < 48);
  });
  test('of a thousand only some are told one by one', () => {
    const regions = Array.from({ length: 1000 }, (_, i) => region(i, i + 1));
    const { parts, warnings } = longParts(regions, 48_000, 48_000);
    expect(parts).toEqual([{ ...region(0, 48_000), reason: 'whole' }]);
    expect(warnings.length).toBeLessThan(20);
  });
});

test('a file of one frame at a high rate is refused in words that are true', async () => {
  await expect(processed(recording('one.wav', 1, []))).rejects.toThrow(
    /holds 1 frame of audio at 192000 Hz, too short/,
  );
});

const seeds: [name: string, content: Uint8Array][] = [
  ['WAV with markers', riff([waveFormat(), cue(0, 3000, 3001, 6000), chunk('data', noise(9000, 2))])],
  ['FLAC', readFileSync(lena('lena.flac')).subarray(0, 24_000)],
  ['MP3', readFileSync(lena('lena.mp3')).subarray(0, 5000)],
  ['Ogg Vorbis', readFileSync(lena('lena.ogg')).subarray(0, 16_000)],
  ['Opus', readFileSync(lena('lena.opus')).subarray(0, 16_000)],
];
const ROUNDS = Number(process.env.TAKESHELF_ROUNDS ?? 20);

test.each(seeds)(
  '%s, mutated: every file gives sounds that can be played, or a sentence about its content',
  async (name, original) => {
    const random = seeded(name.length + original.length);
    let refused = 0;
    for (let round = 0; round < ROUNDS; round++) {
      const path = scratch.write('mutated', mutated(original, random));
      try {
        const { takes } = await processed(path);
        expect(takes.length, `round ${round}`).toBeGreaterThan(0);
        for (const { previewParts, measurements } of takes) {
          expect(previewParts, `round ${round}`).toBeGreaterThan(0);
          expect(measurements.durationSeconds, `round ${round}`).toBeGreaterThan(0);
        }
      } catch (error) {
        expect(error, `round ${round}: ${String(error)}`).toBeInstanceOf(UnreadableAudio);
        refused++;
      }
    }
    expect(refused).toBeLessThan(ROUNDS);
  },
);

/** Cut somewhere or not, with a few bytes made up near the beginning or anywhere. */
function mutated(original: Uint8Array, random: () => number): Uint8Array {
  const length = random() < 0.3 ? 60 + Math.floor(random() * original.length) : original.length;
  const result = Uint8Array.from(original.subarray(0, length));
  const reach = random() < 0.5 ? Math.min(300, result.length) : result.length;
  for (let count = Math.floor(random() * 8); count > 0; count--) {
    result[Math.floor(random() * reach)] = Math.floor(random() * 256);
  }
  return result;
}
