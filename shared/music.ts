/**
 * Musical arithmetic: metre, tempo, bars and beats, varispeed, note names. Timecode lives in `timecode.ts`.
 *
 * A tempo counts one note value. Unless it names that note, it counts quarter notes, as click tracks and sequencers do;
 * a bar of n/d at a tempo of the 1/u note then lasts (n * u / d) * 60 / bpm seconds.
 */
import type { Hertz, Seconds, Semitones } from './sound.ts';

/** Beats a bar, and the note that is one beat: 7/8 is { beats: 7, unit: 8 }. `unit` is a power of two, 1..32. */
export interface Metre {
  beats: number;
  unit: number;
}

/** A note value: `unit` 4 is a quarter note; a dot adds half. */
export interface NoteValue {
  unit: number;
  dotted: boolean;
}

/** Beats a minute, and the note counted; `note: null` means not stated, which counts quarter notes. */
export interface Tempo {
  bpm: number;
  note: NoteValue | null;
}

export const COMMON_TIME: Metre = { beats: 4, unit: 4 };
const QUARTER: NoteValue = { unit: 4, dotted: false };

/** Length as a share of a whole note: quarter 0.25, dotted quarter 0.375. */
export function wholeNotes(note: NoteValue): number {
  return (note.dotted ? 1.5 : 1) / note.unit;
}

/**
 * The note one "beat" means: the one the tempo names; else the one the metre counts (the 8 of 7/8); else a quarter.
 */
export function beatNote(tempo: Tempo, metre: Metre | null): NoteValue {
  if (tempo.note) return tempo.note;
  return metre ? { unit: metre.unit, dotted: false } : QUARTER;
}

/** Seconds one note lasts. bpm must be above 0. */
export function noteSeconds(note: NoteValue, tempo: Tempo): Seconds {
  return (wholeNotes(note) / wholeNotes(tempo.note ?? QUARTER)) * (60 / tempo.bpm);
}

export function beatSeconds(tempo: Tempo, metre: Metre | null): Seconds {
  return noteSeconds(beatNote(tempo, metre), tempo);
}

/** Seconds one bar lasts; 4/4 where no metre is given. */
export function barSeconds(tempo: Tempo, metre: Metre | null): Seconds {
  const { beats, unit } = metre ?? COMMON_TIME;
  return beats * noteSeconds({ unit, dotted: false }, tempo);
}

/** Seconds from bars and beats together. */
export function musicalSeconds(bars: number, beats: number, tempo: Tempo, metre: Metre | null): Seconds {
  return bars * barSeconds(tempo, metre) + beats * beatSeconds(tempo, metre);
}

/** A place in the score. Bars and beats count from 1; `beat` carries its fraction, so 2.5 is halfway through beat 2. */
export interface Position {
  bar: number;
  beat: number;
}

/**
 * Where `seconds` after the downbeat of bar 1 lies. Times before bar 1 fall in bars 0, -1, ... as counted back.
 * Rounded to a thousandth of a beat, so that a beat reached from just below reads as that beat.
 */
export function positionAt(seconds: Seconds, tempo: Tempo, metre: Metre | null): Position {
  const beatLength = beatSeconds(tempo, metre);
  const barLength = barSeconds(tempo, metre);
  const halfStep = beatLength / 2000;
  const bar = Math.floor((seconds + halfStep) / barLength);
  const thousandths = Math.round(((seconds - bar * barLength) / beatLength) * 1000);
  return { bar: bar + 1, beat: 1 + Math.max(0, thousandths) / 1000 };
}

export function secondsAt(position: Position, tempo: Tempo, metre: Metre | null): Seconds {
  return musicalSeconds(position.bar - 1, position.beat - 1, tempo, metre);
}

/** `bar:beat`, e.g. "3:1" for the downbeat of bar 3 and "3:2.5" for halfway through its second beat. */
export function formatPosition({ bar, beat }: Position): string {
  return `${bar}:${Number(beat.toFixed(3))}`;
}

export function formatMetre({ beats, unit }: Metre): string {
  return `${beats}/${unit}`;
}

export function isMetre({ beats, unit }: Metre): boolean {
  return Number.isInteger(beats) && beats >= 1 && beats <= 64 && [1, 2, 4, 8, 16, 32].includes(unit);
}

const NOTE_VALUE_NAMES: readonly (readonly [unit: number, name: string])[] = [
  [1, 'whole'],
  [2, 'half'],
  [4, 'quarter'],
  [8, 'eighth'],
  [16, 'sixteenth'],
  [32, 'thirty-second'],
];

