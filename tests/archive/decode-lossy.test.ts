import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import {
  bytes,
  chunk,
  decodeWhole,
  LENA_FRAMES,
  lena,
  riff,
  scratchFolder,
  seeded,
  u16,
  u32,
  waveFormat,
} from './bytes.ts';
import { page } from './ogg-writer.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

/** MP3 and the WAV beside it come from one another; the Vorbis file was made from lena.aiff, which is a little longer. */
const files: [name: string, original: string, format: string][] = [
  ['lena.mp3', 'lena.wav', 'MP3'],
  ['lena.ogg', 'lena.aiff', 'Ogg Vorbis'],
  ['lena.opus', 'lena.wav', 'Opus'],
];

describe('lossy files of one recording (package audio-lena)', () => {
  it.each(files)('%s has the exact length and the sound of %s', async (name, original, format) => {
    const decoded = await decodeWhole(lena(name));
    const source = (await decodeWhole(lena(original))).channels[0].subarray(0, LENA_FRAMES);
    const rate = decoded.format.sampleRateHz;
    expect(decoded.warnings).toEqual([]);
    expect(decoded.format).toMatchObject({ name: format, channels: 1, bitDepth: null, lossless: false });
    // Encoder delay, pre-skip and end position are all told in these files, so nothing may be left over.
    const frames = Math.round((LENA_FRAMES * rate) / 44_100);
    expect(decoded.channels[0].length).toBe(frames);
    expect(decoded.format.frames).toBe(frames);
    expect(correlation(decoded.channels[0], source, 44_100 / rate)).toBeGreaterThan(0.99);
    // One frame late or early must be worse: the alignment is exact, not merely close.
    for (const shift of [-1, 1]) {
      const shifted = correlation(decoded.channels[0], source, 44_100 / rate, shift);
      expect(shifted).toBeLessThan(correlation(decoded.channels[0], source, 44_100 / rate));
    }
  });

  it.each(files)('%s gives the same frames by range, take after take and out of order', async (name) => {
    const whole = (await decodeWhole(lena(name))).channels[0];
    const random = seeded(name.length);
    const stream = await openAudio(lena(name));
    for (const startFrame of [
      0,
      5000,
      5000,
      100_000,
      200_000,
      50_000,
      Math.floor(random() * whole.length),
      whole.length - 5,
    ]) {
      let at = startFrame;
      for await (const [block] of stream.blocks({ startFrame, endFrame: startFrame + 5000 })) {
        expect(block).toEqual(whole.subarray(at, at + block.length));
        at += block.length;
      }
      expect(at).toBe(Math.min(whole.length, startFrame + 5000));
    }
    // A reader that stops early must not spoil the next one.
    for await (const _ of stream.blocks()) break;
    for await (const [block] of stream.blocks({ startFrame: 10, endFrame: 20 }))
      expect(block).toEqual(whole.subarray(10, 20));
    await stream.close();
  });
});

describe('identity of lossy files', () => {
  it('does not change with ID3 and APE tags around MP3', async () => {
    const file = readFileSync(lena('lena.mp3'));
    const bare = file.subarray(10 + id3Size(file));
    const id3v2 = bytes('ID3', [4, 0, 0, 0, 0, 1, 0], new Uint8Array(128));
    const ape = bytes('APETAGEX', u32(2000), u32(32), u32(0), u32(0), new Uint8Array(8));
    const id3v1 = bytes('TAG', new Uint8Array(125));
    const hashes = await Promise.all(
      [file, bare, bytes(id3v2, bare), bytes(id3v2, id3v2, bare, ape, id3v1)].map((content, index) =>
        payloadHash(scratch.write(`tags${index}.mp3`, content)),
      ),
    );
    expect(new Set(hashes).size).toBe(1);
    const other = Buffer.from(bare);
    other[100_000] ^= 1;
    expect(await payloadHash(scratch.write('other.mp3', other))).not.toBe(hashes[0]);
  });

  it.each([
    ['lena.ogg', 3],
    ['lena.opus', 2],
  ])('does not change when %s gets a longer comment, and so other pages', async (name, headers) => {
    const groups = readPages(readFileSync(lena(name)));
    const packets = groups.flatMap(({ packets }) => packets);
    const comment = bytes(packets[1], new Uint8Array(5000).fill(65));
    const heads = [packets[0], comment, ...packets.slice(2, headers)].map((packet) => ({
      packets: [packet],
      granule: 0,
    }));
    const sound = groups.filter(({ granule }) => granule > 0);
    const pages = [...heads, ...sound].map(({ packets, granule }, sequence, all) =>
      page(packets, { serial: 99, sequence, granule, first: sequence === 0, last: sequence === all.length - 1 }),
    );
    const path = scratch.write(name, bytes(...pages));
    expect(await payloadHash(path)).toBe(await payloadHash(lena(name)));
    const [again, before] = [await decodeWhole(path), await decodeWhole(lena(name))];
    expect(again.warnings).toEqual([]);
    expect(again.channels[0].length).toBe(before.channels[0].length);
    expect(again.channels[0]).toEqual(before.channels[0]);
  });
});

