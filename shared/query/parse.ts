/**
 * Understands a question of words and numbers mixed: "metal swipe, two bars at 84, accent at end, dark".
 *
 * The text is read from left to right. At each place the rules below are tried in order; the first that understands
 * takes what it understood and makes a chip of it. What no rule understands stays a word. Order, case and accents
 * do not matter, and neither do the small words of a sentence.
 */
import type { Metre, Tempo } from '../music.ts';
import type { Chip, ChipContent, Length, Moment, Query } from './chips.ts';
import { describeChip, writeContent } from './describe.ts';
import { hasWord, Reader, wordPattern } from './reader.ts';
import type { Rule } from './rule.ts';
import { CONTENT_RULES, sessionRule } from './rules.ts';

export interface ParseContext {
  /** Used by bars and beats where the text itself gives no tempo or metre. */
  tempoBpm?: number;
  metre?: Metre;
  /** Known names of sessions, so that "in old mill" takes both words. */
  sessions?: readonly string[];
}

/**
 * A question is read up to so many pieces and characters: each piece is asked of every sound, and a link that was made to
 * be long would hold up the page.
 */
export const MOST_PIECES = 40;
export const LONGEST_QUESTION = 2000;

export function parseQuery(text: string, context: ParseContext = {}): Query {
  const readable = withinLimit(text);
  const reader = new Reader(readable);
  const rules = [...CONTENT_RULES, sessionRule(context.sessions ?? [])];
  const pieces: Piece[] = [];
  let at = reader.skipToWord(0);
  while (at < reader.text.length && pieces.length < MOST_PIECES) {
    const piece = readPiece(reader, at, rules);
    if (piece.content) pieces.push(piece);
    at = reader.skipToWord(Math.max(piece.end, at + 1));
  }
  const stoppedAt = at < reader.text.length ? reader.span(at, at)[0] : readable.length;
  const leftOffAt = stoppedAt < text.length ? stoppedAt : null;
  const kept = leftOffAt === null ? withoutPendingEnd(pieces) : pieces;
  const counting = countingOf(kept, context);
  const chips = kept.flatMap(({ content, negated, start, end }): Chip[] => {
    if (!content) return [];
    const counted = withCounting(content, counting);
    return [{ ...counted, negated, span: reader.span(start, end), ...describeChip(counted, negated) }];
  });
  return { text, chips, tempo: counting.tempo, metre: counting.metre, leftOffAt };
}

/** As much of a text as is read: up to the last space within the limit, or the limit where there is none. */
function withinLimit(text: string): string {
  if (text.length <= LONGEST_QUESTION) return text;
  const start = text.slice(0, LONGEST_QUESTION);
  const space = start.search(/\s\S*$/);
  return space > 0 ? start.slice(0, space) : start;
}

/** Text that is understood as this chip. */
export function chipToText(chip: ChipContent & { negated: boolean }): string {
  const prefix = chip.negated ? 'not ' : '';
  const plain = prefix + writeContent(chip, bare);
  const understood = parseQuery(plain).chips;
  if (understood.length === 1 && sameChip(understood[0], chip)) return plain;
  return prefix + writeContent(chip, quote);
}

/** Whether two chips ask the same, wherever they stand in their texts. */
export function sameChip(a: ChipContent & { negated: boolean }, b: ChipContent & { negated: boolean }): boolean {
  return JSON.stringify(asked(a)) === JSON.stringify(asked(b));
}

function asked(chip: ChipContent & { negated: boolean }): unknown {
  const { span: _span, label: _label, detail: _detail, ...rest } = chip as Chip;
  return Object.entries(rest).sort(([a], [b]) => (a < b ? -1 : 1));
}

const bare = (text: string) => text;
const quote = (text: string) => `"${text}"`;

interface Piece {
  /** null for the small words of a sentence. */
  content: ChipContent | null;
  negated: boolean;
  start: number;
  end: number;
  /** A word such as "under" or "not" that waits for what is still to be typed. */
  pending: boolean;
}

const NEGATION =
  /(?:but )?(?:(?:not|no|without|never|non|excluding|except(?: for)?)(?: (?:too|very|so|a|an|any|the))* +|non-)/y;
const FILLER = wordPattern(
  '(?:a|an|the|and|with|of|for|to|some|any|that|which|is|are|has|have|be|very|quite|rather|please|sounds?|sounding|' +
    'something|anything|in|at|on|it|its|but|or|from|into|by|as|like|then|where|when|just|only|this|these|those|his|her|' +
    'my|our|(?:kind|sort|type) of|a bit|i|we|need|want|find|looking|give|me)',
);
const PENDING = wordPattern(
  '(?:under|over|below|above|about|around|near|between|not|no|without|tagged|tag|session|owned|rights|less|more|' +
    'shorter|longer|tempo)(?: (?:than|by|of))?',
);

