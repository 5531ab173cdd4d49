import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { bytes, decodeWhole, inPackages, lena, scratchFolder, seeded } from './bytes.ts';
import { type FrameChoice, flacFrame, flacHead, residualOf, type SubframeChoice, streamInfo } from './flac-writer.ts';
import { stream as oggStream } from './ogg-writer.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

const SAMPLES = inPackages('supersonic-scsynth-samples/samples/');
/** The longest of them: 2.6 MB, so that ranges are found by bisection. */
const LONG = `${SAMPLES}arovane_beat_b.flac`;

describe('FLAC against the MD5 that the encoder left of its input (RFC 9639, section 8.2)', () => {
  /** Every width but 16 bits, and one in eight of the rest, to be quick. */
  const names = readdirSync(SAMPLES)
    .filter((name) => name.endsWith('.flac'))
    .filter((name, index) => index % 8 === 0 || bitsOf(readFileSync(SAMPLES + name)) !== 16);

  it(`fits in ${names.length} of the package supersonic-scsynth-samples and in audio-lena`, async () => {
    expect(names.length).toBeGreaterThan(20);
    for (const path of [...names.map((name) => SAMPLES + name), lena('lena.flac')]) {
      const header = readFileSync(path).subarray(0, 42);
      const { format, channels, warnings } = await decodeWhole(path);
      expect(warnings, path).toEqual([]);
      expect(channels[0].length, path).toBe(format.frames);
      expect(md5Of(channels, format.bitDepth ?? 0), path).toBe(header.subarray(26, 42).toString('hex'));
    }
  });
});

describe('FLAC against a plain encoder', () => {
  it.each([8, 12, 16, 20, 24, 32])('gives back %i-bit samples however they were coded', async (bits) => {
    const random = seeded(bits);
    const count = 64;
    const limit = 2 ** (bits - 1);
    const written: bigint[][] = [[], []];
    const frames: Uint8Array[] = [];
    const stereos = ['independent', 'left-side', 'side-right', 'mid-side'] as const;
    for (let number = 0; number < 40; number++) {
      const wastedBits = number % 5 === 4 ? 1 + Math.floor(random() * 3) : 0;
      const isConstant = number % 7 === 6;
      const channels = [0, 1].map(() => signal(random, count, limit, wastedBits, isConstant));
      const stereo = stereos[number % 4];
      const subframes = [0, 1].map((): SubframeChoice => choose(random, count, bits, isConstant ? number % 2 : 2));
      const choice = fitted(channels, { stereo, subframes }, stereo === 'independent' ? wastedBits : 0);
      frames.push(flacFrame(channels, bits, number, choice));
      for (const [channel, samples] of channels.entries()) written[channel].push(...samples);
    }
    const path = scratch.write(`plain-${bits}.flac`, bytes(flacHead(count, 48_000, 2, bits, 40 * count), ...frames));
    const decoded = await decodeWhole(path);
    expect(decoded.warnings).toEqual([]);
    for (const channel of [0, 1]) {
      const expected = Float32Array.from(written[channel], (value) => Number(value) / limit);
      expect([...decoded.channels[channel]]).toEqual([...expected]);
    }
  });

  it('reads the same frames from Ogg', async () => {
    const channels = [Array.from({ length: 32 }, (_, n) => BigInt(n * 100 - 1600))];
    const verbatim: SubframeChoice = { ...choose(seeded(1), 32, 16, 0), kind: 'verbatim', order: 0 };
    const frames = [0, 1, 2].map((number) =>
      flacFrame(channels, 16, number, { stereo: 'independent', subframes: [verbatim] }),
    );
    const head = bytes([0x7f], 'FLAC', [1, 0, 0, 1], 'fLaC', [0, 0, 0, 34], streamInfo(32, 22_050, 1, 16, 96));
    const comment = bytes([0x84, 0, 0, 8], new Uint8Array(8));
    const path = scratch.write('in-ogg.oga', oggStream([head, comment, ...frames], [0, 0, 32, 64, 96]));
    const decoded = await decodeWhole(path);
    expect(decoded.format).toMatchObject({ name: 'FLAC', sampleRateHz: 22_050, frames: 96 });
    expect(decoded.warnings).toEqual([]);
    const once = channels[0].map((value) => Number(value) / 32_768);
    expect([...decoded.channels[0]]).toEqual([...once, ...once, ...once]);
  });
});

