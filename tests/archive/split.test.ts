/** Cutting by silence: recordings put together from known sounds, so that every take is known by construction. */
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { beforeAll, describe, expect, it } from 'vitest';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { mayHideTakes } from '../../scripts/archive/sounds.ts';
import { type Region, SPLIT_DEFAULTS, splitTakes } from '../../scripts/archive/split.ts';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { Random } from '../measure/random.ts';
import { roomNoise, struck, sustained } from '../measure/sources.ts';
import { recordSession, type Session, type Sound } from './session-recording.ts';

const RATE = 44100;

/** One-shots of supersonic-scsynth-samples (CC0): no loops, and nothing whose name says it fills its file as a bed. */
const FOLDER = 'node_modules/supersonic-scsynth-samples/samples';
const ONE_SHOTS = readdirSync(FOLDER)
  .filter((name) => name.endsWith('.flac') && !/^(loop|arovane|vinyl_hiss|tbd_fxbed|ambi_sauna|ambi_drone)/.test(name))
  .filter((_, i) => i % 5 < 2);

function split({ envelope, totalFrames }: Session): Region[] {
  return splitTakes(envelope, [], totalFrames);
}

interface Score {
  takes: number;
  startsRight: number;
  cutInTwo: string[];
  joined: string[];
  missed: string[];
  invented: number;
}

/** A start is right from 50 ms before the sound was laid (the documented pre-roll is less) to 50 ms after it is audible. */
function scored(session: Session, regions: readonly Region[]): Score {
  const tolerance = 0.05 * session.envelope.sampleRateHz;
  const score: Score = {
    takes: session.takes.length,
    startsRight: 0,
    cutInTwo: [],
    joined: [],
    missed: [],
    invented: 0,
  };
  const meets = (region: Region, take: Session['takes'][number]): boolean =>
    region.startFrame < take.endFrame && region.endFrame > take.audibleFrame;
  for (const take of session.takes) {
    const own = regions.filter((region) => meets(region, take));
    if (own.length === 0) score.missed.push(take.name);
    if (own.length > 1) score.cutInTwo.push(take.name);
    if (own.some((region) => session.takes.some((other) => other !== take && meets(region, other)))) {
      score.joined.push(take.name);
    }
    const start = own[0]?.startFrame ?? Number.NEGATIVE_INFINITY;
    if (start >= take.laidFrame - tolerance && start <= take.audibleFrame + tolerance) score.startsRight++;
  }
  score.invented = regions.filter((region) => !session.takes.some((take) => meets(region, take))).length;
  return score;
}

describe('a session of real one-shots', () => {
  const sounds: Sound[] = [];
  beforeAll(async () => {
    for (const name of ONE_SHOTS) {
      const stream = await openAudio(join(FOLDER, name));
      if (stream.format.sampleRateHz === RATE) {
        const samples = new Float32Array(stream.format.frames ?? 0);
        let at = 0;
        for await (const [left] of stream.blocks()) {
          samples.set(left, at);
          at += left.length;
        }
        sounds.push({ name, samples });
      }
      await stream.close();
    }
  }, 60_000);

  it.each([-90, -75, -60, -50, -45])(
    'room noise of %i dBFS that drifts by 6 dB: 98 of 100 starts right, none cut in two',
    (roomDbfs) => {
      expect(sounds.length).toBeGreaterThanOrEqual(60);
      const random = new Random(900 + roomDbfs);
      const session = recordSession(random, sounds, {
        rate: RATE,
        roomDbfs,
        pauseSeconds: [1, 2.5],
        driftDb: random.between(-6, 6),
      });
      const score = scored(session, split(session));
      expect(score.cutInTwo).toEqual([]);
      expect(score.joined).toEqual([]);
      expect(score.missed).toEqual([]);
      expect(score.invented).toBeLessThanOrEqual(1);
      expect(score.startsRight / score.takes).toBeGreaterThanOrEqual(0.98);
    },
  );

  it('digital silence between them', () => {
    const session = recordSession(new Random(31), sounds, { rate: RATE, roomDbfs: null, pauseSeconds: [1, 2] });
    const score = scored(session, split(session));
    expect([score.cutInTwo, score.joined, score.missed]).toEqual([[], [], []]);
    expect(score.startsRight).toBe(score.takes);
  });

  it('each alone is one region, the whole file, tails and all', () => {
    for (const { name, samples } of sounds) {
      const follower = new EnvelopeFollower(RATE, 1);
      follower.push([samples]);
      const whole = { startFrame: 0, endFrame: samples.length, label: null, note: null, reason: 'whole' };
      expect(splitTakes(follower.finish(), [], samples.length), name).toEqual([whole]);
    }
  });
});

