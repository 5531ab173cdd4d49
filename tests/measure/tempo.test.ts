/** When a tempo is named: rows of strikes whose times are chosen, so that the answer is known by thought. */
import { describe, expect, test } from 'vitest';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { type Movement, measureMovement } from '../../shared/measure/movement.ts';
import { pulseOf, tremoloOf } from '../../shared/measure/periodicity.ts';
import { Random } from './random.ts';

const RATE = 48_000;

/** Clicks of noise that die away in 60 ms, each at its level, in a sound of the given length. */
function clicks(strikes: readonly { seconds: number; level: number }[], lengthSeconds: number): Movement {
  const random = new Random(5);
  const samples = new Float32Array(Math.round(lengthSeconds * RATE));
  for (const { seconds, level } of strikes) {
    const first = Math.round(seconds * RATE);
    for (let n = first; n < Math.min(samples.length, first + 0.12 * RATE); n++) {
      samples[n] += level * 0.3 * random.normal() * Math.exp(-(n - first) / (0.015 * RATE));
    }
  }
  const follower = new EnvelopeFollower(RATE, 1);
  follower.push([samples]);
  return measureMovement(follower.finish(), lengthSeconds);
}

const even = (count: number, period: number) =>
  Array.from({ length: count }, (_, i) => ({ seconds: 0.01 + i * period, level: 1 }));

test('four even strikes have a tempo, three have none', () => {
  expect(clicks(even(4, 0.5), 2.2).pulseBpm).toBeCloseTo(120, 0);
  expect(clicks(even(3, 0.5), 1.7).pulseBpm).toBeNull();
});

describe('a loop', () => {
  /** Sixteenths at `bpm`, the beats louder, cut to whole beats. */
  const loop = (bpm: number, beats: number, levels: readonly number[]) => {
    const step = 60 / bpm / 4;
    const strikes = Array.from({ length: beats * 4 }, (_, i) => ({
      seconds: i * step,
      level: levels[i % levels.length],
    }));
    return clicks(
      strikes.filter(({ level }) => level > 0),
      (beats * 60) / bpm,
    );
  };

  test('of two beats has no tempo, of four it has', () => {
    expect(loop(130, 2, [1, 0.2, 0.5, 0.2]).pulseBpm).toBeNull();
    expect(loop(130, 4, [1, 0.2, 0.5, 0.2]).pulseBpm).toBeCloseTo(130, 0);
  });

  test('is never read at two thirds or four thirds of its tempo', () => {
    // Where all strikes are alike, only the rate to which people tap speaks, and for 168 it speaks for 112.
    for (const levels of [[1, 0.25, 0.4, 0.25], [1]]) {
      for (const bpm of [90, 120, 140, 168, 174]) {
        const { pulseBpm } = loop(bpm, 12, levels);
        if (pulseBpm === null) continue;
        const isOctave = [0.5, 1, 2].some((times) => Math.abs(pulseBpm / bpm / times - 1) < 0.01);
        expect(isOctave, `${pulseBpm} for ${bpm}`).toBe(true);
      }
    }
  });

  test('of even, alike strikes that could be beat or half a beat has no tempo', () => {
    // 0.3536 s and 0.7071 s lie equally far from the preferred half second, in octaves.
    const grid = Math.SQRT1_2 / 4;
    const strikes = Array.from({ length: 64 }, (_, i) => ({
      seconds: i * grid,
      strengthDb: 10,
      liftDb: 10,
      peakPower: 1,
      topsBand: false,
      step: i,
    }));
    const pulse = pulseOf(strikes, [], 64 * grid);
    expect(pulse?.isTempo).toBe(false);
  });
});

describe('a tremolo', () => {
  const STEP_SECONDS = 0.005;
  const amplitude = (lines: readonly [number, number][]) =>
    Float64Array.from({ length: 1_000 }, (_, n) =>
      lines.reduce((sum, [hz, depth]) => sum + depth * Math.sin(2 * Math.PI * hz * n * STEP_SECONDS + hz), 1),
    );

  test('is the strongest line, also with an overtone as strong as itself', () => {
    expect(
      tremoloOf(
        amplitude([
          [5, 0.2],
          [7.3, 0.1],
        ]),
        STEP_SECONDS,
      )?.hertz,
    ).toBeCloseTo(5, 1);
    expect(
      tremoloOf(
        amplitude([
          [3, 0.2],
          [6, 0.18],
        ]),
        STEP_SECONDS,
      )?.hertz,
    ).toBeCloseTo(3, 1);
  });

  test('is none where two lines are as strong', () => {
    expect(
      tremoloOf(
        amplitude([
          [5, 0.2],
          [7.3, 0.19],
        ]),
        STEP_SECONDS,
      ),
    ).toBeNull();
  });
});
