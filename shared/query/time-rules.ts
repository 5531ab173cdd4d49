/** The rules of a question about time: lengths, tempo, metre, varispeed, and where the accent falls. */
import type { ChipContent, Moment } from './chips.ts';
import {
  type Found,
  firstOf,
  readCounting,
  readLength,
  readMetre,
  readNumber,
  readTempo,
  readUnit,
} from './quantities.ts';
import { type Reader, wordPattern } from './reader.ts';
import type { Rule } from './rule.ts';

const LASTING = wordPattern('(?:lasting|exactly|(?:length|duration)(?: of)?:?)');
export const ABOUT = wordPattern(
  '(?:(?:just|slightly|a (?:little|bit|touch)) (?:over|under|above|below|more than|less than|shy of)|about|around|roughly|approximately|approx|circa|ca|near|nearly|almost|close to)',
);
const COMPARISONS = [
  ['under', wordPattern('(?:under|below|at most|up to|no longer than|(?:less|shorter) than|within|max|maximum)')],
  ['over', wordPattern('(?:over|above|at least|no shorter than|(?:more|longer) than|minimum)')],
  ['about', ABOUT],
] as const;
const LENGTH_TAILS = [
  ['under', wordPattern('(?:or (?:less|shorter|under)|at most|max|maximum)')],
  ['over', wordPattern('(?:or (?:more|longer|over)|at least|minimum)')],
  ['exact', wordPattern('(?:long|in length)')],
] as const;

export const lengthRule: Rule = (reader, at) => {
  const lasting = reader.match(at, LASTING);
  const start = reader.skipSpace(lasting?.end ?? at);
  const comparison = firstOf(reader, start, COMPARISONS);
  const length = readLength(reader, reader.skipSpace(comparison?.end ?? start));
  if (!length) return null;
  const tail = firstOf(reader, reader.skipSpace(length.end), LENGTH_TAILS);
  const fit = comparison?.value ?? tail?.value ?? 'exact';
  return { value: { kind: 'length', fit, length: length.value }, end: tail?.end ?? length.end };
};

const BETWEEN = wordPattern('(?:between|from)');
const RANGE_JOIN = / ?(?:-|–|to|and|up to) ?/y;

/** "2-4s", "between 2 and 4 bars at 84", "800 ms to 2 s": a first number without a unit takes the second's. */
export const lengthRangeRule: Rule = (reader, at) => {
  const start = reader.skipSpace(reader.match(at, BETWEEN)?.end ?? at);
  const from = readLength(reader, start, true);
  const bareNumber = from ? null : readNumber(reader, start);
  const firstEnd = from?.end ?? bareNumber?.end;
  const join = firstEnd === undefined ? null : reader.matchInside(firstEnd, RANGE_JOIN);
  const to = join && readLength(reader, join.end);
  if (!to) return null;
  const second = readNumber(reader, join.end);
  const first = from ?? (bareNumber && second && readUnit(reader, second.end, bareNumber.value));
  return first && { value: { kind: 'length-range', from: first.value, to: to.value }, end: to.end };
};

export const tempoRule: Rule = (reader, at) => {
  const tempo = readTempo(reader, at);
  return tempo && { value: { kind: 'tempo', tempo: tempo.value }, end: tempo.end };
};

export const metreRule: Rule = (reader, at) => {
  const metre = readMetre(reader, at);
  return metre && { value: { kind: 'metre', metre: metre.value }, end: metre.end };
};

const MAXIMUM_SEMITONES = 48;
const SHIFT = wordPattern(
  '(?:(?:at|by) )?([+\\-−])?(\\d{1,2}(?:[.,]\\d{1,3})?) ?(?:st|semitones?)(?: (down|lower|up|higher))?',
);
const SHIFT_SIGNLESS_START = wordPattern('(down|up) (?:by )?(\\d{1,2}(?:[.,]\\d{1,3})?) ?(?:st|semitones?)');
const OCTAVES = wordPattern('(?:pitched )?(an?|one|two|three|four|[1-4]) octaves? (down|lower|up|higher)');
const DIRECTED_OCTAVES = wordPattern('(?:pitched )?(down|up) (an?|one|two|three|four|[1-4]) octaves?');
const SPEED = wordPattern('(?:at )?(half|double) (?:the )?speed');
const COUNT_WORDS: Readonly<Record<string, number>> = { a: 1, an: 1, one: 1, two: 2, three: 3, four: 4 };

