/** The pick-ups: wishes that no take answered, listed under the selects, asked again, annotated, taken off. */
import { archive, make, onClick } from './dom.ts';
import { plural, unbroken } from './format.ts';
import type { KeptLists } from './kept-lists.ts';
import { isSameWish, type PickUp, type Wished } from './pick-up-list.ts';

export interface PickUpsActs {
  /** Asks the wish again. */
  ask: (pickUp: PickUp) => void;
  say: (sentence: string, ...acts: HTMLElement[]) => void;
}

export class PickUps {
  private readonly lists: KeptLists;
  private readonly acts: PickUpsActs;

  constructor(lists: KeptLists, acts: PickUpsActs) {
    this.lists = lists;
    this.acts = acts;
  }

  has(wish: Wished): boolean {
    return this.lists.get().pickUps.some((pickUp) => isSameWish(pickUp, wish));
  }

  add(pickUp: PickUp): void {
    const { pickUps } = this.lists.get();
    if (this.has(pickUp)) {
      this.acts.say('This is on the pick-up list already.');
      return;
    }
    this.lists.change({ pickUps: [...pickUps, pickUp] });
    this.acts.say(`On the pick-up list: ${pickUp.wish} (${pickUps.length + 1}).`);
  }

  /** The part of the pane that shows them. */
  elements(): HTMLElement[] {
    const { pickUps } = this.lists.get();
    const heading = make('h2', { id: 'pick-ups' }, 'Pick-ups');
    if (pickUps.length === 0) {
      return [
        heading,
        make('p', { class: 'sub' }, 'None yet. The key p writes down what is asked for, to be recorded.'),
      ];
    }
    return [
      heading,
      make('p', { class: 'sub' }, `${plural(pickUps.length, 'sound')} still to be recorded`),
      make('ol', { 'aria-label': 'Pick-ups' }, ...pickUps.map((pickUp, at) => this.item(pickUp, at))),
    ];
  }

  private item(pickUp: PickUp, at: number): HTMLElement {
    const ask = make('button', { type: 'button', class: 'open', title: 'Ask for it again' }, archive(pickUp.wish));
    onClick(ask, () => this.acts.ask(pickUp));
    const lines = [pickUp.figures.join(' · '), pickUp.nearest && `nearest then: ${pickUp.nearest}`];
    const note = make('input', {
      type: 'text',
      value: pickUp.note,
      placeholder: 'note',
      'aria-label': `Note on ${pickUp.wish}`,
    });
    note.addEventListener('input', () => {
      const pickUps = this.lists
        .get()
        .pickUps.map((other) => (other.id === pickUp.id ? { ...other, note: note.value } : other));
      this.lists.changeQuietly({ pickUps });
    });
    const remove = make('button', { type: 'button', 'aria-label': `Take off: ${pickUp.wish}` }, '×');
    onClick(remove, () => this.remove(pickUp.id));
    return make(
      'li',
      { class: 'select-item' },
      make('span', { class: 'place' }, `${at + 1}`),
      make(
        'div',
        {},
        ask,
        ...lines.filter((line) => line !== '').map((line) => make('div', { class: 'sub' }, archive(unbroken(line)))),
        note,
      ),
      make('div', { class: 'acts' }, remove),
    );
  }

  private remove(id: string): void {
    const { pickUps } = this.lists.get();
    const at = pickUps.findIndex((pickUp) => pickUp.id === id);
    const [gone] = pickUps.slice(at, at + 1);
    if (!gone) return;
    this.lists.change({ pickUps: pickUps.filter((pickUp) => pickUp.id !== id) });
    const undo = make('button', { type: 'button' }, 'Undo');
    onClick(undo, () => {
      const restored = [...this.lists.get().pickUps];
      restored.splice(at, 0, gone);
      this.lists.change({ pickUps: restored });
      this.acts.say(`${gone.wish} is on the pick-up list again.`);
    });
    this.acts.say(`${gone.wish} is off the pick-up list.`, undo);
  }
}
