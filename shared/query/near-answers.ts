/**
 * What to show where no sound answers every word of a question.
 *
 * "Chair pulled over the floor" names one chair that nobody has labelled with a floor. Figures, limits, sessions and "not"
 * are plain conditions and keep leaving out; but a word may be missing from what was written, and a gesture or a colour is
 * a matter of degree. So sounds that hold all conditions and answer most of what was said are taken, and each reason tells
 * what they lack.
 */
import type { Criterion } from './criterion.ts';
import { LEFT_OUT } from './fit.ts';

/** Of all that any sound answers, this share must be answered, and at least two pieces: one word of two is too little. */
const LEAST_SHARE = 0.45;
const LEAST_PIECES = 2;
/** What a word weighs that most sounds answer; one that few answer weighs up to 1 more. */
const COMMON = 0.6;

/** The criteria softened; null where there is nothing to soften. */
export function softened(criteria: readonly Criterion[], count: number): Criterion[] | null {
  const said = criteria.filter((criterion) => criterion.said !== null);
  const conditions = criteria.filter((criterion) => criterion.said === null);
  if (said.length < 2) return null;
  const weights = said.map((criterion) => rarity(criterion.scores));
  const answered = new Float32Array(count);
  const all = said.reduce((sum, criterion, at) => sum + weights[at] * criterion.weight, 0);
  for (let sound = 0; sound < count; sound++) {
    if (conditions.some(({ scores }) => scores[sound] === LEFT_OUT)) continue;
    let pieces = 0;
    for (let at = 0; at < said.length; at++) {
      if (said[at].scores[sound] === LEFT_OUT) continue;
      answered[sound] += weights[at] * said[at].weight;
      pieces++;
    }
    if (pieces < LEAST_PIECES) answered[sound] = 0;
  }
  const enough: Criterion = {
    weight: 0,
    measured: false,
    scores: answered.map((share) => (share > 0 && share >= LEAST_SHARE * all ? 1 : LEFT_OUT)),
    full: 0,
    said: null,
    reason: () => null,
  };
  const soft = said.map((criterion, at) => soften(criterion, weights[at]));
  return [...conditions.map((criterion) => ({ ...criterion, measured: false })), ...soft, enough];
}

function soften(criterion: Criterion, rarityWeight: number): Criterion {
  const { scores, said, weight } = criterion;
  return {
    ...criterion,
    measured: false,
    weight: weight * rarityWeight,
    scores: scores.map((score) => Math.max(0, score)),
    reason: (sound) => (scores[sound] === LEFT_OUT ? { text: `not ${said}`, fits: false } : criterion.reason(sound)),
  };
}

/** 0 where no sound answers, as then it tells none from another; else COMMON for a word of all sounds, rising to 1 + COMMON for one. */
function rarity(scores: Float32Array): number {
  let found = 0;
  for (let sound = 0; sound < scores.length; sound++) if (scores[sound] !== LEFT_OUT) found++;
  if (found === 0) return 0;
  return COMMON + (scores.length > 1 ? Math.log(scores.length / found) / Math.log(scores.length) : 1);
}
