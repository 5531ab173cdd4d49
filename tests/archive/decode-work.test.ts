/** Small files made to hold up a build: what is tried, copied or unfolded for each of their bytes has a bound. Counted, not timed. */
import { afterAll, afterEach, describe, expect, it, vi } from 'vitest';
import { UnreadableAudio } from '../../scripts/archive/audio-stream.ts';
import { bytesInMemory } from '../../scripts/archive/decode/byte-source.ts';
import { flacFrames, readStreamInfo } from '../../scripts/archive/decode/flac-frames.ts';
import { FREE_SAMPLES, MOST_SAMPLES_A_BYTE, SearchBudget, withinReason } from '../../scripts/archive/decode/limits.ts';
import { findOggAudio } from '../../scripts/archive/decode/ogg.ts';
import { oggPages } from '../../scripts/archive/decode/ogg-pages.ts';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { readId3v2 } from '../../scripts/archive/describe/id3.ts';
import { readVorbisComment } from '../../scripts/archive/describe/vorbis-comment.ts';
import { bytes, lena, scratchFolder, u16be, u32 } from './bytes.ts';
import { flacFrame, flacHead, type SubframeChoice, streamInfo } from './flac-writer.ts';
import { page } from './ogg-writer.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());
afterEach(() => vi.restoreAllMocks());

async function* pieces(whole: Uint8Array, size: number): AsyncGenerator<Uint8Array> {
  for (let at = 0; at < whole.length; at += size) yield whole.subarray(at, at + size);
}

const subframe = (kind: SubframeChoice['kind']): SubframeChoice => ({
  kind,
  order: 0,
  coefficients: [],
  precision: 0,
  shift: 0,
  wastedBits: 0,
  partitionOrder: 0,
  parameters: [],
  fiveBitParameters: false,
});

/** CRC-8 of a frame header (RFC 9639, section 9.1.8), bit by bit. */
function crc8(data: readonly number[]): number {
  let register = 0;
  for (const byte of data) {
    for (let bit = 7; bit >= 0; bit--) {
      const out = (register >> 7) ^ ((byte >> bit) & 1);
      register = ((register << 1) & 255) ^ (out ? 0x07 : 0);
    }
  }
  return register;
}

describe('marks of frames with no frame behind them', () => {
  it('FLAC: a true header every 9 bytes, each of 8 channels of 65,536 samples, is given up after a bounded search', async () => {
    // Section 9.1: sync, block size in 16 bits, rate as in STREAMINFO, 8 channels, 16 bits; then a constant subframe.
    const head = [0xff, 0xf8, 0x70, 0x78, 0, ...u16be(65_535)];
    const file = bytes(...Array.from({ length: 40_000 }, () => [...head, crc8(head), 0]));
    const info = readStreamInfo(streamInfo(65_535, 48_000, 8, 16, 0));
    const budget = new SearchBudget();
    const found: string[] = [];
    for await (const frame of flacFrames(pieces(file, 32_768), info, budget)) {
      found.push(typeof frame === 'string' ? frame : 'frame');
    }
    expect(found).toEqual(['given up']);
    // What is free, 4 for each byte, and one attempt: 20 TB of samples would be what all of them claim.
    expect(budget.spent).toBeLessThan(2 ** 22 + 4 * file.length + 8 * 65_536 + file.length);
  });

  it('FLAC: nothing is tried in vain in a sound file, and what follows damage is still found', async () => {
    const info = readStreamInfo(streamInfo(4096, 44_100, 1, 16, 0));
    const samples = [Array.from({ length: 16 }, (_, n) => BigInt(n * 100))];
    const frame = (number: number) =>
      flacFrame(samples, 16, number, {
        stereo: 'independent',
        subframes: [subframe('verbatim')],
      });
    const damaged = frame(1).with(20, 77);
    const budget = new SearchBudget();
    const found: string[] = [];
    for await (const one of flacFrames(pieces(bytes(frame(0), damaged, frame(2)), 7), info, budget)) {
      found.push(typeof one === 'string' ? one : `frame ${one.header.number}`);
    }
    expect(found).toEqual(['frame 0', 'lost', 'frame 2']);
    expect(budget.spent).toBeLessThan(2 * damaged.length);
  });

  it('Ogg: "OggS" every 27 bytes, each claiming the longest page, is given up after a bounded search', async () => {
    const mark = bytes('OggS', new Uint8Array(22), [255]);
    const file = bytes(...Array.from({ length: 20_000 }, () => mark), new Uint8Array(70_000).fill(255));
    const budget = new SearchBudget();
    let skipped = 0;
    for await (const { page: found, skippedBytes } of oggPages(bytesInMemory(file), 0, budget)) {
      expect(found).toBeNull();
      skipped += skippedBytes;
    }
    expect(skipped, 'all of it is told as skipped').toBe(file.length);
    expect(budget.spent).toBeLessThan(2 ** 22 + 4 * file.length + 65_307);
  });

  it('Ogg: thousands of streams that are no audio come to one short sentence', async () => {
    const file = bytes(
      ...Array.from({ length: 3000 }, (_, serial) =>
        page([bytes(`codec ${serial}`)], { serial, sequence: 0, granule: 0, first: true }),
      ),
    );
    expect((await findOggAudio(bytesInMemory(file))).others).toEqual(['an unknown codec']);
  });
});

