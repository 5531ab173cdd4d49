/** All rules of a question, in the order in which they are asked. */
import { accidentalSemitones, parseNote } from '../music.ts';
import { GESTURES, type Gesture } from '../sound.ts';
import { COLOUR_WORDS, type ColourName } from './colours.ts';
import { type Found, firstOf } from './quantities.ts';
import { fold, type Reader, wordPattern } from './reader.ts';
import type { Rule } from './rule.ts';
import { ABOUT, accentRule, lengthRangeRule, lengthRule, metreRule, tempoRule, varispeedRule } from './time-rules.ts';

const PITCH_PREFIX = wordPattern('(?:root note|root|note|tuned to|pitched? at|pitch|key of)');
const NOTE = wordPattern('([a-g])((?:##|bb|[#♯b♭]| ?(?:sharp|flat) ?)?)(-1|\\d)');
const PITCH_CLASS = wordPattern('([a-g])((?:[#♯b♭]| ?sharp(?! attack)| ?flat)?)');
const HERTZ = wordPattern('(\\d{1,6}(?:[.,]\\d{1,3})?) ?(k?)(?:hz|hertz)');
const HIGHEST_NOTE = 127;

const pitchRule: Rule = (reader, at) => {
  const about = reader.match(at, ABOUT);
  const afterAbout = reader.skipSpace(about?.end ?? at);
  const prefix = reader.match(afterAbout, PITCH_PREFIX);
  const start = reader.skipSpace(prefix?.end ?? afterAbout);
  const near = about !== null;
  const hertz = reader.match(start, HERTZ);
  if (hertz) {
    const value = Number(hertz.groups[0].replace(',', '.')) * (hertz.groups[1] === 'k' ? 1000 : 1);
    const rounded = Math.round(value * 1000) / 1000;
    if (rounded < 1 || rounded > 100_000) return null;
    return { value: { kind: 'pitch', target: { unit: 'hertz', hertz: rounded }, near }, end: hertz.end };
  }
  const note = reader.match(start, NOTE);
  if (note) {
    const [letter, accidental, octave] = note.groups;
    const noteNumber = parseNote(letter + accidentalSign(accidental) + octave);
    if (noteNumber === null || noteNumber < 0 || noteNumber > HIGHEST_NOTE) return null;
    return { value: { kind: 'pitch', target: { unit: 'note', noteNumber }, near }, end: note.end };
  }
  const named = reader.match(start, PITCH_CLASS);
  if (!named || !isPitchClass(reader, start, named.end, prefix !== null, named.groups[1])) return null;
  const natural = parseNote(`${named.groups[0]}0`) ?? 0;
  const pitchClass = (natural + accidentalSemitones(accidentalSign(named.groups[1])) + 12) % 12;
  return { value: { kind: 'pitch', target: { unit: 'class', pitchClass }, near }, end: named.end };
};

/**
 * A letter alone is no note ("a" is mostly an article): it takes "note" before it, a sharp sign, or a capital with its
 * accidental, as in "Bb" and "A flat".
 */
function isPitchClass(reader: Reader, start: number, end: number, prefixed: boolean, accidental: string): boolean {
  if (prefixed || accidental === '#' || accidental === '♯' || accidental === '♭') return true;
  return accidental !== '' && /^[A-G]/.test(reader.asTyped(start, end));
}

function accidentalSign(said: string): string {
  const trimmed = said.trim();
  if (trimmed === 'sharp') return '#';
  return trimmed === 'flat' ? 'b' : trimmed;
}

const GESTURE_FORMS: Readonly<Record<Gesture, string>> = {
  hit: 'hits?',
  swell: 'swells?|swelling',
  riser: 'risers?|rising',
  drone: 'drones?|droning',
  pulse: 'pulses?|pulsing|pulsating',
  phrase: 'phrases?',
  fade: 'fades?|fading|fade[ -]?outs?',
};
const GESTURE_PATTERNS = GESTURES.map((gesture) => [gesture, wordPattern(`(?:${GESTURE_FORMS[gesture]})`)] as const);

const gestureRule: Rule = (reader, at) => {
  const found = firstOf(reader, at, GESTURE_PATTERNS);
  return found && { value: { kind: 'gesture', gesture: found.value }, end: found.end };
};

const COLOUR_OF_SAID = new Map<string, ColourName>(COLOUR_WORDS);
const COLOUR = wordPattern(`(${COLOUR_WORDS.map(([said]) => said).join('|')})`);

