import { describe, expect, test } from 'vitest';
import {
  FRAME_RATE_NAMES,
  type FrameRateName,
  framesPerSecond,
  framesToSeconds,
  framesToTimecode,
  secondsToTimecode,
  timecodeToFrames,
  timecodeToSeconds,
} from '../../shared/timecode.ts';
import { Random } from '../measure/random.ts';

// SMPTE ST 12-1: drop-frame counting leaves out frame numbers 00 and 01 at each minute that is not a tenth one.
describe('drop-frame timecode', () => {
  test.each([
    [0, '00:00:00;00'],
    [1799, '00:00:59;29'],
    [1800, '00:01:00;02'],
    [17_981, '00:09:59;29'],
    [17_982, '00:10:00;00'],
    [17_982 + 1800, '00:11:00;02'],
    [107_892, '01:00:00;00'],
    [24 * 107_892, '24:00:00;00'],
  ])('frame %d is %s', (frames, timecode) => {
    expect(framesToTimecode(frames, '29.97df')).toBe(timecode);
    expect(timecodeToFrames(timecode, '29.97df')).toBe(frames);
  });

  test('numbers that are left out name no frame', () => {
    expect(timecodeToFrames('00:01:00;00', '29.97df')).toBeNull();
    expect(timecodeToFrames('00:01:00;01', '29.97df')).toBeNull();
    expect(timecodeToFrames('00:10:00;00', '29.97df')).not.toBeNull();
    expect(timecodeToFrames('00:01:00:00', '29.97')).toBe(1800);
  });

  test('counts as an odometer does that skips those numbers, for two hours', () => {
    let [hours, minutes, seconds, frame] = [0, 0, 0, 0];
    for (let frames = 0; frames < 2 * 107_892; frames++) {
      // Comparing every 7th is enough to meet every kind of place and keeps the test quick.
      if (frames % 7 === 0 || frame < 4) {
        const expected = `${[hours, minutes, seconds].map((field) => String(field).padStart(2, '0')).join(':')};${String(frame).padStart(2, '0')}`;
        if (framesToTimecode(frames, '29.97df') !== expected)
          expect(framesToTimecode(frames, '29.97df')).toBe(expected);
      }
      frame++;
      if (frame === 30) {
        frame = 0;
        seconds++;
        if (seconds === 60) {
          seconds = 0;
          minutes++;
          if (minutes % 10 !== 0) frame = 2;
          if (minutes === 60) {
            minutes = 0;
            hours++;
          }
        }
      }
    }
    expect([hours, minutes, seconds, frame]).toEqual([2, 0, 0, 0]);
  });

  test('keeps with the clock: 86.4 ms off after a day, where plain counting is 86 s behind', () => {
    const day = 86_400;
    const counted = timecodeToSeconds('24:00:00;00', '29.97df') ?? 0;
    expect(day - counted).toBeCloseTo(0.0864, 4);
    // 86400 * 30000 / 1001 = 2589410.59 frames; the nearest is 2589411 = 86313 counted seconds and 21 frames.
    expect(secondsToTimecode(day, '29.97')).toBe('23:58:33:21');
  });
});

describe('timecode at every rate', () => {
  test('frame counts and times go back and forth', () => {
    const random = new Random(3);
    for (let i = 0; i < 4000; i++) {
      const rate = random.pick<FrameRateName>(FRAME_RATE_NAMES);
      const frames = random.whole(-200_000, 5_000_000);
      expect(timecodeToFrames(framesToTimecode(frames, rate), rate)).toBe(frames);
      const seconds = framesToSeconds(frames, rate);
      expect(secondsToTimecode(seconds, rate)).toBe(framesToTimecode(frames, rate));
      expect(timecodeToSeconds(framesToTimecode(frames, rate), rate)).toBeCloseTo(seconds, 9);
    }
  });

  test('rates are 24000/1001, 24, 25, 30000/1001 and 30', () => {
    expect(framesPerSecond('23.976')).toBe(24_000 / 1001);
    expect(framesPerSecond('29.97')).toBe(30_000 / 1001);
    expect(framesPerSecond('29.97df')).toBe(30_000 / 1001);
    expect([framesPerSecond('24'), framesPerSecond('25'), framesPerSecond('30')]).toEqual([24, 25, 30]);
    // An hour of 23.976 counted runs 3.6 s longer than an hour of the clock.
    expect(timecodeToSeconds('01:00:00:00', '23.976')).toBeCloseTo(3603.6, 9);
  });

  test('what is no timecode is null', () => {
    for (const wrong of ['', '1:2:3:4', '00:60:00:00', '00:00:60:00', '00:00:00:25', 'aa:00:00:00', '00:00:00']) {
      expect([wrong, timecodeToFrames(wrong, '25')]).toEqual([wrong, null]);
    }
  });
});