describe('what belongs together stays together', () => {
  const random = new Random(12);
  const strike = (dying = 0.3): Float32Array => struck(random, 'white noise', RATE, 0.002, dying);

  function laid(seconds: number, parts: readonly (readonly [number, Float32Array])[], name: string): Sound {
    const samples = new Float32Array(Math.round(seconds * RATE));
    for (const [at, part] of parts) {
      const frame = Math.round(at * RATE);
      for (let i = 0; i < part.length && frame + i < samples.length; i++) samples[frame + i] += part[i] * 0.3;
    }
    return { name, samples };
  }

  const tick = strike(0.08);
  const sounds: Sound[] = [
    laid(
      3,
      Array.from({ length: 6 }, (_, n) => [n * 0.5, tick] as const),
      'pulse with short gaps',
    ),
    laid(
      8,
      Array.from({ length: 7 }, (_, n) => [n * 1.2, tick] as const),
      'pulse slower than the gap rule',
    ),
    laid(
      2.5,
      [
        [0, strike(0.1)],
        [0.6, strike(0.15)],
        [1.1, strike(0.2)],
        [1.7, strike()],
      ],
      'phrase with pauses of 0.5 s',
    ),
    laid(
      1,
      [
        [0, strike()],
        [0.15, strike()],
      ],
      'double hit',
    ),
    {
      name: 'riser from nothing',
      samples: sustained(random, 'coloured noise', 4 * RATE, RATE).map((x, i) => x * 0.3 * (i / (4 * RATE)) ** 2),
    },
    { name: 'long decay', samples: struck(random, 'struck plate', RATE, 0.002, 6) },
  ];

  it.each([-90, -70, -55, -45])('in a room of %i dBFS', (roomDbfs) => {
    const session = recordSession(random, [...sounds, ...sounds], {
      rate: RATE,
      roomDbfs,
      pauseSeconds: [1.5, 4],
      peakDbfs: [-6, -3],
    });
    const score = scored(session, split(session));
    expect([score.cutInTwo, score.joined, score.missed]).toEqual([[], [], []]);
    expect(score.startsRight).toBe(score.takes);
  });

  it('a decay lasts until it has met the room', () => {
    const session = recordSession(random, [sounds[5], sounds[3], sounds[5]], {
      rate: RATE,
      roomDbfs: -60,
      pauseSeconds: [2, 3],
    });
    split(session).forEach((region, i) => {
      const late = (region.endFrame - session.takes[i].endFrame) / RATE;
      expect(late).toBeGreaterThan(-0.1);
      expect(late).toBeLessThan(1);
    });
  });

  it.each([0.05, 0.3, 1])('fades of %d s at the ends of the recording change nothing', (fadeSeconds) => {
    const session = recordSession(random, [sounds[3], sounds[5], sounds[2], sounds[3]], {
      rate: RATE,
      roomDbfs: -62,
      pauseSeconds: [2, 3],
      fadeSeconds,
    });
    const score = scored(session, split(session));
    expect([score.cutInTwo, score.joined, score.missed, score.invented]).toEqual([[], [], [], 0]);
    expect(score.startsRight).toBe(score.takes);
  });

  it('the gap rule can be set: half a second cuts the phrase', () => {
    const session = recordSession(random, [sounds[2]], { rate: RATE, roomDbfs: -80, pauseSeconds: [2, 2] });
    const regions = splitTakes(session.envelope, [], session.totalFrames, { leastPauseSeconds: 0.3 });
    expect(regions.length).toBe(4);
  });
});

