/** Criteria on what people wrote: words, gesture, session, tags, format, rights, owner, use. */
import { GESTURES } from '../sound.ts';
import type { ChipOf } from './chips.ts';
import type { Criterion, Reason, Scene } from './criterion.ts';
import { LEFT_OUT } from './fit.ts';
import type { MatchKind, WordField, WordMatch, WordReason } from './word-score.ts';

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

export function wordCriterion(chip: ChipOf<'word'>, { index }: Scene): Criterion {
  return fromMatch(index.match(chip.text, undefined, chip.negated), chip.text, 1);
}

/** A name asked for in one field only: "in Boathouse", "tagged metal". */
export function fieldCriterion(text: string, field: WordField, negated: boolean, { index }: Scene): Criterion {
  return fromMatch(index.match(text, [field], negated), text, 0.5);
}

function fromMatch(match: WordMatch, asked: string, weight: number): Criterion {
  const scores = match.scores.map((score) => (score > 0 ? score : LEFT_OUT));
  return {
    weight,
    measured: false,
    scores,
    full: 0,
    reason(sound) {
      const reason = match.reason(sound);
      return reason && wordReason(reason, asked);
    },
  };
}

/** A sound that is named after the gesture but was measured otherwise still answers, after those that were measured so. */
const NAMED_GESTURE = 0.6;

export function gestureCriterion({ gesture }: ChipOf<'gesture'>, { columns, index }: Scene): Criterion {
  const wanted = GESTURES.indexOf(gesture);
  const named = index.match(gesture, undefined, true);
  const scores = new Float32Array(columns.count);
  for (let sound = 0; sound < scores.length; sound++) {
    const isNamed = named.scores[sound] > 0;
    if (columns.gesture[sound] === wanted) scores[sound] = isNamed ? 1 : 0.9;
    else scores[sound] = isNamed ? NAMED_GESTURE * named.scores[sound] : LEFT_OUT;
  }
  return {
    weight: 0.8,
    measured: false,
    scores,
    full: 0,
    reason(sound) {
      if (columns.gesture[sound] === wanted) return { text: gesture, fits: true };
      const reason = named.reason(sound);
      return reason && wordReason(reason, gesture);
    },
  };
}

export function missingCriterion({ what }: ChipOf<'missing'>, { index }: Scene): Criterion {
  const filled = index.filledIn(what);
  const text = what === 'tags' ? 'untagged' : `${what} missing`;
  return plainFact((sound) => filled[sound] === 0, index.count, text);
}

/** null where it is not known what was used: then the chip asks nothing. */
export function useCriterion(chip: ChipOf<'use'>, { columns, used }: Scene): Criterion | null {
  return used && plainFact((sound) => (used[sound] === 1) === chip.used, columns.count, chip.used ? 'used' : 'fresh');
}

/** A criterion that is true or false of a sound. */
export function plainFact(isTrue: (sound: number) => boolean, count: number, text: string): Criterion {
  const scores = new Float32Array(count);
  for (let sound = 0; sound < count; sound++) scores[sound] = isTrue(sound) ? 1 : LEFT_OUT;
  return {
    weight: 0.2,
    measured: false,
    scores,
    full: 0,
    reason: (sound) => (scores[sound] === LEFT_OUT ? null : { text, fits: true }),
  };
}
