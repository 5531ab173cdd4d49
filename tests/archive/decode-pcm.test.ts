import { createHash } from 'node:crypto';
import { closeSync, openSync, writeSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import wavefile from 'wavefile';
import { BLOCK_FRAMES } from '../../scripts/archive/audio-stream.ts';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import {
  bytes,
  chunk,
  common,
  decodeWhole,
  extensible,
  form,
  LENA_FRAMES,
  lena,
  riff,
  scratchFolder,
  seeded,
  sound,
  u16,
  u16be,
  u32,
  u64,
  waveFormat,
} from './bytes.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

describe('one recording, written by several programs (package audio-lena)', () => {
  it('decodes alike from every lossless file', async () => {
    const reference = await decodeWhole(lena('lena.wav'));
    expect(reference.channels[0].length).toBe(LENA_FRAMES);
    const alike = [
      'lena-24.aiff',
      'lena-32.aiff',
      'audacity/lena-32.wav',
      'audacity/lena-64.aiff',
      'logic/lena-24.aif',
      'logic/lena-24.wav',
      'logic/lena-32.aif',
    ];
    for (const name of alike) {
      const { channels, warnings } = await decodeWhole(lena(name));
      expect(warnings, name).toEqual([]);
      expect(Buffer.from(channels[0].buffer).equals(Buffer.from(reference.channels[0].buffer)), name).toBe(true);
    }
  });

  it('comes within the coarsest G.711 step from A-law and mu-law', async () => {
    const reference = await decodeWhole(lena('lena.wav'));
    for (const name of ['audacity/lena-a.aiff', 'audacity/lena-u.aiff']) {
      const { channels, format } = await decodeWhole(lena(name));
      expect(format.bitDepth).toBeNull();
      expect(format.lossless).toBe(false);
      let worst = 0;
      for (let n = 0; n < LENA_FRAMES; n++)
        worst = Math.max(worst, Math.abs(channels[0][n] - reference.channels[0][n]));
      // ITU-T G.711: the largest step is 1024 of 32768 in A-law and mu-law, so half of it, and mu-law's rounding of 1.
      expect(worst, name).toBeLessThanOrEqual(514 / 32_768);
    }
  });
});

describe('WAV as the wavefile library writes it', () => {
  /** wavefile's names of depths, and how its samples become full scale -1..1. */
  const depths: [depth: string, scale: (sample: number) => number, codec: string][] = [
    ['8', (sample) => (sample - 128) / 128, '8-bit integer'],
    ['16', (sample) => sample / 2 ** 15, '16-bit integer'],
    ['24', (sample) => sample / 2 ** 23, '24-bit integer'],
    ['32', (sample) => sample / 2 ** 31, '32-bit integer'],
    ['32f', (sample) => sample, '32-bit float'],
    ['64', (sample) => sample, '64-bit float'],
  ];
  it.each(depths)('reads %s bits, channel by channel, in RIFF and big-endian RIFX', async (depth, scale, codec) => {
    const random = seeded(depth.length * 97 + Number.parseInt(depth, 10));
    const isFloat = depth === '32f' || depth === '64';
    const most = isFloat ? 1 : 2 ** (Number(depth) - 1);
    const sample = (): number => {
      const value = (random() * 2 - 1) * most;
      return isFloat ? value : Math.max(-most, Math.min(most - 1, Math.round(value))) + (depth === '8' ? 128 : 0);
    };
    const channels = Array.from({ length: 3 }, () => Array.from({ length: 1000 }, sample));
    for (const channel of channels) channel[0] = isFloat ? -1 : depth === '8' ? 0 : -most;
    for (const container of ['RIFF', 'RIFX']) {
      const writer = new wavefile.WaveFile();
      writer.fromScratch(3, 44_100, depth, channels, { container });
      const decoded = await decodeWhole(scratch.write(`${depth}-${container}.wav`, writer.toBuffer()));
      expect(decoded.format).toMatchObject({ name: 'WAV', codec, channels: 3, sampleRateHz: 44_100, frames: 1000 });
      expect(decoded.warnings).toEqual([]);
      for (let channel = 0; channel < 3; channel++) {
        const expected = Float32Array.from(channels[channel], scale);
        expect([...decoded.channels[channel]]).toEqual([...expected]);
        expect(decoded.channels[channel][0]).toBe(-1);
      }
    }
  });

  it('expands A-law and mu-law as that library does', async () => {
    const ramp = Array.from({ length: 65_536 }, (_, index) => index - 32_768);
    for (const law of ['ALaw', 'MuLaw'] as const) {
      const writer = new wavefile.WaveFile();
      writer.fromScratch(1, 8000, '16', ramp);
      writer[`to${law}`]();
      const path = scratch.write(`${law}.wav`, writer.toBuffer());
      writer[`from${law}`]('16');
      const expected = Float32Array.from(writer.getSamples(), (sample) => sample / 32_768);
      expect([...(await decodeWhole(path)).channels[0]]).toEqual([...expected]);
    }
  });
});

describe('uncompressed layouts', () => {
  const data16 = u16(0x4000).concat(u16(0x8000), u16(0x7fff), u16(1));
  const floats16 = [0.5, -1, 32_767 / 32_768, 1 / 32_768];

  it('reads extensible headers with mask, valid bits and 32 channels', async () => {
    const twenty = waveFormat({ tag: 0xfffe, channels: 2, bits: 24, extra: extensible(20, 0x3, 1) });
    const two = await decodeWhole(
      scratch.write(
        'valid20.wav',
        riff([twenty, chunk('data', [0, 0, 0x40, 0, 0, 0xc0, 0x10, 0, 0, 0xf0, 0xff, 0xff])]),
      ),
    );
    expect(two.format).toMatchObject({ bitDepth: 20, codec: '20-bit integer', channelMask: 3, frames: 2 });
    expect(two.channels.map((channel) => [...channel])).toEqual([
      [0.5, 16 / 2 ** 23],
      [-0.5, -16 / 2 ** 23],
    ]);

    const wide = waveFormat({ tag: 0xfffe, channels: 32, bits: 32, rate: 384_000, extra: extensible(32, 0, 3) });
    const values = Float32Array.from({ length: 64 }, (_, index) => index / 64);
    const many = await decodeWhole(
      scratch.write('wide.wav', riff([wide, chunk('data', new Uint8Array(values.buffer))])),
    );
    expect(many.format).toMatchObject({ channels: 32, sampleRateHz: 384_000, channelMask: null, frames: 2 });
    expect(many.channels.map((channel) => channel[1])).toEqual([...values.subarray(32)]);
  });

  it('finds the audio between chunks of odd sizes, padding, and chunks without their pad byte', async () => {
    const odd = riff([
      chunk('JUNK', [1, 2, 3]),
      chunk('note', 'abcde'),
      waveFormat(),
      chunk('PAD ', new Uint8Array(4044)),
      chunk('data', data16),
      chunk('LIST', 'INFOx'),
    ]);
    expect([...(await decodeWhole(scratch.write('odd.wav', odd))).channels[0]]).toEqual(floats16);
    const unpadded = riff([bytes('JUNK', u32(3), [1, 2, 3]), waveFormat(), chunk('data', data16)]);
    const decoded = await decodeWhole(scratch.write('unpadded.wav', unpadded));
    expect([...decoded.channels[0]]).toEqual(floats16);
    expect(decoded.warnings).toEqual([]);
  });

  it('reads RF64 and BW64 by their ds64 sizes (EBU Tech 3306), and says so when there is none', async () => {
    const ds64 = chunk('ds64', bytes(u64(100), u64(8), u64(4), u32(1), 'big ', u64(6)));
    const chunks = [
      ds64,
      waveFormat(),
      bytes('data', u32(0xffff_ffff), data16),
      bytes('big ', u32(0xffff_ffff), 'abcdef'),
    ];
    for (const container of ['RF64', 'BW64']) {
      const decoded = await decodeWhole(scratch.write(`${container}.wav`, riff(chunks, container)));
      expect(decoded.format.frames).toBe(4);
      expect([...decoded.channels[0]]).toEqual(floats16);
      expect(decoded.warnings).toEqual([]);
    }
    const bare = riff([waveFormat(), bytes('data', u32(0xffff_ffff), data16)], 'RF64');
    const decoded = await decodeWhole(scratch.write('bare.wav', bare));
    expect(decoded.format.frames).toBe(4);
    expect(decoded.warnings.join(' ')).toMatch(/no usable ds64/);
  });

  it('reads ranges beyond 4 GiB, by ds64 or, where a RIFF header could not say the size, by the file', async () => {
    const dataBytes = 6e9;
    const frames = dataBytes / 4;
    const format = waveFormat({ channels: 2 });
    const ds64 = chunk('ds64', bytes(u64(dataBytes + 100), u64(dataBytes), u64(frames), u32(0)));
    const heads: [name: string, head: Uint8Array, warnings: number][] = [
      ['RF64', bytes('RF64', u32(0xffff_ffff), 'WAVE', ds64, format, 'data', u32(0xffff_ffff)), 0],
      ['RIFF', bytes('RIFF', u32(0), 'WAVE', format, 'data', u32(dataBytes % 2 ** 32)), 1],
    ];
    for (const [name, head, warnings] of heads) {
      const path = scratch.write(`${name}-huge.wav`, head);
      const file = openSync(path, 'r+');
      writeSync(file, bytes(u16(0x4000), u16(0xc000)), 0, 4, head.length + dataBytes - 4);
      closeSync(file);
      const decoded = await decodeWhole(path, { startFrame: frames - 2, endFrame: frames });
      expect(decoded.format.frames, name).toBe(frames);
      expect(decoded.channels.map((channel) => [...channel])).toEqual([
        [0, 0.5],
        [0, -0.5],
      ]);
      expect(decoded.warnings, name).toHaveLength(warnings);
    }
  });

  it('reads the uncompressed kinds of AIFF-C in their byte orders', async () => {
    const value = 0x123456;
    const float32 = new DataView(new ArrayBuffer(4));
    float32.setFloat32(0, -0.75);
    const float64 = new DataView(new ArrayBuffer(8));
    float64.setFloat64(0, 0.1);
    const cases: [type: string, bits: number, data: number[], expected: number, codec: string][] = [
      ['NONE', 8, [0x80], -1, '8-bit integer'],
      ['NONE', 12, u16be(0x7ff0), 0x7ff / 0x800, '12-bit integer'],
      ['NONE', 24, [0x12, 0x34, 0x56], value / 2 ** 23, '24-bit integer'],
      ['sowt', 16, u16(0x4000), 0.5, '16-bit integer'],
      ['sowt', 24, [0x56, 0x34, 0x12], value / 2 ** 23, '24-bit integer'],
      ['raw ', 8, [0], -1, '8-bit integer'],
      ['fl32', 32, [...new Uint8Array(float32.buffer)], -0.75, '32-bit float'],
      ['FL32', 32, [...new Uint8Array(float32.buffer)], -0.75, '32-bit float'],
      ['fl64', 64, [...new Uint8Array(float64.buffer)], Math.fround(0.1), '64-bit float'],
    ];
    for (const [type, bits, data, expected, codec] of cases) {
      const file = form('AIFC', [common(1, 1, bits, 96_000, type), sound(data)]);
      const decoded = await decodeWhole(scratch.write('kind.aifc', file));
      expect(decoded.format, type).toMatchObject({ name: 'AIFF', codec, sampleRateHz: 96_000, frames: 1 });
      expect([...decoded.channels[0]], type).toEqual([expected]);
    }
  });

  it('turns samples that are no numbers into silence and says so', async () => {
    const values = Float32Array.from([0.25, Number.NaN, Number.POSITIVE_INFINITY, -0.25]);
    const file = riff([waveFormat({ tag: 3, bits: 32 }), chunk('data', new Uint8Array(values.buffer))]);
    const decoded = await decodeWhole(scratch.write('nan.wav', file));
    expect([...decoded.channels[0]]).toEqual([0.25, 0, 0, -0.25]);
    expect(decoded.warnings).toHaveLength(1);
  });
});

describe('ranges and payload of uncompressed files', () => {
  it('gives the same frames by range as a slice of the whole, in blocks of at most BLOCK_FRAMES', async () => {
    const whole = (await decodeWhole(lena('lena.wav'))).channels[0];
    const random = seeded(11);
    const stream = await openAudio(lena('lena.wav'));
    for (let round = 0; round < 20; round++) {
      const startFrame = Math.floor(random() * LENA_FRAMES * 1.1) - 100;
      const endFrame = startFrame + Math.floor(random() * 200_000);
      let at = Math.max(0, startFrame);
      for await (const [block] of stream.blocks({ startFrame, endFrame })) {
        expect(block.length).toBeLessThanOrEqual(BLOCK_FRAMES);
        expect(block).toEqual(whole.subarray(at, at + block.length));
        at += block.length;
      }
      expect(at).toBe(Math.max(0, startFrame, Math.min(LENA_FRAMES, endFrame)));
    }
    await stream.close();
  });

  it('hashes the audio and nothing else', async () => {
    const data = chunk('data', [1, 2, 3, 4]);
    const plain = scratch.write('plain.wav', riff([waveFormat(), data]));
    const tagged = scratch.write(
      'tagged.wav',
      riff([chunk('bext', new Uint8Array(602)), waveFormat(), data, chunk('LIST', 'INFOINAM')]),
    );
    const expected = createHash('sha256')
      .update(Uint8Array.of(1, 2, 3, 4))
      .digest('hex');
    for (const path of [plain, tagged]) {
      const stream = await openAudio(path);
      const hash = createHash('sha256');
      await stream.hashPayload(hash);
      await stream.close();
      expect(hash.digest('hex')).toBe(expected);
    }
  });
});