const colourRule: Rule = (reader, at) => {
  const found = reader.match(at, COLOUR);
  const colour = found && COLOUR_OF_SAID.get(found.groups[0]);
  return found && colour ? { value: { kind: 'colour', colour }, end: found.end } : null;
};

const FORMATS: readonly (readonly [name: string, pattern: RegExp])[] = [
  ['wav', wordPattern('(?:format )?wav(?: files?)?')],
  ['aiff', wordPattern('(?:format )?aiff?(?: files?)?')],
  ['flac', wordPattern('(?:format )?flac(?: files?)?')],
  ['mp3', wordPattern('(?:format )?mp3(?: files?)?')],
  ['ogg vorbis', wordPattern('(?:format )?(?:ogg vorbis|ogg|vorbis)(?: files?)?')],
  ['opus', wordPattern('(?:format )?opus(?: files?)?')],
];

const formatRule: Rule = (reader, at) => {
  const found = firstOf(reader, at, FORMATS);
  return found && { value: { kind: 'format', format: found.value }, end: found.end };
};

const MISSING = [
  ['rights', wordPattern('(?:(?:no|without|missing) rights|rights (?:missing|unknown))')],
  ['owner', wordPattern('(?:(?:no|without|missing) owner|owner (?:missing|unknown))')],
  ['tags', wordPattern('(?:untagged|(?:no|without|missing) tags|tags missing)')],
] as const;

const missingRule: Rule = (reader, at) => {
  const found = firstOf(reader, at, MISSING);
  return found && { value: { kind: 'missing', what: found.value }, end: found.end };
};

const USE = [
  [false, wordPattern('(?:fresh|unused|never used|not used|not yet used)')],
  [true, wordPattern('(?:already used|used)')],
] as const;

const useRule: Rule = (reader, at) => {
  const found = firstOf(reader, at, USE);
  return found && { value: { kind: 'use', used: found.value }, end: found.end };
};

const NAMED = [
  ['tag', wordPattern('(?:tagged|tag)(?: as)?:?')],
  ['rights', wordPattern('rights:?')],
  ['owner', wordPattern('(?:owned by|owner|belonging to):?')],
] as const;

const namedRule: Rule = (reader, at) => {
  const label = firstOf(reader, at, NAMED);
  const name = label && readName(reader, reader.skipSpace(label.end));
  return name && { value: { kind: label.value, text: name.value }, end: name.end };
};

/** Quoted text, or one piece up to the next space. */
function readName(reader: Reader, at: number): Found<string> | null {
  const quoted = reader.quoted(at);
  if (quoted) return { value: quoted.groups[0], end: quoted.end };
  const piece = reader.piece(at);
  return /[\p{L}\p{N}]/u.test(piece.groups[0]) ? { value: piece.groups[0], end: piece.end } : null;
}

/** In the order they are tried: what takes more words first. */
export const CONTENT_RULES: readonly Rule[] = [
  missingRule,
  useRule,
  accentRule,
  lengthRangeRule,
  lengthRule,
  varispeedRule,
  tempoRule,
  metreRule,
  pitchRule,
  gestureRule,
  colourRule,
  formatRule,
  namedRule,
];

const IN_SESSION = wordPattern('(in|from|session)(?: session)?(?: named)?:?');
const ARTICLE = wordPattern('(?:the|a|an|any|some)');

/**
 * "in boathouse": one piece, quoted text, or a known session's whole name. What another rule understands after "in" is
 * not a session ("in dark", "from 2 to 4 s"), nor is what follows an article, unless a session is so named.
 */
export function sessionRule(sessions: readonly string[]): Rule {
  const folded = sessions
    .map(fold)
    .filter((name) => name.trim() !== '')
    .sort((a, b) => b.length - a.length);
  return (reader, at) => {
    const start = reader.match(at, IN_SESSION);
    if (!start) return null;
    const nameAt = reader.skipSpace(start.end);
    const known = folded.find((name) => reader.text.startsWith(name, nameAt) && reader.endsWord(nameAt + name.length));
    if (known !== undefined) {
      const end = nameAt + known.length;
      return { value: { kind: 'session', text: reader.asTyped(nameAt, end) }, end };
    }
    if (reader.quoted(nameAt) === null && start.groups[0] !== 'session') {
      if (reader.match(nameAt, ARTICLE) || CONTENT_RULES.some((rule) => rule(reader, nameAt))) return null;
    }
    const name = readName(reader, nameAt);
    return name && { value: { kind: 'session', text: name.value }, end: name.end };
  };
}
