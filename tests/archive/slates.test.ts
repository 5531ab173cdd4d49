/**
 * Spoken slates. The voices are synthesised from published formants (scripts/demo/synth/voice.ts: Peterson & Barney 1952,
 * Klatt 1980); what must not be taken for speech is real: all sounds of supersonic-scsynth-samples (CC0) and of a piano.
 */
import { mkdtemp, readdir, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Marker } from '../../scripts/archive/audio-stream.ts';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { processFile } from '../../scripts/archive/process-file.ts';
import { asVoice, type SlatedRegion, withSlates } from '../../scripts/archive/slates.ts';
import { splitTakes } from '../../scripts/archive/split.ts';
import { playWater } from '../../scripts/demo/sources/water.ts';
import { createRandom } from '../../scripts/demo/synth/random.ts';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { Random } from '../measure/random.ts';
import { PIANO, SAMPLES } from '../measure/recordings.ts';
import { roomNoise, struck } from '../measure/sources.ts';
import { chunk, riff, u16, waveFormat } from './bytes.ts';
import { recordSlated, type SlatePlan } from './slated-recording.ts';

const RATE = 44_100;
const SLATES = 64;
const TOLERANCE_SECONDS = 0.1;
const LONGEST_SECONDS = 6;

interface Real {
  name: string;
  rate: number;
  samples: Float32Array;
}

let sounds: Real[];
let piano: Real[];
beforeAll(async () => {
  sounds = await readAll(SAMPLES, '.flac');
  piano = await readAll(PIANO, '.ogg');
}, 60_000);

async function readAll(folder: string, extension: string): Promise<Real[]> {
  const all: Real[] = [];
  for (const name of (await readdir(folder)).filter((file) => file.endsWith(extension)).sort()) {
    const stream = await openAudio(join(folder, name));
    const parts: Float32Array[] = [];
    const range = { startFrame: 0, endFrame: LONGEST_SECONDS * stream.format.sampleRateHz };
    for await (const [left] of stream.blocks(range)) parts.push(left);
    const samples = new Float32Array(parts.reduce((frames, part) => frames + part.length, 0));
    let at = 0;
    for (const part of parts) {
      samples.set(part, at);
      at += part.length;
    }
    all.push({ name, rate: stream.format.sampleRateHz, samples });
    await stream.close();
  }
  return all;
}

async function takesOf(samples: Float32Array, markers: readonly Marker[] = [], rate = RATE): Promise<SlatedRegion[]> {
  const follower = new EnvelopeFollower(rate, 1);
  follower.push([samples]);
  const envelope = follower.finish();
  const regions = splitTakes(envelope, markers, samples.length);
  return withSlates(regions, envelope, samples.length, ({ startFrame, endFrame }) =>
    asVoice([[samples.subarray(startFrame, endFrame)]], rate),
  );
}

const isBed = (name: string): boolean => /^(loop|arovane|vinyl_hiss|tbd_fxbed|ambi_sauna|ambi_drone)/.test(name);

function planOf(random: Random, i: number): SlatePlan {
  return {
    rate: RATE,
    speaker: i % 2 === 0 ? 'man' : 'woman',
    seed: `slate ${i}`,
    roomDbfs: random.between(-70, -45),
    voicePeakDbfs: random.between(-20, -6),
    soundPeakDbfs: random.between(-20, -1),
    pauseSeconds: random.logBetween(0.2, 3),
  };
}

/** Takes of one session: a slate must recur. */
const SESSION_TAKES = 4;

describe('slates before real one-shots, in room noise of -70 to -45 dBFS', () => {
  it('9 of 10 are found with their end within 100 ms, each kept with its take', async () => {
    const random = new Random(5);
    const oneShots = sounds.filter(({ name, rate }) => rate === RATE && !isBed(name));
    expect(oneShots.length).toBeGreaterThan(60);
    let found = 0;
    for (let session = 0; session < SLATES / SESSION_TAKES; session++) {
      const takes = Array.from({ length: SESSION_TAKES }, () => random.pick(oneShots).samples);
      const { samples, takes: laid } = recordSlated(random, takes, planOf(random, session));
      const regions = await takesOf(samples);
      for (const { slateEndSeconds, soundFrame } of laid) {
        const own = regions.find(({ startFrame, endFrame }) => startFrame < soundFrame && endFrame > soundFrame);
        const slate = own?.slate ?? null;
        if (slate === null || Math.abs(slate.endFrame / RATE - slateEndSeconds) > TOLERANCE_SECONDS) continue;
        found++;
        expect(slate.resumeFrame).toBeGreaterThanOrEqual(slate.endFrame);
        expect(slate.resumeFrame).toBeLessThanOrEqual(soundFrame + 0.02 * RATE);
      }
    }
    expect(found / SLATES).toBeGreaterThanOrEqual(0.9);
  }, 60_000);
});