export const varispeedRule: Rule = (reader, at) => {
  const shift = reader.match(at, SHIFT);
  if (shift) {
    const [sign, size, direction] = shift.groups;
    const down = (sign !== '' && sign !== '+') !== (direction === 'down' || direction === 'lower');
    return varispeed(size, down, shift.end);
  }
  const directed = reader.match(at, SHIFT_SIGNLESS_START);
  if (directed) return varispeed(directed.groups[1], directed.groups[0] === 'down', directed.end);
  const octaves = reader.match(at, OCTAVES);
  if (octaves) return octaveShift(octaves.groups[0], octaves.groups[1], octaves.end);
  const directedOctaves = reader.match(at, DIRECTED_OCTAVES);
  if (directedOctaves) return octaveShift(directedOctaves.groups[1], directedOctaves.groups[0], directedOctaves.end);
  const speed = reader.match(at, SPEED);
  return speed && varispeed('12', speed.groups[0] === 'half', speed.end);
};

function octaveShift(count: string, direction: string, end: number): Found<ChipContent> | null {
  const semitones = 12 * (COUNT_WORDS[count] ?? Number(count));
  return varispeed(String(semitones), direction === 'down' || direction === 'lower', end);
}

function varispeed(size: string, down: boolean, end: number): Found<ChipContent> | null {
  const semitones = Number(size.replace(',', '.'));
  if (semitones === 0 || semitones > MAXIMUM_SEMITONES) return null;
  return { value: { kind: 'varispeed', semitones: down ? -semitones : semitones }, end };
}

const ACCENT = wordPattern(
  '(?:main |last |loudest )?(?:accent|accents|climax|peak)(?: (?:falls|falling|lands|landing|is|comes|coming|strikes|striking))?' +
    '(?: (?:at|on|in|near|after|exactly at|exactly on))?(?: (?:the|its))?(?: (?:very|next|following))?',
);
const ACCENT_ADJECTIVE = wordPattern('(late|early) accents?');
/** "2 bars at 84 to the accent", "run-up of 2 bars": the accent closes the length. */
const TO_ACCENT = wordPattern(
  '(?:(?:up to|to|before|until|into) (?:the |its )?(?:main )?(?:accent|peak|climax)|into the downbeat|run[- ]?up(?: of)?)',
);
/** "a cut at 1.85 s", "blow after 2 beats": the accent by what makes it, where a time follows. */
const STRUCK_AT = wordPattern('(?:cut|stop|blow|strike|stroke|top|crest|highpoint)(?: (?:at|after|on))');
const LANDING = wordPattern('(?:landing|lands|to land) on(?: the)?(?: (?:next|following))?');
const SHARES = [
  [0, wordPattern('(?:start|beginning|front|head)')],
  [0.5, wordPattern('(?:middle|centre|center|midpoint|halfway)')],
  [1, wordPattern('(?:end|ending|close|last)')],
] as const;
const DOWNBEAT = wordPattern('(?:downbeats?|bar ?lines?)');
const OF_BAR = /(?: (?:of|in)(?: the)?)? ?/y;
const BAR = /bar /y;
const BEAT = /beat /y;
const ORDINALS = ['first', 'second', 'third', 'fourth', 'fifth', 'sixth', 'seventh', 'eighth', 'ninth', 'tenth'];
const ORDINAL = `(\\d{1,3})(?:st|nd|rd|th)|(${ORDINALS.join('|')})`;
const ORDINAL_BAR = wordPattern(`(?:${ORDINAL}) bar`);
const ORDINAL_BEAT = wordPattern(`(?:${ORDINAL}) beat`);
const PERCENT = /(\d{1,3}(?:[.,]\d{1,2})?) ?(?:%|percent(?![\p{L}\p{N}]))/uy;

