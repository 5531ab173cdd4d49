/**
 * The written formats, read back by general-purpose libraries: wavefile for WAV and its chunks, mpg123 and libvorbis (as
 * WebAssembly) for MP3 and Ogg. FLAC goes through the archive's own decoder, which was proved on public files; ffmpeg and
 * sox were seen to agree. AIFF is read by hand after its specification.
 */
import { createHash } from 'node:crypto';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import path from 'node:path';
import { OggVorbisDecoder } from '@wasm-audio-decoders/ogg-vorbis';
import { MPEGDecoder } from 'mpg123-decoder';
import { describe, expect, it } from 'vitest';
import wavefile from 'wavefile';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import type { AudioFilePlan } from '../../scripts/demo/plan/file-plan.ts';
import { planArchive } from '../../scripts/demo/plan/plan-archive.ts';
import { bars, sound, struck, TAKE } from '../../scripts/demo/plan/shorthand.ts';
import { renderFile } from '../../scripts/demo/render-file.ts';
import type { FileTruth } from '../../scripts/demo/truth.ts';

/** One short knock in a dry hut: enough audio for a format, quick to make. */
const KNOCK: AudioFilePlan = {
  ...TAKE,
  path: 'session/knock.wav',
  room: 'watchHut',
  floorDbfs: -70,
  division: 'regions',
  embedded: {
    originator: 'Tern field recorder',
    description: 'Knocks on a plank',
    date: '2025-03-04',
    time: '10:20:30',
    title: 'Knocks',
    comment: 'two of them',
    keywords: true,
  },
  sounds: [
    sound('Plank, knuckle', -12, struck('plank', 'knuckle'), 'dry'),
    sound('Oar, knuckle, harder', -9, struck('oar', 'knuckle'), 'dry'),
  ],
};

describe('WAV', () => {
  it.each([
    { bitDepth: 16, container: 'plain', channels: 1, sampleRateHz: 22050 },
    { bitDepth: 24, container: 'extensible', channels: 2, sampleRateHz: 48000 },
    { bitDepth: 24, container: 'rf64', channels: 2, sampleRateHz: 44100 },
    { bitDepth: 32, container: 'plain', channels: 2, sampleRateHz: 96000 },
    { bitDepth: 16, container: 'extensible', channels: 4, sampleRateHz: 48000 },
  ] as const)('opens in wavefile: %o', async (format) => {
    // Of an RF64 file wavefile takes all bytes to the end for samples, so nothing may follow them here.
    const plan = format.container === 'rf64' ? ({ ...KNOCK, division: 'gaps', embedded: {} } as const) : KNOCK;
    const { bytes, truth } = await renderFile({ ...plan, ...format }, 1);
    const read = readWav(bytes);
    expect(read.container).toBe(format.container === 'rf64' ? 'RF64' : 'RIFF');
    expect(read.fmt).toMatchObject({
      numChannels: format.channels,
      sampleRate: format.sampleRateHz,
      bitsPerSample: format.bitDepth,
      audioFormat: format.container === 'extensible' ? 0xfffe : format.bitDepth === 32 ? 3 : 1,
    });
    expect(framesOf(read)).toBe(Math.round((truth.lengthSeconds ?? 0) * format.sampleRateHz));
  });

  it('carries bext, keywords and labelled regions that agree with the truth', async () => {
    const { bytes, truth } = await renderFile(KNOCK, 1);
    const read = readWav(bytes);
    expect(withoutNul(read.bext.description)).toBe('Knocks on a plank');
    expect(withoutNul(read.bext.originator)).toBe('Tern field recorder');
    expect(read.bext).toMatchObject({
      originationDate: '2025-03-04',
      originationTime: '10:20:30',
      // 10 h 20 min 30 s after midnight, in samples.
      timeReference: [(10 * 3600 + 20 * 60 + 30) * 48000, 0],
    });
    // wavefile reads INFO only where no labels stand in another LIST chunk.
    const unmarked = readWav((await renderFile({ ...KNOCK, division: 'gaps' }, 1)).bytes);
    expect(unmarked.getTag('IKEY')).toBe('wood;struck;hit;dry');
    expect(unmarked.getTag('INAM')).toBe('Knocks');
    const cues = read.listCuePoints();
    expect(cues.map((cue) => cue.label)).toEqual(truth.sounds.map((one) => one.name));
    for (const [index, one] of truth.sounds.entries()) {
      expect(cues[index].position / 1000).toBeCloseTo(one.startSeconds, 2);
      expect((cues[index].end ?? 0) / 1000).toBeCloseTo(one.startSeconds + one.lengthSeconds + 0.3, 2);
    }
  });

  it('gives a pitched sound its root note and a loop its exact length', async () => {
    const only = sound("Ship's bell", -10, struck('shipsBell', 'steel', { maxSeconds: 0.8 }));
    const plan: AudioFilePlan = {
      ...KNOCK,
      division: 'single',
      floorDbfs: null,
      loopSeconds: bars(1, 96),
      sounds: [only],
    };
    const { bytes, truth } = await renderFile({ ...plan, embedded: { rootNote: true } }, 1);
    const read = readWav(bytes);
    const { dwMIDIUnityNote, dwMIDIPitchFraction, loops } = read.smpl;
    const semitones = dwMIDIUnityNote + dwMIDIPitchFraction / 2 ** 32;
    // ISO 16: A4 = 440 Hz, note 69.
    expect(440 * 2 ** ((semitones - 69) / 12)).toBeCloseTo(truth.sounds[0].pitchHz ?? 0, 3);
    // One bar of four at 96 lasts 2.5 s: 120,000 frames, the last one included in the loop.
    expect(framesOf(read)).toBe(120_000);
    expect(loops[0]).toMatchObject({ dwStart: 0, dwEnd: 119_999 });
  });
});