/** How many elements of arrays are spread or walked while `act` runs. */
function spreadIn<Result>(act: () => Result): { result: Result; spread: number } {
  const plain = Array.prototype[Symbol.iterator];
  let spread = 0;
  Array.prototype[Symbol.iterator] = function (this: unknown[]) {
    spread += this.length;
    return plain.call(this);
  };
  try {
    const result = act();
    return { result, spread };
  } finally {
    Array.prototype[Symbol.iterator] = plain;
  }
}

describe('texts', () => {
  it('Vorbis comments of one name are gathered without copying those before', () => {
    const entry = bytes(u32(9), 'COMMENT=x');
    const entries = Array.from({ length: 2000 }, () => entry);
    const block = bytes(u32(0), u32(entries.length), ...entries);
    const { result, spread } = spreadIn(() => readVorbisComment(block));
    const { comment } = result;
    expect(comment).toBe('x');
    expect(spread).toBeLessThan(10 * entries.length);
  });

  it('an ID3 frame of nothing but NULs is not decoded one by one', () => {
    const content = bytes([0], new Uint8Array(200_000));
    const size = content.length + 10;
    const sizes = [(size >> 21) & 127, (size >> 14) & 127, (size >> 7) & 127, size & 127];
    const length = content.length;
    const frame = bytes(
      'TIT2',
      [length >>> 24, (length >> 16) & 255, (length >> 8) & 255, length & 255],
      [0, 0],
      content,
    );
    const decode = vi.spyOn(TextDecoder.prototype, 'decode');
    const found = readId3v2(bytes('ID3', [3, 0, 0], sizes, frame));
    expect(found.title).toBeNull();
    expect(decode.mock.calls.length).toBeLessThan(10);
  });
});

describe('audio unfolded from next to nothing', () => {
  // Constant subframes: the most that FLAC can make of a byte (RFC 9639, section 9.2.3).
  const silence = Array.from({ length: 8 }, () => Array<bigint>(65_535).fill(0n));
  const subframes = silence.map(() => subframe('constant'));
  const frame = (number: number): Uint8Array => flacFrame(silence, 16, number, { stereo: 'independent', subframes });

  it('a FLAC file of some kB that unfolds into hours of 8 channels ends with a sentence that says so', async () => {
    const count = Math.ceil(FREE_SAMPLES / (8 * 65_535)) + 20;
    const again = frame(0);
    // The numbers fall once, so that the length is not known beforehand.
    const frames = [frame(9), ...Array.from({ length: count }, () => again)];
    const file = bytes(flacHead(65_535, 48_000, 8, 16, 0), ...frames);
    const stream = await openAudio(scratch.write('claims.flac', file));
    const read = async (): Promise<void> => {
      for await (const block of stream.blocks()) expect(block).toHaveLength(8);
    };
    const problem = await read().catch((error: unknown) => error);
    await stream.close();
    expect(problem).toBeInstanceOf(UnreadableAudio);
    expect(problem).toMatchObject({
      found: expect.stringMatching(/^\d+ kB of FLAC that unfold into more than 2 minutes of 8 channels\.$/),
      remedy: expect.stringContaining('export the file as WAV'),
    });
  });

  it('three hours of digital silence in common blocks are within reason, and a real file is', async () => {
    const { format, warnings, hashPayload, close } = await openAudio(lena('lena.flac'));
    await close();
    const block = [new Float32Array(65_536), new Float32Array(65_536)];
    const hours = {
      format: { ...format, channels: 2 },
      warnings,
      hashPayload,
      close,
      async *blocks() {
        for (let frame = 0; frame < 3 * 3600 * 48_000; frame += 65_536) yield block;
      },
    };
    // 4096 samples of two channels in 16 bytes: header and checksum of 10, two constant subframes of 3.
    const size = ((3 * 3600 * 48_000) / 4096) * 16;
    let frames = 0;
    for await (const [first] of withinReason(hours, size).blocks()) frames += first.length;
    expect(frames).toBeGreaterThan(3 * 3600 * 48_000);
    expect((4096 * 2) / 16).toBeLessThan(MOST_SAMPLES_A_BYTE);
  });
});