function readPiece(reader: Reader, at: number, rules: readonly Rule[]): Piece {
  const understood = readContent(reader, at, rules);
  if (understood) return { ...understood, negated: false, start: at, pending: false };
  const negation = reader.matchInside(at, NEGATION);
  if (negation) {
    const start = reader.skipToWord(negation.end);
    const inner = readContent(reader, start, rules) ?? readWord(reader, start);
    if (inner.content?.kind === 'use') {
      const content: ChipContent = { kind: 'use', used: !inner.content.used };
      return { content, end: inner.end, negated: false, start: at, pending: false };
    }
    if (inner.content && canBeNegated(inner.content)) return { ...inner, negated: true, start: at, pending: false };
  }
  const filler = reader.match(at, FILLER);
  if (filler) return { content: null, negated: false, start: at, end: filler.end, pending: false };
  const pending = reader.match(at, PENDING);
  return { ...readWord(reader, at), negated: false, start: at, pending: pending !== null };
}

interface Understood {
  content: ChipContent | null;
  end: number;
}

function readContent(reader: Reader, at: number, rules: readonly Rule[]): Understood | null {
  const quoted = reader.quoted(at);
  if (quoted) return { content: { kind: 'word', text: quoted.groups[0] }, end: quoted.end };
  for (const rule of rules) {
    const found = rule(reader, at);
    if (found) return { content: found.value, end: found.end };
  }
  return null;
}

function readWord(reader: Reader, at: number): Understood {
  const piece = reader.piece(at);
  const text = piece.groups[0];
  return { content: hasWord(text) ? { kind: 'word', text } : null, end: piece.end };
}

/** Tempo and metre say how to count and leave nothing out; varispeed likewise. */
function canBeNegated({ kind }: ChipContent): boolean {
  return kind !== 'tempo' && kind !== 'metre' && kind !== 'varispeed';
}

/** While "metal under 2s" is being typed, "under" is no word to look for yet. Alone it may be one. */
function withoutPendingEnd(pieces: readonly Piece[]): readonly Piece[] {
  const last = pieces.at(-1);
  return last?.pending && pieces.length > 1 ? pieces.slice(0, -1) : pieces;
}

interface Counting {
  tempo: Tempo | null;
  metre: Metre | null;
  /** Metre for what names a tempo and no metre: only one that was set on purpose, never one from beside. */
  setMetre: Metre | null;
}

/** By what to count: a chip of its own first, then what stands beside any length or place, then the context. */
function countingOf(pieces: readonly Piece[], context: ParseContext): Counting {
  const beside = pieces.flatMap(({ content }) => (content ? countedParts(content) : []));
  let tempo: Tempo | null = null;
  let metre: Metre | null = null;
  for (const { content } of pieces) {
    if (content?.kind === 'tempo') tempo = content.tempo;
    if (content?.kind === 'metre') metre = content.metre;
  }
  const contextTempo: Tempo | null =
    context.tempoBpm !== undefined && context.tempoBpm > 0 ? { bpm: context.tempoBpm, note: null } : null;
  const contextMetre = context.metre ?? null;
  return {
    tempo: tempo ?? beside.find((part) => part.tempo)?.tempo ?? contextTempo,
    metre: metre ?? beside.find((part) => part.metre)?.metre ?? contextMetre,
    setMetre: metre ?? contextMetre,
  };
}

function countedParts(content: ChipContent): { tempo: Tempo | null; metre: Metre | null }[] {
  const parts: (Length | Moment)[] = [];
  if (content.kind === 'length') parts.push(content.length);
  if (content.kind === 'length-range') parts.push(content.from, content.to);
  if (content.kind === 'accent') parts.push(content.at);
  return parts.flatMap((part) => ('tempo' in part ? [part] : []));
}

/** The content with tempo and metre filled in where it counts by them and names none itself. */
function withCounting(content: ChipContent, { tempo, metre, setMetre }: Counting): ChipContent {
  const fill = <T extends Length | Moment>(part: T): T =>
    'tempo' in part
      ? { ...part, tempo: part.tempo ?? tempo, metre: part.metre ?? (part.tempo ? setMetre : metre) }
      : part;
  if (content.kind === 'length') return { ...content, length: fill(content.length) };
  if (content.kind === 'length-range') return { ...content, from: fill(content.from), to: fill(content.to) };
  if (content.kind === 'accent') return { ...content, at: fill(content.at) };
  return content;
}
