/** Two takes on one key: the one in hand, and the other. */
import type { Store } from '../state.ts';
import { otherOf } from './settings.ts';

export class Pair {
  private readonly store: Store;
  private swapping = false;

  /** Made before those that follow the sound in hand, so that they find the pair in order. */
  constructor(store: Store) {
    this.store = store;
    store.on(['sound'], ({ pair }, { sound: before }) => {
      const previous = before >= 0 ? before : pair.previous;
      const first = this.swapping ? pair.first : previous;
      store.set({ pair: { ...pair, previous, first, comparing: this.swapping } });
    });
  }

  /** -1 for none. */
  get other(): number {
    const { pair, sound } = this.store.get();
    return otherOf(pair, sound);
  }

  /** True while the sound in hand changes because one went to the other. */
  get isSwapping(): boolean {
    return this.swapping;
  }

  swap(): void {
    const { other } = this;
    if (other < 0) return;
    this.swapping = true;
    this.store.set({ sound: other });
    this.swapping = false;
  }

  /** The sound in hand stays the other until another is kept; kept already, it is let go. Returns whether it is kept now. */
  keep(): boolean {
    const { pair, sound } = this.store.get();
    const kept = pair.kept === sound ? -1 : sound;
    this.store.set({ pair: { ...pair, kept } });
    return kept >= 0;
  }
}