describe('other formats', () => {
  it('FLAC decodes to the samples its own MD5 promises (RFC 9639)', async () => {
    const plan: AudioFilePlan = { ...KNOCK, format: 'FLAC', path: 'session/knock.flac', bitDepth: 16 };
    const { bytes, truth } = await renderFile(plan, 1);
    const place = path.join(await mkdtemp(path.join(tmpdir(), 'demo-flac-')), 'knock.flac');
    await writeFile(place, bytes);
    const stream = await openAudio(place);
    const hash = createHash('md5');
    let frames = 0;
    for await (const block of stream.blocks()) {
      const samples = new Int16Array(2 * block[0].length);
      for (const [which, channel] of block.entries()) {
        for (const [index, value] of channel.entries()) samples[2 * index + which] = Math.round(value * 32768);
      }
      hash.update(new Uint8Array(samples.buffer));
      frames += block[0].length;
    }
    await stream.close();
    await rm(path.dirname(place), { recursive: true });
    expect(stream.warnings).toEqual([]);
    expect(frames).toBe(framesOfTruth(truth));
    const promised = Buffer.from(bytes.subarray(26, 42)).toString('hex');
    expect(hash.digest('hex')).toBe(promised);
    expect(Buffer.from(bytes).toString('latin1')).toContain('TITLE=Knocks');
  });

  it('MP3 and Ogg Vorbis decode to the length of the truth, within the codecs delay', async () => {
    const mp3 = await renderFile({ ...KNOCK, format: 'MP3', path: 'session/knock.mp3' }, 1);
    const mpeg = new MPEGDecoder();
    await mpeg.ready;
    const decodedMp3 = mpeg.decode(mp3.bytes);
    mpeg.free();
    const ogg = await renderFile({ ...KNOCK, format: 'Ogg Vorbis', path: 'session/knock.ogg' }, 1);
    const vorbis = new OggVorbisDecoder();
    await vorbis.ready;
    const decodedOgg = await vorbis.decodeFile(ogg.bytes);
    vorbis.free();
    // An MP3 encoder adds its delay and fills the last frame: at most 3 frames of 1152 samples.
    expect(decodedMp3.samplesDecoded - framesOfTruth(mp3.truth)).toBeGreaterThanOrEqual(0);
    expect(decodedMp3.samplesDecoded - framesOfTruth(mp3.truth)).toBeLessThan(3 * 1152);
    expect(decodedOgg.samplesDecoded).toBe(framesOfTruth(ogg.truth));
  });

  it('AIFF holds its frames, its rate as an 80-bit float, and big-endian samples equal to the WAV', async () => {
    const plan: AudioFilePlan = { ...KNOCK, sampleRateHz: 44100, bitDepth: 16, division: 'gaps', embedded: {} };
    const wav = await renderFile(plan, 1);
    const { bytes, truth } = await renderFile({ ...plan, format: 'AIFF' }, 1);
    const view = new DataView(bytes.buffer);
    const text = Buffer.from(bytes).toString('latin1');
    expect(text.slice(0, 4) + text.slice(8, 12)).toBe('FORMAIFF');
    const common = text.indexOf('COMM') + 8;
    expect(view.getUint32(common + 2)).toBe(framesOfTruth(truth));
    // 44100 as an 80-bit extended float begins 40 0E AC 44 (published in many AIFF readers' notes).
    expect(Buffer.from(bytes.subarray(common + 8, common + 12)).toString('hex')).toBe('400eac44');
    const big = Buffer.from(bytes.subarray(text.indexOf('SSND') + 16)).swap16();
    expect(big.equals(Buffer.from(wav.bytes.subarray(44)))).toBe(true);
    expect(truth.oddities).toEqual(['wrong-extension']);
  });
});