describe('FLAC ranges and damage', () => {
  it('gives the same frames by range as a slice of the whole, forwards and backwards', async () => {
    const whole = await decodeWhole(LONG);
    const frames = whole.channels[0].length;
    const random = seeded(3);
    const stream = await openAudio(LONG);
    const starts = [
      0,
      1000,
      50_000,
      400_000,
      399_999,
      frames - 10,
      10,
      ...Array.from({ length: 8 }, () => Math.floor(random() * frames)),
    ];
    for (const startFrame of starts) {
      let at = startFrame;
      for await (const block of stream.blocks({ startFrame, endFrame: startFrame + 30_000 })) {
        for (const [channel, samples] of block.entries()) {
          expect(samples, `channel ${channel} at ${at}`).toEqual(
            whole.channels[channel].subarray(at, at + samples.length),
          );
        }
        at += block[0].length;
      }
      expect(at).toBe(Math.min(frames, startFrame + 30_000));
    }
    await stream.close();
  });

  it('puts silence where a frame is damaged and keeps the rest in its place', async () => {
    const whole = await decodeWhole(LONG);
    const broken = readFileSync(LONG);
    broken[1_000_000] ^= 0x10;
    const { channels, warnings } = await decodeWhole(scratch.write('broken.flac', broken));
    expect(warnings.join(' ')).toMatch(/damaged/);
    expect(channels[0].length).toBe(whole.channels[0].length);
    const different = [...channels[0]].flatMap((sample, n) => (sample === whole.channels[0][n] ? [] : [n]));
    expect(different.length).toBeGreaterThan(0);
    const [first, last] = [different[0], different[different.length - 1]];
    // One frame: the block size stands in STREAMINFO.
    expect(last - first).toBeLessThan(broken.readUInt16BE(10));
    expect(channels[0].subarray(first, last + 1).every((sample) => sample === 0)).toBe(true);
  });

  it('decodes all of a file joined from two, though its frame numbers begin again', async () => {
    const name = lena('lena.flac');
    const file = readFileSync(name);
    const [once, twice] = [
      await decodeWhole(name),
      await decodeWhole(scratch.write('twice.flac', bytes(file, audioOf(file)))),
    ];
    expect(twice.warnings.join(' ')).toMatch(/not numbered in order/);
    expect(twice.format.frames).toBeNull();
    const frames = once.channels[0].length;
    expect(twice.channels[0].length).toBe(2 * frames);
    expect(twice.channels[0].subarray(frames)).toEqual(once.channels[0]);
  });

  it('knows the true length whatever STREAMINFO says', async () => {
    const file = readFileSync(LONG);
    const { frames } = (await decodeWhole(LONG)).format;
    const unknown = Uint8Array.from(file);
    unknown.fill(0, 22, 26);
    expect((await decodeWhole(scratch.write('unknown.flac', unknown))).format.frames).toBe(frames);

    const cut = await decodeWhole(scratch.write('cut.flac', file.subarray(0, 1_000_000)));
    expect(cut.warnings.join(' ')).toMatch(/the end is missing/);
    expect(cut.format.frames).toBe(cut.channels[0].length);
    expect(cut.channels[0].length).toBeGreaterThan((frames ?? 0) / 4);
  });
});

/** The frames, after the metadata blocks: each has its size in three bytes and a mark on the last. */
function audioOf(file: Buffer): Uint8Array {
  let at = 4;
  for (let last = false; !last; at += 4 + file.readUIntBE(at + 1, 3)) last = file[at] >= 128;
  return file.subarray(at);
}

function bitsOf(file: Uint8Array): number {
  return (((file[20] & 1) << 4) | (file[21] >> 4)) + 1;
}