export const accentRule: Rule = (reader, at) => {
  const adjective = reader.match(at, ACCENT_ADJECTIVE);
  if (adjective) {
    const share = adjective.groups[0] === 'late' ? 1 : 0;
    return { value: { kind: 'accent', at: { unit: 'share', share } }, end: adjective.end };
  }
  const closing = reader.match(at, TO_ACCENT);
  if (closing) return { value: { kind: 'accent', at: { unit: 'share', share: 1 } }, end: closing.end };
  const accent = reader.match(at, ACCENT);
  const landing = accent ? null : reader.match(at, LANDING);
  const struck = accent || landing ? null : reader.match(at, STRUCK_AT);
  if (struck) {
    const time = readMomentAfterLength(reader, reader.skipSpace(struck.end));
    return time && { value: { kind: 'accent', at: time.value }, end: time.end };
  }
  const moment = accent
    ? readMoment(reader, reader.skipSpace(accent.end))
    : landing && readScorePlace(reader, reader.skipSpace(landing.end));
  return moment && { value: { kind: 'accent', at: moment.value }, end: moment.end };
};

function readMoment(reader: Reader, at: number): Found<Moment> | null {
  const share = firstOf(reader, at, SHARES);
  if (share) return { value: { unit: 'share', share: share.value }, end: share.end };
  const percent = reader.match(at, PERCENT);
  if (percent) {
    const value = Math.round(Number(percent.groups[0].replace(',', '.')) * 100) / 1e4;
    return value <= 1 ? { value: { unit: 'share', share: value }, end: percent.end } : null;
  }
  return readScorePlace(reader, at) ?? readMomentAfterLength(reader, at);
}

/** "downbeat", "downbeat of bar 3", "beat 3", "third beat of bar 2", "bar 3 beat 2.5". */
function readScorePlace(reader: Reader, at: number): Found<Moment> | null {
  const downbeat = reader.match(at, DOWNBEAT);
  const barAfter = downbeat && readBar(reader, afterOf(reader, downbeat.end));
  if (downbeat && !barAfter) {
    const counting = readCounting(reader, downbeat.end);
    return { value: { unit: 'downbeat', ...counting.value }, end: counting.end };
  }
  const bar = barAfter ?? readBar(reader, at);
  const beat = downbeat ? null : readBeat(reader, bar ? reader.skipSpace(bar.end) : at);
  const barAtEnd = beat && !bar ? readBar(reader, afterOf(reader, beat.end)) : null;
  const end = Math.max(bar?.end ?? 0, beat?.end ?? 0, barAtEnd?.end ?? 0);
  if (end === 0 || !reader.endsWord(end)) return null;
  const position = { bar: bar?.value ?? barAtEnd?.value ?? 1, beat: beat?.value ?? 1 };
  if (!Number.isInteger(position.bar) || position.bar < 1 || position.beat < 1) return null;
  if (position.bar > MAXIMUM_PLACE || position.beat > MAXIMUM_PLACE) return null;
  const counting = readCounting(reader, end);
  return { value: { unit: 'position', ...position, ...counting.value }, end: counting.end };
}

const MAXIMUM_PLACE = 9999;

function readBar(reader: Reader, at: number): Found<number> | null {
  return readLabelled(reader, at, BAR, ORDINAL_BAR);
}

function readBeat(reader: Reader, at: number): Found<number> | null {
  return readLabelled(reader, at, BEAT, ORDINAL_BEAT);
}

function afterOf(reader: Reader, at: number): number {
  return reader.matchInside(at, OF_BAR)?.end ?? at;
}

/** "bar 3" or "third bar". */
function readLabelled(reader: Reader, at: number, label: RegExp, ordinal: RegExp): Found<number> | null {
  const counted = reader.match(at, ordinal);
  if (counted) {
    const [figures, word] = counted.groups;
    return { value: figures === '' ? ORDINALS.indexOf(word) + 1 : Number(figures), end: counted.end };
  }
  const start = reader.matchInside(at, label);
  return start && readNumber(reader, start.end);
}

/** "1.5 s" into the sound, or the place reached after "2 bars at 84". */
function readMomentAfterLength(reader: Reader, at: number): Found<Moment> | null {
  const length = readLength(reader, at);
  if (!length) return null;
  const { value, end } = length;
  if (value.unit === 'seconds') return { value: { unit: 'seconds', seconds: value.seconds }, end };
  if (!Number.isInteger(value.bars)) return null;
  const { bars, beats, metre, tempo } = value;
  return { value: { unit: 'position', bar: bars + 1, beat: beats + 1, metre, tempo }, end };
}
