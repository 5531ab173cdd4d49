/** What a question asks for, one thing at a time: its chips, with those that belong together taken as one. */
import type { Chip, Query } from './chips.ts';
import { type Criterion, eitherOf, leavingOut, type Scene } from './criterion.ts';
import { gestureCriterion } from './gesture-criterion.ts';
import { namedTempoCriterion } from './named-tempo.ts';
import { colourCriterion, pitchCriterion } from './sound-criteria.ts';
import {
  accentCriterion,
  lengthCriterion,
  lengthRangeCriterion,
  pulseCriterion,
  pulseTempo,
  type TimeGoal,
} from './time-criteria.ts';
import { fieldCriterion, missingCriterion, sessionCriterion, useCriterion, wordCriterion } from './word-criteria.ts';

/** Chips of one kind that name alternatives: "hits and swells" asks for either. */
const ALTERNATIVES: ReadonlySet<Chip['kind']> = new Set(['gesture', 'session', 'format', 'pitch', 'rights', 'owner']);

/** "2 s or 4 s" asks for either, "over 2 s, under 4 s" for both. */
function namesAlternative(chip: Chip): boolean {
  if (chip.negated) return false;
  return ALTERNATIVES.has(chip.kind) || (chip.kind === 'length' && (chip.fit === 'exact' || chip.fit === 'about'));
}

/** One thing asked for: a chip, several that name alternatives, or what chips come to together. */
export interface Wish {
  /** Its answer is another at another speed. */
  moves: boolean;
  /** null where it asks nothing of a sound by itself. */
  criterion(goal: TimeGoal, scene: Scene): Criterion | null;
}

export function wishesOf({ chips, tempo }: Query): Wish[] {
  const groups = new Map<Chip['kind'] | Chip, Chip[]>();
  for (const chip of chips) {
    const group = namesAlternative(chip) ? chip.kind : chip;
    groups.set(group, [...(groups.get(group) ?? []), chip]);
  }
  const wishes = [...groups.values()].map(
    (group): Wish => ({
      moves: HEARD_UNDER_VARISPEED.has(group[0].kind),
      criterion(goal, scene) {
        const criteria = group.flatMap((chip) => {
          const criterion = criterionOf(chip, chips.length === 1, goal, scene);
          // "Not" of a word is more than leaving out: see wordCriterion.
          return criterion ? [chip.negated && chip.kind !== 'word' ? leavingOut(criterion) : criterion] : [];
        });
        return criteria.length > 0 ? eitherOf(criteria) : null;
      },
    }),
  );
  const together: Wish[] = [];
  if (pulseTempo(chips) !== null) {
    together.push({ moves: true, criterion: (_, scene) => pulseCriterion(chips, scene) });
  }
  if (tempo && wishes.length > 0) {
    together.push({ moves: false, criterion: (_, scene) => namedTempoCriterion(tempo, scene) });
  }
  return [...wishes, ...together];
}

const HEARD_UNDER_VARISPEED: ReadonlySet<Chip['kind']> = new Set([
  'length',
  'length-range',
  'accent',
  'colour',
  'pitch',
]);

/** null for chips that ask nothing of a sound by themselves. */
function criterionOf(chip: Chip, isAlone: boolean, goal: TimeGoal, scene: Scene): Criterion | null {
  switch (chip.kind) {
    case 'word':
      return wordCriterion(chip, isAlone, scene);
    case 'length':
      return lengthCriterion(chip, goal, scene);
    case 'length-range':
      return lengthRangeCriterion(chip, scene);
    case 'accent':
      return accentCriterion(chip, goal, scene);
    case 'gesture':
      return gestureCriterion(chip, scene);
    case 'colour':
      return colourCriterion(chip, scene);
    case 'pitch':
      return pitchCriterion(chip, scene);
    case 'session':
      return sessionCriterion(chip, scene);
    case 'tag':
      return fieldCriterion(chip.text, ['tags'], chip.negated, scene);
    case 'format':
      return fieldCriterion(chip.format, ['format'], chip.negated, scene);
    case 'rights':
      return fieldCriterion(chip.text, ['rights'], chip.negated, scene);
    case 'owner':
      return fieldCriterion(chip.text, ['owner'], chip.negated, scene);
    case 'missing':
      return missingCriterion(chip, scene);
    case 'use':
      return useCriterion(chip, scene);
    case 'tempo':
    case 'metre':
    case 'varispeed':
      return null;
  }
}