/** MD5 over samples as signed little-endian numbers of whole bytes, interleaved. */
function md5Of(channels: Float32Array[], bits: number): string {
  const width = Math.ceil(bits / 8);
  const data = Buffer.alloc(channels[0].length * channels.length * width);
  let at = 0;
  for (let n = 0; n < channels[0].length; n++) {
    for (const samples of channels) {
      data.writeIntLE(Math.round(samples[n] * 2 ** (bits - 1)), at, width);
      at += width;
    }
  }
  return createHash('md5').update(data).digest('hex');
}

/** Smooth movement with jumps to both ends of the range. */
function signal(random: () => number, count: number, limit: number, wastedBits: number, constant: boolean): bigint[] {
  const step = 2 ** wastedBits;
  const whole = (value: number): bigint =>
    BigInt(Math.max(-limit, Math.min(limit - step, Math.round((value * limit) / step) * step)));
  if (constant) return Array(count).fill(whole(random() * 2 - 1));
  const phase = random() * 6;
  return Array.from({ length: count }, (_, n) => {
    const jump = random() < 0.03 ? (random() < 0.5 ? -1 : 1) : null;
    return whole(jump ?? 0.7 * Math.sin(phase + n / 5) + 0.05 * random());
  });
}

/** `kind`: 0 constant, 1 verbatim, 2 any predictor. */
function choose(random: () => number, count: number, bits: number, kind: number): SubframeChoice {
  const linear = random() < 0.5;
  const order = linear ? 1 + Math.floor(random() * 12) : Math.floor(random() * 5);
  const precision = 5 + Math.floor(random() * 11);
  const partitionOrder = Math.floor(random() * 3);
  const most = 2 ** (precision - 1);
  return {
    kind: kind === 0 ? 'constant' : kind === 1 ? 'verbatim' : linear ? 'linear' : 'fixed',
    order,
    coefficients: Array.from({ length: order }, () => Math.floor((random() * 2 - 1) * most)),
    precision,
    shift: precision - 1,
    wastedBits: 0,
    partitionOrder: count / 2 ** partitionOrder > order ? partitionOrder : 0,
    parameters: [],
    fiveBitParameters: bits > 16,
  };
}

/** Fills in what depends on the samples: wasted bits, parameters; too large a residual is written verbatim instead. */
function fitted(channels: bigint[][], choice: FrameChoice, wastedBits: number): FrameChoice {
  const [left, right] = channels;
  const side = left.map((value, n) => value - right[n]);
  const mid = left.map((value, n) => (value + right[n]) >> 1n);
  const coded = {
    independent: [left, right],
    'left-side': [left, side],
    'side-right': [side, right],
    'mid-side': [mid, side],
  }[choice.stereo];
  const subframes = choice.subframes.map((plan, index): SubframeChoice => {
    const isConstant = coded[index].every((value) => value === coded[index][0]);
    const kind = plan.kind === 'constant' && !isConstant ? 'verbatim' : plan.kind;
    const base: SubframeChoice = {
      ...plan,
      kind,
      wastedBits,
      order: kind === 'constant' || kind === 'verbatim' ? 0 : plan.order,
    };
    if (base.order === 0 && base.kind !== 'fixed') return base;
    const residual = residualOf(
      coded[index].map((value) => value >> BigInt(wastedBits)),
      base,
    );
    const largest = Math.max(1, ...residual.map((value) => Math.abs(Number(value))));
    if (largest >= 2 ** 29) return { ...base, kind: 'verbatim', order: 0 };
    const width = Math.ceil(Math.log2(largest + 1)) + 1;
    const parameters = Array.from({ length: 2 ** base.partitionOrder }, (_, partition) => ({
      // Small parameters make long rows of zeros, which take their own path through the decoder.
      rice:
        partition % 3 === 2
          ? null
          : Math.max(0, Math.min(base.fiveBitParameters ? 30 : 14, width - 1 - (index + partition) * 3)),
      plainBits: width,
    }));
    return { ...base, parameters };
  });
  return { ...choice, subframes };
}
