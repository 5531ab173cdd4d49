/** How well measurements agree with the labels of the made-up sounds. */
import type { Movement } from '../../shared/measure/movement.ts';
import type { LabelledSound } from './labelled-set.ts';

/** Accents that rise this far above their surroundings must be found. */
export const CLEAR_ACCENT_DB = 6;
/** Window of one-to-one matching of onsets, common to published onset evaluations (mir_eval, MIREX). */
export const MATCH_SECONDS = 0.05;

export interface AccentCount {
  found: number;
  missed: number;
  invented: number;
}

type Truth = Pick<LabelledSound, 'accents' | 'softStartSeconds'>;

/**
 * Found, missed and invented accents, matched one to one within MATCH_SECONDS (largest matching: both lists in order of
 * time, so the greedy pairing of earliest with earliest is the largest). Weak accents and soft beginnings may be
 * found or not; neither counts.
 */
export function countAccents(truth: Truth, found: Movement['accents']): AccentCount {
  const clear = truth.accents
    .filter((accent) => accent.prominenceDb >= CLEAR_ACCENT_DB)
    .map((accent) => accent.seconds);
  const optional = [
    ...truth.accents.filter((accent) => accent.prominenceDb < CLEAR_ACCENT_DB).map((accent) => accent.seconds),
    ...truth.softStartSeconds,
  ].sort((a, b) => a - b);
  const first = pair(
    clear,
    found.map((accent) => accent.seconds),
  );
  const second = pair(optional, first.rest);
  return { found: first.pairs, missed: clear.length - first.pairs, invented: second.rest.length };
}

export function fMeasure({ found, missed, invented }: AccentCount): number {
  return found === 0 ? 0 : (2 * found) / (2 * found + missed + invented);
}

function pair(truth: readonly number[], candidates: readonly number[]): { pairs: number; rest: number[] } {
  const rest: number[] = [];
  let pairs = 0;
  let i = 0;
  for (const seconds of candidates) {
    while (i < truth.length && truth[i] < seconds - MATCH_SECONDS) i++;
    if (i < truth.length && truth[i] <= seconds + MATCH_SECONDS) {
      pairs++;
      i++;
    } else rest.push(seconds);
  }
  return { pairs, rest };
}