export function formatNoteValue({ unit, dotted }: NoteValue): string {
  const name = NOTE_VALUE_NAMES.find(([candidate]) => candidate === unit)?.[1] ?? `1/${unit}`;
  return dotted ? `dotted ${name}` : name;
}

/**
 * Playing at `rate` times the speed moves pitch by 12 log2(rate) semitones and makes the length 1/rate.
 * Returns null for a rate that is not above 0.
 */
export function rateToSemitones(rate: number): Semitones | null {
  return rate > 0 && Number.isFinite(rate) ? 12 * Math.log2(rate) : null;
}

export function semitonesToRate(semitones: Semitones): number {
  return 2 ** (semitones / 12);
}

/** The varispeed that makes `lengthSeconds` last `targetSeconds`: negative slows down. null unless both are above 0. */
export function varispeedFor(lengthSeconds: Seconds, targetSeconds: Seconds): Semitones | null {
  return lengthSeconds > 0 && targetSeconds > 0 ? rateToSemitones(lengthSeconds / targetSeconds) : null;
}

/** A length as it becomes under varispeed. */
export function varispeedSeconds(lengthSeconds: Seconds, semitones: Semitones): Seconds {
  return lengthSeconds / semitonesToRate(semitones);
}

/** ISO 16:1975 standard tuning frequency: the A above middle C is 440 Hz. Note numbers follow MIDI: that A is 69. */
export const TUNING_HZ: Hertz = 440;
const TUNING_NOTE = 69;

/** Equal temperament: f = 440 * 2^((note - 69) / 12); fractions of a note number are cents / 100. */
export function noteToHertz(noteNumber: number): Hertz {
  return TUNING_HZ * 2 ** ((noteNumber - TUNING_NOTE) / 12);
}

/** Inverse of `noteToHertz`; null for a frequency that is not above 0. */
export function hertzToNote(hertz: Hertz): number | null {
  return hertz > 0 && Number.isFinite(hertz) ? TUNING_NOTE + 12 * Math.log2(hertz / TUNING_HZ) : null;
}

const NOTE_NAMES = ['C', 'C#', 'D', 'D#', 'E', 'F', 'F#', 'G', 'G#', 'A', 'A#', 'B'] as const;

/** Pitch class 0..11 to its name, in sharps: 10 is "A#". */
export function pitchClassName(pitchClass: number): string {
  return NOTE_NAMES[((Math.round(pitchClass) % 12) + 12) % 12] ?? 'C';
}

/** Scientific pitch notation: note 60 is C4 (middle C), 69 is A4. */
export function noteName(noteNumber: number): string {
  const rounded = Math.round(noteNumber);
  return `${pitchClassName(rounded)}${Math.floor(rounded / 12) - 1}`;
}

/** The nearest note to a frequency and how far off it is, -50..50 cents. */
export function nearestNote(hertz: Hertz): { noteNumber: number; name: string; centsOff: number } | null {
  const exact = hertzToNote(hertz);
  if (exact === null) return null;
  const noteNumber = Math.round(exact);
  return { noteNumber, name: noteName(noteNumber), centsOff: (exact - noteNumber) * 100 };
}

const LETTER_SEMITONES: Readonly<Record<string, number>> = { c: 0, d: 2, e: 4, f: 5, g: 7, a: 9, b: 11 };
const NOTE_PATTERN = /^([a-g])(##|bb|[#♯b♭x])?(-?\d{1,2})$/i;

/** "F#3", "Bb1", "c-1" to a note number; null for anything else. Sharps and flats may be doubled: "Bbb2". */
export function parseNote(text: string): number | null {
  const match = NOTE_PATTERN.exec(text.trim());
  if (!match) return null;
  const [, letter = '', accidental = '', octave = ''] = match;
  return (Number(octave) + 1) * 12 + (LETTER_SEMITONES[letter.toLowerCase()] ?? 0) + accidentalSemitones(accidental);
}

/** "#" and "♯" raise by one, "x" and "##" by two; flats the same downwards. Empty is 0. */
export function accidentalSemitones(accidental: string): number {
  if (accidental.toLowerCase() === 'x' || accidental === '##') return 2;
  if (accidental.toLowerCase() === 'bb') return -2;
  if (accidental === '#' || accidental === '♯') return 1;
  return accidental === '' ? 0 : -1;
}
