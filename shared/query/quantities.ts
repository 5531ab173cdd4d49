/** Numbers, lengths, metres and tempi in words and figures: "3.5 s", "two bars of 6/8 at 60", "1:30". */
import { isMetre, type Metre, type NoteValue, type Tempo } from '../music.ts';
import type { Length } from './chips.ts';
import { type Reader, wordPattern } from './reader.ts';

/** Something understood, and the place after it. */
export interface Found<T> {
  value: T;
  end: number;
}

/** The value of the first pattern that matches. */
export function firstOf<T>(reader: Reader, at: number, patterns: readonly (readonly [T, RegExp])[]): Found<T> | null {
  for (const [value, pattern] of patterns) {
    const found = reader.match(at, pattern);
    if (found) return { value, end: found.end };
  }
  return null;
}

const MAXIMUM_SECONDS = 86_400;
const MINIMUM_SECONDS = 0.001;
const MAXIMUM_BEATS = 9999;
const MINIMUM_BPM = 10;
const MAXIMUM_BPM = 999;

const NUMBER_WORDS: Readonly<Record<string, number>> = {
  one: 1,
  two: 2,
  three: 3,
  four: 4,
  five: 5,
  six: 6,
  seven: 7,
  eight: 8,
  nine: 9,
  ten: 10,
  eleven: 11,
  twelve: 12,
  sixteen: 16,
  twenty: 20,
  a: 1,
  an: 1,
  half: 0.5,
};

const FIGURES = /(\d{1,7}(?:[.,]\d{1,6})?)/y;
const NUMBER_WORD = new RegExp(`(${Object.keys(NUMBER_WORDS).join('|')})(?: an?)?(?![\\p{L}\\p{N}])`, 'uy');
const AND_A_HALF = / and a half(?![\p{L}\p{N}])/uy;

/** A number in figures (point or comma) or words; "a", "half a" and "two and a half" count before a unit. */
export function readNumber(reader: Reader, at: number): Found<number> | null {
  const figures = reader.matchInside(at, FIGURES);
  if (figures) return { value: Number(figures.groups[0].replace(',', '.')), end: figures.end };
  const word = reader.matchInside(at, NUMBER_WORD);
  if (!word) return null;
  const value = NUMBER_WORDS[word.groups[0]];
  const half = reader.matchInside(word.end, AND_A_HALF);
  return half ? { value: value + 0.5, end: half.end } : { value, end: word.end };
}

const CLOCK = wordPattern('(\\d{1,4}):([0-5]\\d(?:\\.\\d{1,3})?)');
const SECONDS_UNIT = wordPattern('[ -]?(ms|msecs?|milliseconds?|s|secs?|seconds?|m|mins?|minutes?)');
const BARS_UNIT = wordPattern('[ -]?(?:bars?|measures?)');
const BEATS_UNIT = wordPattern('[ -]?beats?');
const JOIN = /(?:,? ?and|,| \+)? /y;

function secondsPerUnit(unit: string): number {
  if (unit.startsWith('ms') || unit.startsWith('mil')) return 0.001;
  return unit.startsWith('m') ? 60 : 1;
}

/** Rounded to a microsecond, so that a length survives being written in figures and read again. */
function seconds(value: number): Length | null {
  const rounded = Math.round(value * 1e6) / 1e6;
  return rounded >= MINIMUM_SECONDS && rounded <= MAXIMUM_SECONDS ? { unit: 'seconds', seconds: rounded } : null;
}

/**
 * A length with its unit. `joined` allows what follows to be joined on by a hyphen, as in "2s-4s".
 */
export function readLength(reader: Reader, at: number, joined = false): Found<Length> | null {
  const clock = joined ? reader.matchInside(at, CLOCK) : reader.match(at, CLOCK);
  if (clock) {
    const length = seconds(Number(clock.groups[0]) * 60 + Number(clock.groups[1]));
    return length && { value: length, end: clock.end };
  }
  const number = readNumber(reader, at);
  return number && readUnit(reader, number.end, number.value, joined);
}

/** The unit after a number, and for bars and beats also the metre and tempo that may follow. */
export function readUnit(reader: Reader, at: number, value: number, joined = false): Found<Length> | null {
  const clockUnit = joined ? reader.matchInside(at, SECONDS_UNIT) : reader.match(at, SECONDS_UNIT);
  if (clockUnit) {
    const length = seconds(value * secondsPerUnit(clockUnit.groups[0]));
    return length && { value: length, end: clockUnit.end };
  }
  const bars = joined ? reader.matchInside(at, BARS_UNIT) : reader.match(at, BARS_UNIT);
  const beats = bars ? readBeatsAfterBars(reader, bars.end) : readBeats(reader, at, value);
  const end = beats?.end ?? bars?.end;
  if (end === undefined) return null;
  const barCount = bars ? value : 0;
  const beatCount = beats?.value ?? 0;
  const total = barCount + beatCount;
  if (total <= 0 || total > MAXIMUM_BEATS) return null;
  const counting = readCounting(reader, end);
  return { value: { unit: 'musical', bars: barCount, beats: beatCount, ...counting.value }, end: counting.end };
}

