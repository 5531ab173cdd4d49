/** Says in which field a word was found, and by what likeness. */
import type { Reason } from './criterion.ts';
import type { MatchKind, WordField, WordReason } from './word-score.ts';

const FIELD_NAMES: Readonly<Record<WordField, string>> = {
  name: 'name',
  tags: 'tag',
  session: 'session',
  description: 'notes',
  file: 'folder',
  rights: 'rights',
  owner: 'owner',
  format: 'format',
};

/** How each kind of match is explained; `asked` is the word as typed. */
const KIND_NOTES: Readonly<Record<MatchKind, (asked: string) => string>> = {
  word: () => '',
  form: () => '',
  beginning: () => '',
  alike: (asked) => `, like ${asked}`,
  kind: (asked) => `, a kind of ${asked}`,
  inside: () => '',
  slip: (asked) => `, for ${asked}`,
  'slip beginning': (asked) => `, for ${asked}`,
  ear: (asked) => `, sounds like ${asked}`,
};

/** Matches that may be meant; alone they make a weak answer. */
const DISTANT: ReadonlySet<MatchKind> = new Set(['slip', 'slip beginning', 'ear']);

export function wordReason({ field, text, kind }: WordReason, asked: string): Reason {
  return {
    text: `${FIELD_NAMES[field]}: ${text}${KIND_NOTES[kind](asked)}`,
    fits: !DISTANT.has(kind),
  };
}
