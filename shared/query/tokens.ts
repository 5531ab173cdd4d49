/** Cuts names, tags and questions into words: "MetalSwipe_017-03.wav" is metal, swipe, 17, 3, wav. */
import { noteName, parseNote } from '../music.ts';
import { fold } from './reader.ts';

/** A capital run before a capitalised word ("DPA" in "DPAMic"), a word, a capital run, or figures. */
const PART = /\p{Lu}+(?=\p{Lu}\p{Ll})|\p{Lu}?[\p{Ll}\p{Lo}\p{Lm}]+|\p{Lu}+|\p{Nd}+/gu;
/** Letters with single hyphens between, which people also write as one word: "tam-tam", "tamtam". */
const RUN = /\p{L}+(?:[-’']\p{L}+)*/gu;

/** A note with its octave, standing alone: "C2", "F#3", "Bb1". */
const NOTE = /(?<![\p{L}\p{N}#♯♭])[A-Ga-g](?:[#♯♭b]?)\d(?![\p{L}\p{N}])/gu;

/** The one word a note is kept as, however it is spelled: Bb1 and A#1 are both "a#1". */
export function noteToken(noteNumber: number): string {
  return noteName(noteNumber).toLowerCase();
}

/**
 * Words in the order they stand, folded, figures without leading zeros. With `compounds`, a word that was cut at a
 * capital or a hyphen is also given whole, after its parts, and notes are given as such.
 */
export function tokenise(text: string, compounds = false): string[] {
  const composed = text.normalize('NFC');
  const tokens: string[] = [];
  for (const [part] of composed.matchAll(PART)) pushFolded(tokens, part);
  if (!compounds) return tokens;
  for (const [note] of composed.matchAll(NOTE)) {
    const noteNumber = parseNote(note);
    if (noteNumber !== null) tokens.push(noteToken(noteNumber));
  }
  if (/\p{Ll}\p{Lu}|[-’']/u.test(composed)) {
    for (const [run] of composed.matchAll(RUN)) {
      const parts = run.match(PART);
      if (parts && parts.length > 1) pushFolded(tokens, parts.join(''));
    }
  }
  return tokens;
}

function pushFolded(tokens: string[], part: string): void {
  const token = /^\p{Nd}/u.test(part) ? part.normalize('NFKC').replace(/^0+(?=.)/, '') : fold(part);
  if (token !== '') tokens.push(token);
}

export function isFigures(token: string): boolean {
  return /^\p{Nd}+$/u.test(token);
}

const DAYS = [
  ['monday', 'mon'],
  ['tuesday', 'tue', 'tues'],
  ['wednesday', 'wed'],
  ['thursday', 'thu', 'thurs'],
  ['friday', 'fri'],
  ['saturday', 'sat'],
  ['sunday', 'sun'],
];
const NUMBER_WORDS = 'one two three four five six seven eight nine ten eleven twelve'.split(' ');

/**
 * Other spellings of the same word: singular and plural, by the regular rules of English, days of the week short and in
 * full, and figures in letters. Not
 * the reverse, as figures mostly number takes. The word itself is left out.
 */
export function otherForms(word: string): string[] {
  const day = DAYS.find((names) => names.includes(word));
  if (day) return day.filter((name) => name !== word);
  if (isFigures(word)) return NUMBER_WORDS.filter((_name, at) => at + 1 === Number(word));
  if (word.length < 3) return [];
  const singulars = [word.slice(0, -1), word.slice(0, -2), `${word.slice(0, -3)}y`];
  return [...new Set([...plurals(word), ...singulars.filter((form) => plurals(form).includes(word))])];
}

function plurals(word: string): string[] {
  if (word.length < 2) return [];
  if (/(?:s|x|z|sh)$/.test(word)) return [`${word}es`];
  if (/ch$/.test(word)) return [`${word}es`, `${word}s`];
  return /[^aeiou]y$/.test(word) ? [`${word.slice(0, -1)}ies`] : [`${word}s`];
}
