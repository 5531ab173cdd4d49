/** Criteria on what people wrote: words, session, tags, format, rights, owner, use. */
import type { ChipOf } from './chips.ts';
import { type Criterion, plainFact, type Scene } from './criterion.ts';
import { LEFT_OUT } from './fit.ts';
import { meaningOf } from './word-meaning.ts';
import { wordReason } from './word-reason.ts';
import { PLAIN_FIELDS, type WordField, type WordMatch } from './word-score.ts';

/** Words that help where they are written, and keep nothing out where they are not, unless they are all that is asked. */
const SMALL_WORDS =
  /^(?:away|out|off|up|down|over|along|again|back|through|across|together|slowly|quickly|gently|folder|file|session|take|takes|one|single|little|more|less|then|going|made|played|recorded)$/i;

/** What a word means counts less than the word itself in what people wrote. */
const MEANT = 0.6;

/** How far what is not wanted and stands in the notes pushes a sound back. */
const NOTED = 0.5;
/** Where a word stands that is not wanted. */
const OWN_FIELDS = PLAIN_FIELDS.filter((field) => field !== 'description');

export function wordCriterion(chip: ChipOf<'word'>, isAlone: boolean, scene: Scene): Criterion {
  if (chip.negated) return unwanted(chip, scene);
  const match = scene.index.match(chip.text);
  const weight = namesPlace(match.found, chip.text, scene) ? PLACE_WEIGHT : 1;
  const named = { ...fromMatch(match, chip.text, weight), said: chip.text };
  if (!isAlone && SMALL_WORDS.test(chip.text)) return hint(named);
  const meant = meaningOf(chip.text, scene);
  if (meant === null) return named;
  const scores = named.scores.map((score, sound) =>
    meant.scores[sound] > 0 ? Math.max(score, meant.scores[sound] * MEANT) : score,
  );
  return {
    ...named,
    scores,
    reason: (sound) => (named.scores[sound] === scores[sound] ? named : meant).reason(sound),
  };
}

/** Of the sounds that have the word, this share have it in their session: it is the name of a place. */
const PLACE_SHARE = 0.8;
const PLACE_WEIGHT = 1.5;

/**
 * A take without the label "slide" may be a slide all the same, but one of another session is not of this one: what
 * names a place counts more.
 */
function namesPlace(found: number, text: string, { index }: Scene): boolean {
  return found > 0 && index.match(text, ['session'], true).found >= PLACE_SHARE * found;
}

/** A name asked for in one field only: "in Boathouse", "tagged metal". */
export function fieldCriterion(
  text: string,
  fields: readonly WordField[],
  negated: boolean,
  { index }: Scene,
): Criterion {
  return fromMatch(index.match(text, fields, negated), text, 0.5);
}

/** "in the bucket" reads like "in Boathouse"; where no session is so called it is a word like any other. */
export function sessionCriterion(chip: ChipOf<'session'>, scene: Scene): Criterion {
  const isSession = chip.negated || scene.index.match(chip.text, ['session']).found > 0;
  return fieldCriterion(chip.text, isSession ? ['session'] : PLAIN_FIELDS, chip.negated, scene);
}

/**
 * "Not blown" leaves out what is named, tagged or filed so. Notes often speak of a whole session ("struck, then blown"):
 * what has the word there only comes last.
 */
function unwanted(chip: ChipOf<'word'>, { index }: Scene): Criterion {
  const own = index.match(chip.text, OWN_FIELDS, true);
  const noted = fromMatch(index.match(chip.text, ['description'], true), chip.text, 1);
  const scores = own.scores.map((score, sound) => (score > 0 ? LEFT_OUT : noted.scores[sound] > 0 ? 0 : 1));
  return {
    ...noted,
    weight: NOTED,
    scores,
    reason(sound) {
      const reason = noted.reason(sound);
      return reason && { ...reason, fits: false };
    },
  };
}

/** Adds to the score of sounds that answer and leaves none out. */
function hint(criterion: Criterion): Criterion {
  const scores = criterion.scores.map((score) => Math.max(0, score));
  return { ...criterion, weight: criterion.weight * 0.2, scores };
}

function fromMatch(match: WordMatch, asked: string, weight: number): Criterion {
  const scores = match.scores.map((score) => (score > 0 ? score : LEFT_OUT));
  return {
    weight,
    measured: false,
    scores,
    full: 0,
    said: null,
    reason(sound) {
      const reason = match.reason(sound);
      return reason && wordReason(reason, asked);
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