describe('faults and oddities of the written sessions', () => {
  const plans = planArchive(undefined, 1);

  it('every kind of fault the archive promises is what its samples show', async () => {
    const shown = new Set<string>();
    for (const plan of plans) {
      if (plan.kind !== 'audio' || (plan.faults ?? []).length === 0) continue;
      const { bytes, truth } = await renderFile(plan, 1);
      const [left, right] = channelsOf(readWav(bytes));
      for (const fault of truth.faults) {
        shown.add(fault);
        expect(showsFault(fault, left, right, truth), `${plan.path}: ${fault}`).toBe(true);
      }
    }
    expect([...shown].sort()).toEqual([
      ...['clipping', 'dc-offset', 'dead-channel', 'dropout', 'high-noise-floor', 'hum', 'inverted-channel'],
      ...['low-level', 'mono-as-stereo', 'silent', 'truncated-tail'],
    ]);
  });

  it('a duplicate repeats the samples of its original under other text', async () => {
    const copyPlan = plans.find((plan) => plan.kind === 'audio' && plan.audioOf !== undefined);
    const originalPlan = plans.find((plan) => copyPlan?.kind === 'audio' && plan.path === copyPlan.audioOf);
    if (copyPlan === undefined || originalPlan === undefined) throw new Error('no duplicate in the plan');
    const copy = await renderFile(copyPlan, 1);
    const original = await renderFile(originalPlan, 1);
    expect(readWav(copy.bytes).data.samples).toEqual(readWav(original.bytes).data.samples);
    expect(readWav(copy.bytes).getTag('INAM')).not.toBe(readWav(original.bytes).getTag('INAM'));
    expect(copy.truth.duplicateOf).toBe(originalPlan.path);
  });

  it('a file cut short holds fewer bytes than it claims, and its truth counts those that are there', async () => {
    const plan = plans.find((one) => one.kind === 'audio' && one.keptShare !== undefined);
    if (plan?.kind !== 'audio') throw new Error('no cut file in the plan');
    const { bytes, truth } = await renderFile(plan, 1);
    const view = new DataView(bytes.buffer);
    const frameBytes = (plan.channels * plan.bitDepth) / 8;
    expect(view.getUint32(4, true) + 8).toBeGreaterThan(bytes.length);
    expect((bytes.length - 44) / frameBytes).toBe(framesOfTruth(truth));
  });

  it('a text file says that it is none', async () => {
    const plan = plans.find((one) => one.kind === 'text');
    if (plan === undefined) throw new Error('no text file in the plan');
    const { bytes, truth } = await renderFile(plan, 1);
    expect(truth).toMatchObject({ error: 'not-audio', format: null, sounds: [] });
    expect(() => readWav(bytes)).toThrow();
  });
});