describe('a room that never rests', () => {
  /** A hiss that swells and falls by 14 dB five times a second, as crickets and some birds do. */
  function crickets(random: Random, frames: number): Float32Array {
    return Float32Array.from(
      { length: frames },
      (_, i) => random.normal() * 10 ** ((7 * Math.sin((2 * Math.PI * 5 * i) / RATE)) / 20),
    );
  }

  it.each([-65, -50])('crickets of %i dBFS: each take is cut out by itself', (roomDbfs) => {
    const random = new Random(77);
    const takes = 12;
    const starts: number[] = [];
    const mix = crickets(random, 40 * RATE).map((x) => x * 10 ** (roomDbfs / 20));
    for (let take = 0; take < takes; take++) {
      const hit = struck(random, 'struck plate', RATE, 0.002, 0.8);
      const at = Math.round((1 + 3.2 * take + random.between(0, 0.6)) * RATE);
      starts.push(at);
      for (let i = 0; i < hit.length; i++) mix[at + i] += 0.4 * hit[i];
    }
    const follower = new EnvelopeFollower(RATE, 1);
    follower.push([mix]);
    const regions = splitTakes(follower.finish(), [], mix.length);
    for (const start of starts) {
      const own = regions.filter((region) => region.startFrame <= start + 0.05 * RATE && region.endFrame > start);
      expect(own).toHaveLength(1);
      expect(starts.filter((other) => other >= own[0].startFrame - 0.05 * RATE && other < own[0].endFrame)).toEqual([
        start,
      ]);
      expect((start - own[0].startFrame) / RATE).toBeLessThanOrEqual(0.05);
    }
    expect(regions.length).toBe(takes);
  });

  it('by itself it is one sound; where events are hidden in it that is noticed, and not in a drone or a short loop', () => {
    const random = new Random(78);
    const envelopeOf = (samples: Float32Array) => {
      const follower = new EnvelopeFollower(RATE, 1);
      follower.push([samples]);
      return follower.finish();
    };
    const alone = envelopeOf(crickets(random, 30 * RATE).map((x) => 0.03 * x));
    expect(splitTakes(alone, [], 30 * RATE)).toHaveLength(1);
    const drone = envelopeOf(sustained(random, 'chord', 30 * RATE, RATE).map((x) => 0.1 * x));
    const hidden = crickets(random, 30 * RATE).map((x) => 0.03 * x);
    for (let take = 0; take < 8; take++) {
      const hit = struck(random, 'struck plate', RATE, 0.002, 0.8);
      for (let i = 0; i < hit.length; i++) hidden[Math.round((1 + 3.4 * take) * RATE) + i] += 0.7 * hit[i];
    }
    const short = hidden.subarray(0, 15 * RATE);
    expect(splitTakes(envelopeOf(hidden), [], hidden.length)).toHaveLength(1);
    expect([hidden, short].map((samples) => mayHideTakes(envelopeOf(samples)))).toEqual([true, false]);
    expect(mayHideTakes(drone)).toBe(false);
  });
});

describe('one region, the whole', () => {
  function regionsOf(samples: Float32Array): Region[] {
    const follower = new EnvelopeFollower(RATE, 1);
    follower.push([samples]);
    return splitTakes(follower.finish(), [], samples.length);
  }

  it('silence, room noise alone, a steady drone, an empty file', () => {
    const random = new Random(41);
    for (const samples of [
      new Float32Array(5 * RATE),
      roomNoise(random, 60 * RATE, RATE, 0.001),
      sustained(random, 'chord', 30 * RATE, RATE).map((x) => x * 0.1),
      new Float32Array(0),
      new Float32Array(1).fill(0.5),
    ]) {
      expect(regionsOf(samples)).toEqual([
        { startFrame: 0, endFrame: samples.length, label: null, note: null, reason: 'whole' },
      ]);
    }
  });

  it('half an hour of silence', () => {
    const follower = new EnvelopeFollower(48000, 1);
    const block = new Float32Array(65536);
    let frames = 0;
    for (; frames < 30 * 60 * 48000; frames += block.length) follower.push([block]);
    const regions = splitTakes(follower.finish(), [], frames);
    expect(regions).toEqual([{ startFrame: 0, endFrame: frames, label: null, note: null, reason: 'whole' }]);
  });
});

it('regions lie inside the file, in order, and cut by silence never overlap', () => {
  const random = new Random(99);
  for (let round = 0; round < 20; round++) {
    const sounds = Array.from({ length: random.whole(1, 6) }, (_, i) => ({
      name: `${i}`,
      samples: struck(
        random,
        random.pick(['white noise', 'tone', 'thud'] as const),
        RATE,
        0.003,
        random.logBetween(0.05, 1),
      ),
    }));
    const session = recordSession(random, sounds, {
      rate: RATE,
      roomDbfs: random.chance(0.3) ? null : random.between(-90, -45),
      pauseSeconds: [0.05, 2],
    });
    const regions = split(session);
    regions.forEach(({ startFrame, endFrame }, i) => {
      expect(startFrame).toBeGreaterThanOrEqual(regions[i - 1]?.endFrame ?? 0);
      expect(endFrame).toBeGreaterThan(startFrame);
      expect(endFrame).toBeLessThanOrEqual(session.totalFrames);
    });
  }
  expect(SPLIT_DEFAULTS.preRollSeconds).toBeLessThanOrEqual(0.05);
});
