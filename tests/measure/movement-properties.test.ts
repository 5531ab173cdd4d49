/** What must hold whatever the sound: under gain, time reversal, resampling, block size; at the edges of what is a sound. */
import { describe, expect, it } from 'vitest';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { type Movement, measureMovement } from '../../shared/measure/movement.ts';
import { labelledSound } from './labelled-set.ts';
import { Random } from './random.ts';

function moved(channels: readonly Float32Array[], rate: number): Movement {
  const follower = new EnvelopeFollower(rate, channels.length);
  follower.push(channels);
  return measureMovement(follower.finish(), channels[0].length / rate);
}

/** One hit, swell, riser, drone, pulse, phrase and fade. */
const sounds = Array.from({ length: 7 }, (_, i) => labelledSound(9100 + i));

describe('gain', () => {
  it('changes nothing but the noise floor', () => {
    for (const { channels, sampleRateHz } of sounds) {
      const loud = moved(channels, sampleRateHz);
      const soft = moved(
        channels.map((samples) => samples.map((sample) => sample * 0.25)),
        sampleRateHz,
      );
      expect(soft.gesture).toBe(loud.gesture);
      expect(soft.climaxSeconds).toBeCloseTo(loud.climaxSeconds ?? -1, 3);
      expect(soft.activeSeconds).toBeCloseTo(loud.activeSeconds ?? -1, 2);
      expect(soft.temporalCentroid).toBeCloseTo(loud.temporalCentroid ?? -1, 3);
      expect(soft.accents.length).toBe(loud.accents.length);
      if (loud.noiseFloorDbfs !== null) expect(soft.noiseFloorDbfs).toBeCloseTo(loud.noiseFloorDbfs - 12.04, 1);
    }
  });
});

describe('time reversal', () => {
  it('mirrors the centroid and the active part of any sound', () => {
    for (const { channels, sampleRateHz } of sounds) {
      const forward = moved(channels, sampleRateHz);
      const backward = moved(
        channels.map((samples) => samples.slice().reverse()),
        sampleRateHz,
      );
      expect(backward.temporalCentroid).toBeCloseTo(1 - (forward.temporalCentroid ?? -1), 1);
      const length = channels[0].length / sampleRateHz;
      const end = length - (backward.activeStartSeconds ?? 0);
      expect(Math.abs(end - (forward.activeStartSeconds ?? 0) - (forward.activeSeconds ?? 0))).toBeLessThan(0.1);
    }
  });

  it('makes a riser of a hit, with the moment of the strike where the sound stops', () => {
    for (const [i, rate] of [44100, 48000, 96000].entries()) {
      const random = new Random(i + 50);
      const struckAt = Math.round(random.between(0.3, 0.8) * rate);
      const hit = Float32Array.from({ length: 2 * rate }, (_, k) =>
        k < struckAt ? 0 : 0.3 * random.normal() * Math.exp((struckAt - k) / (0.25 * rate)),
      );
      const forward = moved([hit], rate);
      const backward = moved([hit.slice().reverse()], rate);
      expect([forward.gesture, backward.gesture]).toEqual(['hit', 'riser']);
      expect(forward.climaxSeconds).toBeCloseTo(struckAt / rate, 2);
      expect(backward.climaxSeconds).toBeCloseTo(2 - struckAt / rate, 2);
    }
  });
});

describe('channels and blocks', () => {
  it('a mono sound measures the same as two equal channels, or with a dead channel beside it', () => {
    const { channels, sampleRateHz } = sounds[0];
    const mono = moved([channels[0]], sampleRateHz);
    expect(moved([channels[0], channels[0]], sampleRateHz)).toEqual(mono);
    expect(moved([channels[0], new Float32Array(channels[0].length)], sampleRateHz)).toEqual(mono);
  });

  it('the size of the blocks makes no difference', () => {
    const { channels, sampleRateHz } = sounds[5];
    const random = new Random(3);
    const follower = new EnvelopeFollower(sampleRateHz, channels.length);
    for (let at = 0; at < channels[0].length; ) {
      const next = at + Math.ceil(random.logBetween(1, 20000));
      follower.push(channels.map((samples) => samples.subarray(at, next)));
      at = next;
    }
    const whole = new EnvelopeFollower(sampleRateHz, channels.length);
    whole.push(channels);
    // The first guess at a constant offset sees the first 50 ms in both cases.
    expect(follower.finish()).toEqual(whole.finish());
  });
});

describe('no sound at all', () => {
  const nothing = {
    noiseFloorDbfs: null,
    activeStartSeconds: null,
    activeSeconds: null,
    attackSeconds: null,
    decaySeconds: null,
    temporalCentroid: null,
    climaxSeconds: null,
    accents: [],
    gesture: null,
    contour: new Array(64).fill(0),
    pulseBpm: null,
    tremoloHz: null,
  };

  it.each([0, 1, 3, 48000])('%i frames of silence', (frames) => {
    expect(moved([new Float32Array(frames)], 48000)).toEqual(nothing);
  });

  it('a constant offset, and one frame or three of it', () => {
    for (const frames of [1, 3, 48000]) expect(moved([new Float32Array(frames).fill(0.4)], 48000)).toEqual(nothing);
  });

  it('half an hour of silence', () => {
    const follower = new EnvelopeFollower(48000, 2);
    const block = new Float32Array(65536);
    for (let frames = 0; frames < 30 * 60 * 48000; frames += block.length) follower.push([block, block]);
    expect(measureMovement(follower.finish(), 1800)).toEqual(nothing);
  });
});

describe('whatever comes in', () => {
  it('only finite numbers come out: short, clipped, broken and huge samples', () => {
    const random = new Random(77);
    for (let round = 0; round < 60; round++) {
      const rate = random.pick([8000, 22050, 44100, 192000]);
      const frames = Math.floor(random.logBetween(1, 40000));
      const loudness = random.logBetween(1e-7, 1e6);
      const channel = (): Float32Array =>
        Float32Array.from({ length: frames }, () => {
          if (random.chance(0.001)) return random.pick([Number.NaN, Infinity, -Infinity]);
          return random.normal() * loudness * (random.chance(0.2) ? 0 : 1);
        });
      const found = moved(Array.from({ length: random.whole(1, 3) }, channel), rate);
      const seconds = frames / rate;
      const { accents, contour, gesture, ...numbers } = found;
      for (const [name, value] of Object.entries(numbers)) {
        if (value !== null) expect(Number.isFinite(value), `${name} ${value}`).toBe(true);
      }
      for (const value of contour) expect(value >= 0 && value <= 1).toBe(true);
      for (const accent of accents) {
        expect(accent.seconds >= 0 && accent.seconds <= seconds && Number.isFinite(accent.strengthDb)).toBe(true);
      }
      if (gesture !== null) {
        expect(found.temporalCentroid).toBeGreaterThanOrEqual(0);
        expect(found.temporalCentroid).toBeLessThanOrEqual(1);
        expect((found.activeStartSeconds ?? -1) + (found.activeSeconds ?? -1)).toBeLessThanOrEqual(seconds + 1e-9);
      }
    }
  });
});