it('applies the output gain of an Opus header, in 1/256 dB (RFC 7845, section 5.1)', async () => {
  const groups = readPages(readFileSync(lena('lena.opus')));
  const quarter = -12 * 256;
  groups[0].packets[0].set(u16(quarter), 16);
  const pages = groups.map(({ packets, granule }, sequence) =>
    page(packets, { sequence, granule, first: sequence === 0, last: sequence === groups.length - 1 }),
  );
  const quiet = (await decodeWhole(scratch.write('gain.opus', bytes(...pages)))).channels[0];
  const loud = (await decodeWhole(lena('lena.opus'))).channels[0];
  let worst = 0;
  for (let n = 0; n < loud.length; n++) worst = Math.max(worst, Math.abs(quiet[n] - loud[n] * 10 ** (-12 / 20)));
  expect(quiet.length).toBe(loud.length);
  expect(worst).toBeLessThan(1e-6);
});

describe('lossy audio in a WAV file', () => {
  it('is read through for MPEG audio (format 0x55) and whole Ogg streams (0x674F)', async () => {
    for (const [tag, name, rate] of [
      [0x55, 'lena.mp3', 44_100],
      [0x674f, 'lena.ogg', 44_100],
    ] as const) {
      const inner = readFileSync(lena(name));
      const format = waveFormat({ tag, rate, bits: 0, blockAlign: 1, extra: u16(0) });
      const path = scratch.write(`${tag}.wav`, riff([format, chunk('data', inner)]));
      const decoded = await decodeWhole(path);
      const plain = await decodeWhole(lena(name));
      expect(decoded.format.name).toBe(plain.format.name);
      expect(decoded.channels[0]).toEqual(plain.channels[0]);
      expect(await payloadHash(path)).toBe(await payloadHash(lena(name)));
    }
  });
});

describe('lossy files with parts missing', () => {
  it.each(files)('%s decodes as far as it goes and says that the end is missing', async (name) => {
    const file = readFileSync(lena(name));
    const whole = (await decodeWhole(lena(name))).channels[0];
    const decoded = await decodeWhole(scratch.write(`half-${name}`, file.subarray(0, file.length / 2)));
    const frames = decoded.channels[0].length;
    expect(frames).toBeGreaterThan(whole.length / 4);
    expect(frames).toBeLessThan((whole.length * 3) / 4);
    expect(decoded.warnings.join(' ')).toMatch(/missing/);
    // The last packet of a cut stream may lack its overlap.
    expect(decoded.channels[0].subarray(0, frames - 4096)).toEqual(whole.subarray(0, frames - 4096));
  });

  it('skips garbage between MP3 frames', async () => {
    const file = readFileSync(lena('lena.mp3'));
    const garbage = new Uint8Array(1000).fill(0x55);
    const path = scratch.write('garbage.mp3', bytes(file.subarray(0, 100_000), garbage, file.subarray(100_000)));
    const decoded = await decodeWhole(path);
    expect(decoded.warnings.join(' ')).toMatch(/not MPEG audio/);
    // One frame was cut in two and is lost.
    expect(LENA_FRAMES - decoded.channels[0].length).toBeLessThanOrEqual(2 * 1152);
  });
});

async function payloadHash(path: string): Promise<string> {
  const stream = await openAudio(path);
  const hash = createHash('sha256');
  await stream.hashPayload(hash);
  await stream.close();
  return hash.digest('hex');
}

function id3Size(file: Uint8Array): number {
  return file.subarray(6, 10).reduce((sum, byte) => sum * 128 + byte, 0);
}

/** The packets that end on each page of an Ogg file with one stream; a packet that goes on counts where it ends. */
function readPages(file: Buffer): { packets: Uint8Array[]; granule: number }[] {
  const pages: { packets: Uint8Array[]; granule: number }[] = [];
  let pieces: Uint8Array[] = [];
  for (let at = 0; at < file.length; ) {
    const segments = file[at + 26];
    const packets: Uint8Array[] = [];
    let start = at + 27 + segments;
    for (let index = 0; index < segments; index++) {
      const size = file[at + 27 + index];
      pieces.push(file.subarray(start, start + size));
      start += size;
      if (size === 255) continue;
      packets.push(bytes(...pieces));
      pieces = [];
    }
    pages.push({ packets, granule: Number(file.readBigInt64LE(at + 6)) });
    at = start;
  }
  return pages;
}

/** Correlation with a source of another rate, read between its frames with a windowed sinc; every seventh frame. */
function correlation(decoded: Float32Array, source: Float32Array, ratio: number, shift = 0): number {
  let both = 0;
  let first = 0;
  let second = 0;
  for (let n = 2000; n < decoded.length - 2000; n += 7) {
    const value = ratio === 1 ? source[n + shift] : between(source, n * ratio + shift);
    both += value * decoded[n];
    first += decoded[n] ** 2;
    second += value ** 2;
  }
  return both / Math.sqrt(first * second);
}

function between(source: Float32Array, position: number): number {
  const middle = Math.floor(position);
  let sum = 0;
  for (let k = middle - 23; k <= middle + 24; k++) {
    const x = Math.PI * (position - k);
    const window = 0.5 + 0.5 * Math.cos(x / 25);
    sum += source[k] * window * (x === 0 ? 1 : Math.sin(x) / x);
  }
  return sum;
}