function showsFault(fault: string, left: Float64Array, right: Float64Array, truth: FileTruth): boolean {
  const peak = left.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  const mean = left.reduce((sum, value) => sum + value, 0) / left.length;
  const quiet = left.subarray(0, Math.floor((truth.sounds[0]?.startSeconds ?? 0) * (truth.sampleRateHz ?? 1)));
  const floor = 20 * Math.log10(Math.hypot(...quiet) / Math.sqrt(Math.max(1, quiet.length)));
  switch (fault) {
    case 'clipping':
      return left.filter((value) => Math.abs(value) > 0.9999).length > 100;
    case 'dc-offset':
      return Math.abs(mean) > 0.02;
    case 'dead-channel':
      return right.every((value) => value === 0) && peak > 0.01;
    case 'dropout':
      return longestZeros(left) > 0.02 * (truth.sampleRateHz ?? 1) && peak > 0.01;
    case 'high-noise-floor':
      return floor > -50;
    case 'hum':
      return peak > 0.01 && floor > -45;
    case 'inverted-channel':
      return left.every((value, index) => Math.abs(value + right[index]) < 1e-6) && peak > 0.01;
    case 'low-level':
      return peak < 10 ** (-40 / 20) && peak > 0;
    case 'mono-as-stereo':
      return left.every((value, index) => value === right[index]) && peak > 0.01;
    case 'silent':
      return peak === 0;
    case 'truncated-tail': {
      const last = left.subarray(-2000).reduce((most, value) => Math.max(most, Math.abs(value)), 0);
      return last > peak * 10 ** (-40 / 20);
    }
    default:
      return false;
  }
}

function longestZeros(samples: Float64Array): number {
  let longest = 0;
  let run = 0;
  for (const value of samples) {
    run = value === 0 ? run + 1 : 0;
    longest = Math.max(longest, run);
  }
  return longest;
}

function framesOfTruth(truth: FileTruth): number {
  return Math.round((truth.lengthSeconds ?? 0) * (truth.sampleRateHz ?? 0));
}

interface Cue {
  position: number;
  end?: number;
  label: string;
}

interface ReadWav {
  container: string;
  fmt: { numChannels: number; blockAlign: number };
  bext: { description: string; originator: string };
  smpl: { dwMIDIUnityNote: number; dwMIDIPitchFraction: number; loops: { dwStart: number; dwEnd: number }[] };
  data: { samples: Uint8Array };
  getTag(id: string): string | null;
  listCuePoints(): Cue[];
}

function withoutNul(text: string): string {
  return text.replaceAll('\0', '');
}

function readWav(bytes: Uint8Array): ReadWav {
  return new wavefile.WaveFile(bytes) as unknown as ReadWav;
}

function framesOf(read: ReadWav): number {
  return read.data.samples.length / read.fmt.blockAlign;
}

/** Left and right as -1..1, twice the same for mono; wavefile's own conversion takes seconds where this takes none. */
function channelsOf(read: ReadWav): [Float64Array, Float64Array] {
  const { numChannels, blockAlign } = read.fmt;
  const width = blockAlign / numChannels;
  const bytes = Buffer.from(read.data.samples);
  const frames = Math.floor(bytes.length / blockAlign);
  const channel = (which: number) =>
    Float64Array.from(
      { length: frames },
      (_, frame) => bytes.readIntLE(frame * blockAlign + which * width, width) / 2 ** (8 * width - 1),
    );
  return [channel(0), channel(numChannels - 1)];
}
