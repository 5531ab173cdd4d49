/**
 * What a question is made of. Each understood piece is a chip: it can be shown, removed, set with a control, and
 * written back as text that is understood as the same chip.
 */
import { type Metre, musicalSeconds, secondsAt, type Tempo } from '../music.ts';
import type { Gesture, Hertz, Seconds, Semitones } from '../sound.ts';
import type { ColourName } from './colours.ts';

/** A length in seconds, or in bars and beats that become seconds once there is a tempo. */
export type Length =
  | { unit: 'seconds'; seconds: Seconds }
  | { unit: 'musical'; bars: number; beats: number; metre: Metre | null; tempo: Tempo | null };

/** Where in a sound something falls; `share` 0..1 of its sounding length. Bars and beats count from 1. */
export type Moment =
  | { unit: 'share'; share: number }
  | { unit: 'seconds'; seconds: Seconds }
  | { unit: 'position'; bar: number; beat: number; metre: Metre | null; tempo: Tempo | null }
  | { unit: 'downbeat'; metre: Metre | null; tempo: Tempo | null };

/** What a pitch chip asks for: one note, one pitch class in any octave, or a frequency. */
export type PitchTarget =
  | { unit: 'note'; noteNumber: number }
  | { unit: 'class'; pitchClass: number }
  | { unit: 'hertz'; hertz: Hertz };

export type ChipContent =
  | { kind: 'word'; text: string }
  | { kind: 'length'; fit: 'exact' | 'about' | 'under' | 'over'; length: Length }
  | { kind: 'length-range'; from: Length; to: Length }
  | { kind: 'tempo'; tempo: Tempo }
  | { kind: 'metre'; metre: Metre }
  | { kind: 'accent'; at: Moment }
  | { kind: 'gesture'; gesture: Gesture }
  | { kind: 'colour'; colour: ColourName }
  | { kind: 'pitch'; target: PitchTarget; near: boolean }
  | { kind: 'varispeed'; semitones: Semitones }
  | { kind: 'session'; text: string }
  | { kind: 'tag'; text: string }
  | { kind: 'format'; format: string }
  | { kind: 'rights'; text: string }
  | { kind: 'owner'; text: string }
  /** Rights or tags that nobody has filled in yet. */
  | { kind: 'missing'; what: 'rights' | 'owner' | 'tags' }
  | { kind: 'use'; used: boolean };

export interface ChipFrame {
  /** True for "not ...", "without ...": sounds that answer are left out. */
  negated: boolean;
  /** Where in the text it was understood: start inclusive, end exclusive. */
  span: readonly [start: number, end: number];
  /** A few words for the chip itself, e.g. "2 bars at 84". */
  label: string;
  /** What it comes to, e.g. "5.71 s"; empty where the label says all. */
  detail: string;
}

export type Chip = ChipContent & ChipFrame;
export type ChipKind = Chip['kind'];
export type ChipOf<K extends ChipKind> = Extract<ChipContent, { kind: K }> & ChipFrame;

/** A question as understood. `tempo` and `metre` are what bars and beats in it are counted by. */
export interface Query {
  text: string;
  chips: Chip[];
  tempo: Tempo | null;
  metre: Metre | null;
  /** Where the text was left off, because no question needs so many pieces; null where all of it was read. */
  leftOffAt: number | null;
}

export const EMPTY_QUERY: Query = { text: '', chips: [], tempo: null, metre: null, leftOffAt: null };

/** A length in seconds; null while bars and beats have no tempo to be counted by. */
export function lengthSeconds(length: Length): Seconds | null {
  if (length.unit === 'seconds') return length.seconds;
  return length.tempo && musicalSeconds(length.bars, length.beats, length.tempo, length.metre);
}

/**
 * Seconds from the start of the sound to the moment, where that is fixed; null for shares and downbeats, which depend
 * on the sound, and for positions without a tempo.
 */
export function momentSeconds(moment: Moment): Seconds | null {
  if (moment.unit === 'seconds') return moment.seconds;
  return moment.unit === 'position' && moment.tempo ? secondsAt(moment, moment.tempo, moment.metre) : null;
}
