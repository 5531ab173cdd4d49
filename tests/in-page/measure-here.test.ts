/** The page's worker, run here: what it measures is what the build measures of the same file, to the last bit. */
import { readFile } from 'node:fs/promises';
import { expect, test } from 'vitest';
import { processFile } from '../../scripts/archive/process-file.ts';
import { USUAL_SPLIT } from '../../scripts/archive/split-settings.ts';
import { carryOut } from '../../scripts/in-page/measure-here.ts';
import type { MeasureNews, MeasureOrder } from '../../shared/measure-here.ts';
import { bytes, chunk, lena, riff, waveFormat } from '../archive/bytes.ts';
import { Random } from '../measure/random.ts';
import { roomNoise, struck } from '../measure/sources.ts';

async function newsOf(order: MeasureOrder): Promise<{ last: MeasureNews; shares: number[] }> {
  const news: MeasureNews[] = [];
  await carryOut(order, (item) => news.push(item));
  const shares = news.flatMap((item) => (item.kind === 'progress' ? [item.share] : []));
  return { last: news.at(-1) ?? { kind: 'failed', found: 'nothing', remedy: '' }, shares };
}

const ofBytes = (content: Uint8Array) => newsOf({ kind: 'file', file: new Blob([Uint8Array.from(content)]) });

test.each(['logic/lena-24.wav', 'lena.aiff', 'lena.flac'])(
  '%s: every value is the one the build gives it as one take',
  async (name) => {
    const { last, shares } = await ofBytes(await readFile(lena(name)));
    const built = await processFile(lena(name), { split: { ...USUAL_SPLIT, by: 'whole' } });
    expect(last.kind === 'measured' && last.measured.measurements).toEqual(built.takes[0].measurements);
    expect(shares.at(-1)).toBe(1);
    expect(shares).toEqual([...shares].sort((a, b) => a - b));
  },
);

test.each([
  // What the files' own makers state: audio-lena is 44.1 kHz; Opus decodes at 48 kHz whatever went in (RFC 7845, 5.1).
  ['lena.mp3', 44_100],
  ['lena.ogg', 44_100],
  ['lena.opus', 48_000],
  ['lena.m4a', null],
])('%s is handed back for the browser, at its own rate where the header says it', async (name, sampleRateHz) => {
  const { last } = await ofBytes(await readFile(lena(name)));
  expect(last).toMatchObject({ kind: 'decode', sampleRateHz });
});

test('the first minute of a longer file is measured, and its whole length is told', async () => {
  const frames = 8000 * 75;
  const { last } = await ofBytes(
    riff([
      waveFormat({ rate: 8000 }),
      chunk(
        'data',
        Uint8Array.from({ length: frames * 2 }, (_, at) => (at * 37) % 251),
      ),
    ]),
  );
  if (last.kind !== 'measured') throw new Error(JSON.stringify(last));
  expect(last.measured.measurements.durationSeconds).toBe(60);
  expect(last.measured.fileSeconds).toBe(75);
});

test.each([
  [
    'a text file named .wav',
    bytes('these are notes of the session, not sound'),
    /This is a text file\. Choose a sound/,
  ],
  ['an empty file', bytes(), /empty file \(0 bytes\)/],
  ['a header and no audio', riff([waveFormat(), chunk('data', bytes())]), /a header and no audio/],
  ['a picture', bytes('\x89PNG\r\n\x1a\n', new Array(80).fill(7)), /This is a PNG picture/],
])('%s is told as a sentence', async (_, content, sentence) => {
  const { last } = await ofBytes(content);
  expect(last.kind === 'failed' && `${last.found} ${last.remedy}`).toMatch(sentence);
});

test('what a microphone heard is cut to the sound itself, a little of the room left on both sides', async () => {
  const random = new Random(5);
  const rate = 48_000;
  const samples = roomNoise(random, 4 * rate, rate, 3e-4);
  const strike = struck(random, 'struck plate', rate, 0.002, 0.8);
  const at = Math.round(1.7 * rate);
  for (let i = 0; i < strike.length; i++) samples[at + i] += 0.5 * strike[i];
  const { last } = await newsOf({ kind: 'samples', samples: [samples], sampleRateHz: rate, trim: true });
  if (last.kind !== 'measured') throw new Error(JSON.stringify(last));
  const { measurements, fileSeconds } = last.measured;
  expect(fileSeconds).toBe(4);
  expect(measurements.durationSeconds).toBeLessThan(1.3);
  expect(measurements.climaxSeconds).toBeLessThan(0.1);
  expect(measurements.gesture).toBe('hit');
});

test('a silent room is no sound', async () => {
  const samples = roomNoise(new Random(6), 96_000, 48_000, 1e-4);
  const { last } = await newsOf({ kind: 'samples', samples: [samples], sampleRateHz: 48_000, trim: true });
  expect(last).toMatchObject({ kind: 'failed', found: 'Nothing was heard.' });
});
