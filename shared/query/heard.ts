/**
 * How long a sound is to the one who hears it: its active part. A head of room tone before it and stillness after it are
 * cut without anybody missing them, so that they count in no length that is asked for, compared or shown.
 */
import type { NumericField } from '../shelf.ts';
import type { Seconds } from '../sound.ts';

interface Lengths {
  number(field: NumericField): Float32Array;
}

/** Of any sound; of one where nothing stands out, or nothing sounds, the whole. */
export function heardSecondsOf(columns: Lengths): (sound: number) => Seconds {
  const active = columns.number('activeSeconds');
  const whole = columns.number('durationSeconds');
  // A comparison with NaN is false.
  return (sound) => (active[sound] > 0 ? active[sound] : whole[sound]);
}

/** What lies before its active part; 0 where nothing does. */
export function headSecondsOf(columns: Lengths): (sound: number) => Seconds {
  const starts = columns.number('activeStartSeconds');
  return (sound) => Math.max(0, starts[sound] || 0);
}