function readBeats(reader: Reader, at: number, value: number): Found<number> | null {
  const unit = reader.match(at, BEATS_UNIT);
  return unit && { value, end: unit.end };
}

function readBeatsAfterBars(reader: Reader, at: number): Found<number> | null {
  const join = reader.matchInside(at, JOIN);
  const number = join && readNumber(reader, join.end);
  return number && readBeats(reader, number.end, number.value);
}

/** Metre and tempo in either order, each at most once; consumes nothing where neither follows. */
export function readCounting(reader: Reader, at: number): Found<{ metre: Metre | null; tempo: Tempo | null }> {
  let metre: Metre | null = null;
  let tempo: Tempo | null = null;
  let end = at;
  for (let pass = 0; pass < 2; pass++) {
    const start = reader.skipSpace(end);
    const foundMetre: Found<Metre> | null = metre === null ? readMetre(reader, start) : null;
    const foundTempo: Found<Tempo> | null = tempo === null && !foundMetre ? readTempoAfterCount(reader, start) : null;
    metre = foundMetre?.value ?? metre;
    tempo = foundTempo?.value ?? tempo;
    end = foundMetre?.end ?? foundTempo?.end ?? end;
  }
  return { value: { metre, tempo }, end };
}

const METRE = wordPattern(
  '(?:(?:at|of|in|metre|meter|time)(?: signature)?:? )?(\\d{1,2}) ?/ ?(\\d{1,2})(?: (?:time|metre|meter))?',
);

export function readMetre(reader: Reader, at: number): Found<Metre> | null {
  const reading = reader.match(at, METRE);
  if (!reading) return null;
  const metre = { beats: Number(reading.groups[0]), unit: Number(reading.groups[1]) };
  return isMetre(metre) ? { value: metre, end: reading.end } : null;
}

const NOTE_UNITS: Readonly<Record<string, number>> = {
  whole: 1,
  semibreve: 1,
  half: 2,
  minim: 2,
  quarter: 4,
  crotchet: 4,
  '♩': 4,
  eighth: 8,
  '8th': 8,
  quaver: 8,
  '♪': 8,
  sixteenth: 16,
  '16th': 16,
  semiquaver: 16,
};
const NOTE_VALUE = `(dotted )?(${Object.keys(NOTE_UNITS).join('|')})(?: notes?)?(\\.)?`;
const TEMPO_FIGURE = '(\\d{1,3}(?:[.,]\\d{1,3})?)';
/** "at 84", "84 bpm", "tempo 84 bpm"; one of the two marks must be there. */
/** "2 beats of 52": only right after a number of beats or bars. */
const TEMPO_OF = wordPattern(`of ${TEMPO_FIGURE}(?: ?bpm)?`);
const BPM = '(?:bpm|beats (?:a|per) minute)';
const TEMPO_AT = wordPattern(`(?:at tempo|at|@|tempo(?: of)?:?) ?${TEMPO_FIGURE}(?: ?${BPM})?`);
const TEMPO_BPM = wordPattern(`${TEMPO_FIGURE} ?${BPM}`);
/** "quarter = 84", "at dotted quarter 60". */
const TEMPO_NOTE = wordPattern(`(?:(?:at|tempo) )?${NOTE_VALUE} ?(?:=| ) ?${TEMPO_FIGURE}(?: ?bpm)?`);
/** What turns "at 84" into something else than a tempo. */
const OTHER_UNIT = wordPattern(
  '[ -]?(?:ms|msecs?|milliseconds?|s|secs?|seconds?|m|mins?|minutes?|k?hz|hertz|st|semitones?|bars?|beats?|measures?|%|percent)',
);

function readTempoAfterCount(reader: Reader, at: number): Found<Tempo> | null {
  const known = readTempo(reader, at);
  if (known) return known;
  const reading = reader.match(at, TEMPO_OF);
  return reading && !reader.match(reading.end, OTHER_UNIT) ? tempo(reading.groups[0], null, reading.end) : null;
}

export function readTempo(reader: Reader, at: number): Found<Tempo> | null {
  const noted = reader.match(at, TEMPO_NOTE);
  if (noted) {
    const [dotted, name, dot, figure] = noted.groups;
    return tempo(figure, { unit: NOTE_UNITS[name], dotted: dotted !== '' || dot !== '' }, noted.end);
  }
  const reading = reader.match(at, TEMPO_BPM) ?? reader.match(at, TEMPO_AT);
  if (!reading || reader.match(reading.end, OTHER_UNIT)) return null;
  return tempo(reading.groups[0], null, reading.end);
}

function tempo(figure: string, note: NoteValue | null, end: number): Found<Tempo> | null {
  const bpm = Number(figure.replace(',', '.'));
  return bpm >= MINIMUM_BPM && bpm <= MAXIMUM_BPM ? { value: { bpm, note }, end } : null;
}
