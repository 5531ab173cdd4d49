/** Typing slips: one letter wrong, missing, too many, or two neighbours swapped. */

/** Shorter words have too many neighbours: one letter off "hit" is "bit", "hat" and "his". */
export const SHORTEST_SLIP = 5;

export type Slip = 'whole' | 'beginning';

/**
 * Whether `typed` is `word` with exactly one slip ("whole"), or a slip on the way to it while still typing
 * ("beginning": typed with one slip matches the word's first letters). null where it is neither, or where the two are
 * equal. This is the restricted Damerau-Levenshtein distance of 1, decided in one pass.
 */
export function slipOf(typed: string, word: string): Slip | null {
  const typedLength = typed.length;
  const wordLength = word.length;
  if (wordLength < SHORTEST_SLIP || typedLength < SHORTEST_SLIP - 1 || typedLength > wordLength + 1) return null;
  let at = 0;
  const shorter = Math.min(typedLength, wordLength);
  while (at < shorter && typed.charCodeAt(at) === word.charCodeAt(at)) at++;
  if (at === typedLength) return typedLength === wordLength - 1 ? 'whole' : null;
  if (at === wordLength) return 'whole';
  const candidates = [
    restMatches(typed, at, word, at + 1),
    restMatches(typed, at + 1, word, at),
    restMatches(typed, at + 1, word, at + 1),
    typed[at] === word[at + 1] && typed[at + 1] === word[at] ? restMatches(typed, at + 2, word, at + 2) : null,
  ];
  if (candidates.includes('whole')) return 'whole';
  return candidates.includes('beginning') && typedLength >= SHORTEST_SLIP ? 'beginning' : null;
}

/** How the rest of what was typed, from `typedAt`, compares with the word from `wordAt`. */
function restMatches(typed: string, typedAt: number, word: string, wordAt: number): Slip | null {
  if (!word.startsWith(typed.slice(typedAt), wordAt)) return null;
  return typed.length - typedAt === word.length - wordAt ? 'whole' : 'beginning';
}
