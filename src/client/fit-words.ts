/** How far a take misses what the question fixes in time, in a few words. */
import { semitonesToRate } from '../../shared/music.ts';
import { lengthSeconds, momentSeconds, type Query } from '../../shared/query/chips.ts';
import { fitMusically, type MusicalFit, type MusicalTarget } from '../../shared/query/musical.ts';
import { seconds, semitones, signedTime } from './format.ts';
import type { Shapes } from './shapes.ts';

/** An accent's place, or a length that the accent or the end should reach; null where the question fixes neither. */
export function targetOf(query: Query): MusicalTarget | null {
  const { tempo, metre } = query;
  let length: number | null = null;
  let endsOnAccent = false;
  for (const chip of query.chips) {
    if (chip.negated) continue;
    if (chip.kind === 'accent') {
      const at = momentSeconds(chip.at);
      if (at !== null && at > 0) return { seconds: at, part: 'accent', tempo, metre };
      endsOnAccent ||= chip.at.unit === 'downbeat' || (chip.at.unit === 'share' && chip.at.share === 1);
    } else if (chip.kind === 'length' && (chip.fit === 'exact' || chip.fit === 'about')) {
      length ??= lengthSeconds(chip.length);
    }
  }
  return length === null ? null : { seconds: length, part: endsOnAccent ? 'accent' : 'length', tempo, metre };
}

/** A take against the target, as it sounds at `shift` semitones. */
export function musicalFit(shapes: Shapes, sound: number, target: MusicalTarget, shift: number): MusicalFit | null {
  const { shelf } = shapes;
  const rate = semitonesToRate(shift);
  const shifted = (value: number | null): number | null => (value === null ? null : value / rate);
  const pitch = shelf.value('pitchHz', sound);
  return fitMusically(
    {
      durationSeconds: shapes.duration(sound) / rate,
      activeStartSeconds: shifted(shelf.value('activeStartSeconds', sound)),
      activeSeconds: shifted(shelf.value('activeSeconds', sound)),
      climaxSeconds: shifted(shelf.value('climaxSeconds', sound)),
      pitchHz: pitch === null ? null : pitch * rate,
    },
    target,
  );
}

export interface FitWords {
  figure: string;
  note: string;
  /** The take fits as it is. */
  fits: boolean;
}

/** Bent further than two octaves it is another sound. */
const FURTHEST_SEMITONES = 24;
const TRIM_NAMED_SECONDS = 0.02;

export function fitWords(shapes: Shapes, sound: number, target: MusicalTarget | null, shift: number): FitWords {
  const length = seconds(shapes.duration(sound) / semitonesToRate(shift));
  if (target === null) return { figure: length, note: shapes.shelf.gestureOf(sound) ?? '', fits: false };
  const fit = musicalFit(shapes, sound, target, shift);
  if (fit === null) return { figure: length, note: 'no one accent', fits: false };
  return { figure: signedTime(fit.missSeconds), note: remedy(fit), fits: fit.fits };
}

function remedy({ fits, trimSeconds, varispeedSemitones: bend }: MusicalFit): string {
  if (fits) return trimSeconds > TRIM_NAMED_SECONDS ? 'trim head' : 'as it is';
  if (bend === null || Math.abs(bend) > FURTHEST_SEMITONES) return 'too far';
  return `${semitones(Number(bend.toFixed(1)))} fits`;
}