describe('what is no speech', () => {
  it('no real sound by itself is taken for a slate', async () => {
    expect(sounds.length + piano.length).toBeGreaterThan(150);
    const wrong: string[] = [];
    for (const { name, samples, rate } of [...sounds, ...piano]) {
      if ((await takesOf(samples, [], rate)).some(({ slate }) => slate !== null)) wrong.push(name);
    }
    expect(wrong).toEqual([]);
  }, 60_000);

  it('nor, but for 1 in 100, are real sounds thrown together with pauses as between words', async () => {
    const random = new Random(3);
    let takes = 0;
    let wrong = 0;
    for (let session = 0; session < 16; session++) {
      const parts: { frame: number; samples: Float32Array; gain: number }[] = [];
      let frame = RATE / 2;
      for (let k = 0; k < 12; k++) {
        const { samples } = random.pick(session % 4 === 3 ? piano : sounds);
        const part = samples.slice(0, Math.round(random.logBetween(0.15, 3) * RATE));
        for (let i = 0; i < 2000 && i < part.length; i++) part[part.length - 1 - i] *= i / 2000;
        const peak = part.reduce((most, x) => Math.max(most, Math.abs(x)), 1e-9);
        parts.push({ frame, samples: part, gain: 10 ** (random.between(-20, -1) / 20) / peak });
        frame += part.length + Math.round(random.logBetween(0.05, 3) * RATE);
      }
      const mix = roomNoise(random, frame + RATE, RATE, 10 ** (random.between(-70, -45) / 20));
      for (const { frame, samples, gain } of parts) {
        for (let i = 0; i < samples.length; i++) mix[frame + i] += gain * samples[i];
      }
      const regions = await takesOf(mix);
      takes += regions.length;
      wrong += regions.filter(({ slate }) => slate !== null).length;
    }
    expect(takes).toBeGreaterThan(60);
    expect(wrong / takes).toBeLessThanOrEqual(0.01);
  }, 60_000);

  it('nor is bubbling water, though it glides and babbles as a voice does', async () => {
    const random = new Random(12);
    let wrong = 0;
    for (let session = 0; session < 80; session++) {
      const { channels } = playWater(
        {
          kind: 'water',
          what: 'bubbles',
          size: random.logBetween(0.7, 2.5),
          shape: { kind: random.pick(['drone', 'fade', 'swell'] as const), seconds: random.between(1.2, 3) },
        },
        { rateHz: RATE, channels: 1, random: createRandom(`water ${session}`), making: createRandom('water') },
      );
      const [water] = channels;
      const hit = struck(random, 'struck plate', RATE, 0.002, 0.8);
      const samples = roomNoise(random, 6 * RATE, RATE, 10 ** (random.between(-70, -50) / 20));
      for (let i = 0; i < water.length; i++) samples[RATE / 2 + i] += 0.3 * water[i];
      for (let i = 0; i < hit.length; i++) samples[4.6 * RATE + i] += 0.3 * hit[i];
      if ((await takesOf(samples)).some(({ slate }) => slate !== null)) wrong++;
    }
    expect(wrong).toBe(0);
  }, 60_000);
});

describe('a slate and its take', () => {
  const random = new Random(21);
  const hit = struck(random, 'struck plate', RATE, 0.002, 0.8);
  const plan: SlatePlan = {
    rate: RATE,
    speaker: 'woman',
    seed: 'a slate',
    roomDbfs: -65,
    voicePeakDbfs: -12,
    soundPeakDbfs: -6,
    pauseSeconds: 1.5,
  };

  it('every take of a session has its own slate', async () => {
    const { samples, takes: laid } = recordSlated(random, [hit, hit, hit, hit], plan);
    const takes = await takesOf(samples);
    expect(takes.map(({ slate }) => slate !== null)).toEqual([true, true, true, true]);
    for (const [i, { slate }] of takes.entries()) {
      expect(Math.abs((slate?.endFrame ?? 0) / RATE - laid[i].slateEndSeconds)).toBeLessThanOrEqual(TOLERANCE_SECONDS);
    }
  });

  it('a slate before a marked take is joined to it', async () => {
    const {
      samples,
      takes: [{ soundFrame, slateEndSeconds }],
    } = recordSlated(random, [hit], plan);
    const marker = { startFrame: soundFrame, lengthFrames: hit.length, label: 'Gong low', note: null };
    const takes = await takesOf(samples, [marker]);
    expect(takes).toHaveLength(1);
    expect(takes[0]).toMatchObject({ label: 'Gong low', endFrame: soundFrame + hit.length, reason: 'marker' });
    expect(takes[0].startFrame / RATE).toBeLessThan(slateEndSeconds - 0.5);
  });

  it('a voice with nothing after it is a sound of its own', async () => {
    const {
      samples,
      takes: [{ slateEndSeconds }],
    } = recordSlated(random, [hit], plan);
    const takes = await takesOf(samples.slice(0, Math.round((slateEndSeconds + 1) * RATE)));
    expect(takes.map(({ slate }) => slate)).toEqual([null]);
  });
});

