/** Sounds put together from known parts, kept in eight bits: coarse steps are neither a fault nor another sound. */
import { expect, test } from 'vitest';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { LevelMeter } from '../../shared/measure/levels.ts';
import { measureMovement } from '../../shared/measure/movement.ts';
import { SignalWatch } from '../../shared/measure/signal-watch.ts';
import { inEightBits, labelledSound } from './labelled-set.ts';

const FIRST_SEED = 12_000;
const SOUNDS = 60;
const sounds = Array.from({ length: SOUNDS }, (_, i) => labelledSound(FIRST_SEED + i));

test('nothing is missing from them, and nothing is clipped, however quiet, in a file of 8 bits or of 16', () => {
  for (const { seed, channels, sampleRateHz } of sounds) {
    for (const peakSteps of [3, 12, 50]) {
      const coarse = inEightBits(channels, peakSteps);
      const watch = new SignalWatch(sampleRateHz, coarse.length);
      watch.push(coarse);
      const { dropouts } = watch.finish();
      expect(dropouts, `seed ${seed}, ${peakSteps} steps`).toEqual([]);
      for (const bitDepth of [8, 16]) {
        const levels = new LevelMeter(sampleRateHz, coarse.length, bitDepth);
        levels.push(coarse);
        expect(levels.finish().clippedSamples, `seed ${seed}, ${peakSteps} steps in ${bitDepth} bits`).toBe(0);
      }
    }
  }
});

test('where they are loud enough, the main accent stays where it is', () => {
  const errors = sounds.flatMap(({ channels, sampleRateHz, climaxSeconds, climaxIsSharp }) => {
    if (climaxSeconds === null || !climaxIsSharp) return [];
    const follower = new EnvelopeFollower(sampleRateHz, channels.length);
    follower.push(inEightBits(channels, 120));
    const found = measureMovement(follower.finish(), channels[0].length / sampleRateHz);
    return [Math.abs((found.climaxSeconds ?? Number.POSITIVE_INFINITY) - climaxSeconds)];
  });
  expect(errors.length).toBeGreaterThan(20);
  expect(errors.filter((error) => error <= 0.025).length / errors.length).toBeGreaterThanOrEqual(0.95);
});
