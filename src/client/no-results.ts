/** When nothing or next to nothing is found: which piece of the question leaves most out, and ways to leave it out. */
import type { Asking } from './asking.ts';
import { archive, make, onClick } from './dom.ts';
import { plural } from './format.ts';
import { questionText } from './state.ts';

const SHOWN_OFFERS = 4;
/** Up to so many results the page offers to ask for less. */
export const FEW_RESULTS = 3;

interface Offer {
  piece: string;
  /** Sounds it would find. */
  found: number;
  button: HTMLElement;
}

/**
 * Offers to leave out one piece, the one that leaves most out first; where no one piece is to blame, each piece by
 * itself. `take` is called with the pieces that are to stay.
 */
export function offersForNothing(
  asking: Asking,
  soundCount: number,
  question: string,
  take: (pieces: readonly string[]) => void,
): HTMLElement[] {
  const all = asking.pieces(question);
  const offer = (words: string, piece: string, kept: readonly string[]): Offer => {
    const found = kept.length === 0 ? soundCount : asking.count(questionText({ pieces: kept, typed: '' }));
    const button = make('button', { type: 'button' }, words, archive(piece), `: ${plural(found, 'sound')}`);
    onClick(button, () => take(kept));
    return { piece, found, button };
  };
  const others = (at: number): string[] => all.filter((_, other) => other !== at);
  const without = best(all.map((piece, at) => offer('Leave out ', piece, others(at))));
  const alone = without.length > 0 ? [] : best(all.map((piece) => offer('Only ', piece, [piece])));
  const hint = make('p');
  if (without.length > 0) hint.append('Most is left out by ', archive(without[0].piece), '.');
  else if (alone.length > 0) hint.append('No one piece is to blame: they do not meet in any sound.');
  else hint.append('No sound answers any part of it.');
  const anew = make('button', { type: 'button' }, 'Ask anew');
  onClick(anew, () => take([]));
  const buttons = [...without, ...alone].slice(0, SHOWN_OFFERS).map(({ button }) => button);
  return [hint, ...buttons, anew];
}

/** Below a few results: the pieces without which there would be more. */
export function offersForFew(
  asking: Asking,
  question: string,
  found: number,
  take: (pieces: readonly string[]) => void,
): HTMLElement[] {
  const all = asking.pieces(question);
  if (all.length < 2) return [];
  const offers = all.map((piece, at): Offer => {
    const kept = all.filter((_, other) => other !== at);
    const more = asking.count(questionText({ pieces: kept, typed: '' }));
    const button = make('button', { type: 'button' }, 'Leave out ', archive(piece), `: ${plural(more, 'sound')}`);
    onClick(button, () => take(kept));
    return { piece, found: more, button };
  });
  const wider = best(offers).filter((offer) => offer.found > found);
  return wider.slice(0, SHOWN_OFFERS).map(({ button }) => button);
}

const best = (offers: Offer[]): Offer[] => offers.filter(({ found }) => found > 0).sort((a, b) => b.found - a.found);
