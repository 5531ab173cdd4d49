/** Which of the seven gestures a sound makes, from its course of level and its accents. */
import type { Gesture, Seconds } from '../sound.ts';
import type { Strike } from './accents.ts';
import type { Pulse } from './periodicity.ts';

export interface Course {
  activeSeconds: Seconds;
  /** 0..1 within the active part. */
  climaxShare: number;
  /** Share of the active part within 6 dB of the loudest (100 ms means). */
  holdShare: number;
  /** How far below the climax the sound is, on average, in the part before it; 0 where nothing is before. */
  riseDb: number;
  fallSeconds: Seconds;
  strikes: readonly Strike[];
  main: Strike | null;
  pulse: Pulse | null;
}

export function gestureOf(course: Course): Gesture {
  const { climaxShare, strikes, main, pulse, holdShare } = course;
  if (pulse !== null && pulse.regularity > 0.7 && strikes.length >= 4) return 'pulse';
  if (climaxShare > 0.6 && course.riseDb > 6) return 'riser';
  const strong = main === null ? [] : strikes.filter((strike) => strike.peakPower > main.peakPower * 0.05);
  if (strong.length >= 3) return 'phrase';
  if (holdShare > 0.6) return 'drone';
  if (climaxShare < 0.2) return course.fallSeconds > 1 ? 'fade' : 'hit';
  return 'swell';
}
