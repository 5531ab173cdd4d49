/**
 * The one moment a sound is about: what is drawn largest, asked for, put on the beat and named. It is the climax, which is a
 * strike, a rise's breaking off or the top of what has neither (shared/measure/climax.ts chooses it); all other onsets are lesser
 * accents. Nothing else picks a main accent.
 */
import type { AccentColumns } from './query/columns.ts';
import type { Measurements, Seconds } from './sound.ts';

export interface MainAccent {
  seconds: Seconds;
  /** False where nothing strikes there: it is the loudest moment, or where a rise breaks off. */
  strikes: boolean;
}

type Moments = Pick<Measurements, 'climaxSeconds' | 'accents'>;

/** An accent this near the climax is the climax; two accents never lie so close. */
const SAME_MOMENT_SECONDS: Seconds = 0.02;

function isSameMoment(one: Seconds, other: Seconds): boolean {
  return Math.abs(one - other) < SAME_MOMENT_SECONDS;
}

/** null for silence. */
export function mainAccent({ climaxSeconds, accents }: Moments): MainAccent | null {
  if (climaxSeconds === null) return null;
  return {
    seconds: climaxSeconds,
    strikes: accents.some(({ seconds }) => isSameMoment(seconds, climaxSeconds)),
  };
}

/** The other onsets, in order of time. */
export function lesserAccents({ climaxSeconds, accents }: Moments): Measurements['accents'] {
  return accents.filter(({ seconds }) => climaxSeconds === null || !isSameMoment(seconds, climaxSeconds));
}

/** Places of the wedges as shares 0..1 of the sound: the main accent first, then the strongest of the others. */
export function wedgeShares(sound: Moments & Pick<Measurements, 'durationSeconds'>, most: number): number[] {
  const main = mainAccent(sound);
  if (main === null || sound.durationSeconds <= 0) return [];
  const others = lesserAccents(sound)
    .sort((a, b) => b.strengthDb - a.strengthDb)
    .slice(0, most - 1);
  return [main, ...others].map(({ seconds }) => Math.min(1, seconds / sound.durationSeconds));
}

export interface MainAccentColumns {
  /** NaN for silence. */
  seconds: (sound: number) => Seconds;
  strikes: (sound: number) => boolean;
  lesser: (sound: number) => Seconds[];
}

interface MomentColumns {
  number(field: 'climaxSeconds'): Float32Array;
  readonly accentColumns: AccentColumns;
}

/** The same for many sounds in columns, as recorded. */
export function mainAccentColumns(columns: MomentColumns): MainAccentColumns {
  const climaxes = columns.number('climaxSeconds');
  const { offsets, seconds } = columns.accentColumns;
  return {
    seconds: (sound) => climaxes[sound],
    strikes(sound) {
      for (let at = offsets[sound]; at < offsets[sound + 1]; at++)
        if (isSameMoment(seconds[at], climaxes[sound])) return true;
      return false;
    },
    lesser: (sound) =>
      [...seconds.subarray(offsets[sound], offsets[sound + 1])].filter((at) => !isSameMoment(at, climaxes[sound])),
  };
}
