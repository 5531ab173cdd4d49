/** How far a take misses what the question fixes in time, in a few words. */
import { semitonesToRate } from '../../shared/music.ts';
import { lengthSeconds, momentSeconds, type Query } from '../../shared/query/chips.ts';
import { fitMusically, type MusicalFit, type MusicalTarget } from '../../shared/query/musical.ts';
import { fieldAt, MOST_SEMITONES } from '../../shared/query/varispeed.ts';
import type { NumericField } from '../../shared/shelf.ts';
import { number, seconds, semitones, signedTime } from './format.ts';
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
  const read = (field: NumericField): number | null => {
    const value = fieldAt(shapes.shelf, field, shift)(sound);
    return Number.isNaN(value) ? null : value;
  };
  return fitMusically(
    {
      durationSeconds: read('durationSeconds') ?? 0,
      activeStartSeconds: read('activeStartSeconds'),
      activeSeconds: read('activeSeconds'),
      climaxSeconds: read('climaxSeconds'),
      pitchHz: read('pitchHz'),
    },
    target,
  );
}

export interface FitWords {
  /** The miss with nothing bent; without a target the length. */
  figure: string;
  /** What makes it fit, in a few words. */
  note: string;
  /** The same in full; empty without a target. */
  inFull: string;
  /** The take fits at its speed. */
  fits: boolean;
}

/** `shift`: the varispeed the sound answers at. */
export function fitWords(shapes: Shapes, sound: number, target: MusicalTarget | null, shift: number): FitWords {
  const length = seconds(shapes.heardSeconds(sound) / semitonesToRate(shift));
  if (target === null) {
    const note = shift === 0 ? (shapes.shelf.gestureOf(sound) ?? '') : `at ${semitones(shift)}`;
    return { figure: length, note, inFull: '', fits: false };
  }
  const fit = musicalFit(shapes, sound, target, shift);
  if (fit === null) return { figure: length, note: 'no one accent', inFull: '', fits: false };
  return {
    figure: signedTime(fit.missSeconds),
    note: remedy(fit, shift),
    inFull: inFull(fit, shift).join(', '),
    fits: fit.fits,
  };
}

function remedy(fit: MusicalFit, shift: number): string {
  const speed = shift === 0 ? 'as it is' : `at ${semitones(shift)}`;
  if (fit.fits) return speed;
  const bent = exactSpeed(fit, shift);
  if (bent === null) return 'too far';
  const speedThere = semitones(Number(bent.toFixed(1)));
  if (fit.bentNote === null) return `${speedThere} fits`;
  // The column is narrow: two figures before the point and a note leave no room for the word.
  return `${speedThere}${Math.abs(bent) < 9.95 ? ' fits' : ''}, ${fit.bentNote}`;
}

/** The speed against the recording at which a take that is played at `shift` lands exactly; null where that is too far off. */
export function exactSpeed({ varispeedSemitones }: MusicalFit, shift: number): number | null {
  if (varispeedSemitones === null) return null;
  const speed = shift + varispeedSemitones;
  return Math.abs(speed) > MOST_SEMITONES ? null : speed;
}

/** A head shorter than this is none to speak of. */
export const AUDIBLE_HEAD_SECONDS = 0.005;

/** Miss, head, exact speed and ringing on, for reading out and for the whole story of a row. */
function inFull(fit: MusicalFit, shift: number): string[] {
  const { missSeconds, missBeats, trimSeconds, ringsOnSeconds } = fit;
  const bent = exactSpeed(fit, shift);
  return [
    `misses by ${inTimeAndBeats(missSeconds, missBeats)}`,
    trimSeconds >= AUDIBLE_HEAD_SECONDS ? `after a head of ${seconds(trimSeconds)}` : '',
    bent === null ? '' : `exact at ${semitones(bent)}${fit.bentNote === null ? '' : `, ${fit.bentNote}`}`,
    ringsOnSeconds > 0 ? `rings on for ${seconds(ringsOnSeconds)}` : '',
  ].filter((piece) => piece !== '');
}

/** "−0.71 s, −1 beat"; beats only with a tempo. */
export function inTimeAndBeats(time: number, beats: number | null): string {
  if (beats === null) return signedTime(time);
  const rounded = Number(beats.toFixed(2));
  const signed = `${rounded > 0 ? '+' : ''}${number(rounded)}`;
  return `${signedTime(time)}, ${signed} ${Math.abs(rounded) === 1 ? 'beat' : 'beats'}`;
}
