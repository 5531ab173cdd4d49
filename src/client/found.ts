/** How many sounds answer, and where none or next to none do, what would find more. */
import type { Asking } from './asking.ts';
import { byId, make } from './dom.ts';
import { count, plural } from './format.ts';
import { FEW_RESULTS, offersForFew, offersForNothing } from './no-results.ts';
import { questionText, type Store } from './state.ts';

export interface FoundSource {
  /** Asks for these pieces of the question only. */
  askFor: (pieces: readonly string[]) => void;
  /** Nothing found answers quite what was asked. */
  isWeak: () => boolean;
  /** Whether a sound fits in time as it is; null where the question fixes no time. */
  fits: (sound: number) => boolean | null;
}

/** Offers ask many questions and therefore wait for the hands to rest. */
const REST_MILLISECONDS = 140;

export class Found {
  private readonly store: Store;
  private readonly asking: Asking;
  private readonly soundCount: number;
  private readonly source: FoundSource;
  private offering = 0;

  constructor(store: Store, asking: Asking, soundCount: number, source: FoundSource) {
    this.store = store;
    this.asking = asking;
    this.soundCount = soundCount;
    this.source = source;
  }

  /** After every question. */
  say(): void {
    window.clearTimeout(this.offering);
    const { results, query } = this.store.get();
    const { found } = results;
    const all = this.soundCount;
    const line = byId('count');
    if (query.chips.length === 0) line.replaceChildren(make('b', {}, count(all)), all === 1 ? ' sound' : ' sounds');
    else {
      const rest = query.leftOffAt === null ? '' : `; asked by the first ${plural(query.chips.length, 'piece')} only`;
      line.replaceChildren(make('b', {}, count(found)), ` of ${plural(all, 'sound')}`, this.fitting(found), rest);
    }
    byId('empty').hidden = found > 0;
    byId('fewer').hidden = true;
    if (all === 0) explainEmptyShelf();
    else if (found === 0) this.explainNothing();
    else if (found <= FEW_RESULTS && found < all) this.offerMore(found);
  }

  /** How many of the first results need no bending. */
  private fitting(found: number): string {
    if (this.source.isWeak() && found > 0) return ', none of them quite';
    const { order } = this.store.get().results;
    if (found === 0 || this.source.fits(order[0]) === null) return '';
    let fitting = 0;
    while (fitting < found && this.source.fits(order[fitting])) fitting++;
    if (fitting === 0) return ', none fits as it is';
    return `, ${count(fitting)} ${fitting === 1 ? 'fits as it is' : 'fit as they are'}`;
  }

  private explainNothing(): void {
    const sentence = make('p', { class: 'empty-line' }, 'No sound answers all of this.');
    explain(sentence);
    this.offering = window.setTimeout(() => {
      const question = questionText(this.store.get());
      explain(sentence, ...offersForNothing(this.asking, this.soundCount, question, this.source.askFor));
    }, REST_MILLISECONDS);
  }

  /** Below a few results there is room for what would find more. */
  private offerMore(found: number): void {
    this.offering = window.setTimeout(() => {
      const question = questionText(this.store.get());
      const offers = offersForFew(this.asking, question, found, this.source.askFor);
      byId('fewer').hidden = offers.length === 0;
      byId('fewer').replaceChildren(...offers);
    }, REST_MILLISECONDS);
  }
}

/** Says why there is no list, in its place. */
export function explain(...content: HTMLElement[]): void {
  const empty = byId('empty');
  empty.hidden = false;
  empty.replaceChildren(...content);
}

function explainEmptyShelf(): void {
  explain(
    make('p', { class: 'empty-line' }, 'The shelf is empty.'),
    make('p', {}, 'No sound was found in the archive. The report says which files were met and why they gave none.'),
    make('a', { href: 'report.html' }, 'Open the report'),
  );
}