describe('a file with a slate, as it is measured', () => {
  let folder: string;
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'takeshelf-slates-'));
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));

  async function write(name: string, samples: Float32Array): Promise<string> {
    const data = Array.from(samples).flatMap((x) => u16(Math.round(x * 32_767) & 0xffff));
    const path = join(folder, name);
    await writeFile(path, riff([waveFormat({ rate: RATE }), chunk('data', data)]));
    return path;
  }

  it('what is measured is the take, as if nobody had spoken; times count from where the voice begins', async () => {
    // A3 that dies 60 dB in 1.2 s.
    const hit = Float32Array.from({ length: 1.3 * RATE }, (_, i) => {
      const phase = (2 * Math.PI * 220 * i) / RATE;
      return (
        (Math.sin(phase) + 0.5 * Math.sin(2 * phase) + 0.3 * Math.sin(3 * phase)) * 10 ** ((-3 * i) / (1.2 * RATE))
      );
    });
    const {
      samples,
      takes: [{ slateEndSeconds, soundFrame }],
    } = recordSlated(new Random(8), [hit], {
      rate: RATE,
      speaker: 'man',
      seed: 'measured',
      roomDbfs: -66,
      voicePeakDbfs: -3,
      soundPeakDbfs: -9,
      pauseSeconds: 1,
    });
    const [take] = (await processFile(await write('slated.wav', samples))).takes;
    const [alone] = (await processFile(await write('alone.wav', samples.slice(soundFrame - 0.3 * RATE)))).takes;
    const startSeconds = take.startFrame / RATE;
    const delay = soundFrame / RATE - 0.3 - startSeconds;
    const { measurements } = take;
    expect(measurements.slateEndSeconds).toBeCloseTo(slateEndSeconds - startSeconds, 1);
    expect(measurements.durationSeconds).toBeCloseTo((take.endFrame - take.startFrame) / RATE, 6);
    const { climaxSeconds, activeStartSeconds, accents, contour, faultDetails, ...m } = measurements;
    const expected = alone.measurements;
    expect(climaxSeconds).toBeCloseTo((expected.climaxSeconds ?? -1) + delay, 2);
    expect(activeStartSeconds).toBeCloseTo((expected.activeStartSeconds ?? -1) + delay, 2);
    expect(m.activeSeconds).toBeCloseTo(expected.activeSeconds ?? -1, 1);
    expect(accents.length).toBe(expected.accents.length);
    expect([m.gesture, m.note]).toEqual([expected.gesture, 'A3']);
    expect(m.samplePeakDbfs).toBeCloseTo(expected.samplePeakDbfs ?? 0, 3);
    expect(m.momentaryMaxLufs).toBeCloseTo(expected.momentaryMaxLufs ?? 0, 1);
    expect((m.centroidHz ?? 0) / (expected.centroidHz ?? 1)).toBeCloseTo(1, 2);
    expect(m.noiseFloorDbfs).toBeCloseTo(-66, 0);
    const silent = Math.floor(((slateEndSeconds - startSeconds) / measurements.durationSeconds) * contour.length);
    expect(Math.max(...contour.slice(0, silent))).toBe(0);
    expect(Math.max(...contour)).toBe(1);
    expect(faultDetails.filter(({ kind }) => kind === 'spoken-slate')).toEqual([
      {
        kind: 'spoken-slate',
        severity: 'note',
        seconds: 0,
        message: `A voice speaks before it, until ${measurements.slateEndSeconds?.toFixed(1)} s.`,
      },
    ]);
  });

  it('a take set by hand keeps its bounds, and its slate if there is one within', async () => {
    const hit = struck(new Random(4), 'thud', RATE, 0.002, 0.6);
    const {
      samples,
      takes: [{ slateEndSeconds, soundFrame }],
    } = recordSlated(new Random(9), [hit], {
      rate: RATE,
      speaker: 'woman',
      seed: 'by hand',
      roomDbfs: -60,
      voicePeakDbfs: -10,
      soundPeakDbfs: -6,
      pauseSeconds: 2,
    });
    const path = await write('by hand.wav', samples);
    const { audio } = await processFile(path);
    const set = async (...takes: [number, number][]) => {
      const correction = {
        takes: takes.map(([start, end]) => ({ start, end, name: null })),
        places: takes.map(() => ''),
      };
      const result = await processFile(path, { corrections: new Map([[audio, correction]]) });
      return result.takes.map(({ startFrame, endFrame, measurements }) => ({
        start: startFrame / RATE,
        end: endFrame / RATE,
        slated: measurements.slateEndSeconds !== null,
      }));
    };
    const middle = Number(((slateEndSeconds + soundFrame / RATE) / 2).toFixed(2));
    const end = Number((samples.length / RATE - 0.1).toFixed(2));
    expect(await set([0, middle], [middle, end])).toEqual([
      { start: 0, end: middle, slated: false },
      { start: middle, end, slated: false },
    ]);
    expect(await set([0, end])).toEqual([{ start: 0, end, slated: true }]);
  });
});
