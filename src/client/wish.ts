/** When nothing fits: says so plainly under the list and offers to write the wish down, with its figures, to be recorded. */

import { archive, byId, make, onClick } from './dom.ts';
import { unbroken } from './format.ts';
import type { PickUp, Wished } from './pick-up-list.ts';
import { type Answered, missesOf, pickUpOf, wishOf } from './pick-up-of.ts';

export interface WishSource {
  answered: () => Answered;
  has: (wish: Wished) => boolean;
  add: (pickUp: PickUp) => void;
  say: (sentence: string) => void;
  showList: () => void;
}

/** The sentence waits for the hands to rest: half a word answers nothing, and nobody asked half a word. */
const REST_MILLISECONDS = 350;

export class Wish {
  private readonly source: WishSource;
  private readonly band = byId('wish');
  private resting = 0;

  constructor(source: WishSource) {
    this.source = source;
  }

  /** After every question, and after the pick-up list changed. */
  renew(): void {
    window.clearTimeout(this.resting);
    const answered = this.source.answered();
    if (wishOf(answered).wish === '' || !answered.weak) this.band.hidden = true;
    else this.resting = window.setTimeout(() => this.show(), REST_MILLISECONDS);
  }

  /** Writes the wish down, however well it was answered. */
  write(): void {
    const answered = this.source.answered();
    if (wishOf(answered).wish === '')
      this.source.say('Ask for something in words, or draw its shape; then p writes it on the pick-up list.');
    else this.source.add(pickUpOf(answered, new Date()));
    this.renew();
  }

  private show(): void {
    const answered = this.source.answered();
    const isKnown = this.source.has(wishOf(answered));
    const act = make('button', { type: 'button' }, isKnown ? 'Show the pick-up list' : 'Put it on the pick-up list');
    onClick(act, () => (isKnown ? this.source.showList() : this.write()));
    const key = isKnown ? [] : [make('kbd', { 'aria-hidden': 'true' }, 'p')];
    this.band.replaceChildren(make('p', {}, ...sentenceOf(answered, isKnown)), act, ...key);
    this.band.hidden = false;
  }
}

function sentenceOf({ nearest }: Answered, isKnown: boolean): (string | HTMLElement)[] {
  if (isKnown) return ['Nothing fits quite; it is on the pick-up list.'];
  if (!nearest) return ['Not on the shelf: it may be one to record.'];
  const misses = missesOf(nearest.reasons);
  return ['Nothing fits quite. Nearest: ', archive(nearest.name), misses === '' ? '.' : `, ${unbroken(misses)}.`];
}
