/** Keeps the address bar in step with the page, so that what is seen can be passed on and gone back to. */
import { questionText, type Store, speedAsked, writeLink } from './state.ts';

const REST_MILLISECONDS = 250;

export class LinkKeeper {
  private readonly store: Store;
  private readonly idOf: (sound: number) => string;
  private timer = 0;
  private pushes = false;

  constructor(store: Store, idOf: (sound: number) => string) {
    this.store = store;
    this.idOf = idOf;
  }

  /** Writes the link once things rest; `push` makes it a step one can go back to. */
  write(push: boolean): void {
    this.pushes ||= push;
    window.clearTimeout(this.timer);
    this.timer = window.setTimeout(() => this.put(), REST_MILLISECONDS);
  }

  private put(): void {
    const state = this.store.get();
    const hash = writeLink({
      question: questionText(state),
      shape: state.shape,
      soundId: state.sound < 0 ? null : this.idOf(state.sound),
      alikeIds: state.alikeFrom.map(this.idOf),
      speed: state.speed === speedAsked(state.query) ? null : state.speed,
      alsoAt: state.alsoAt,
      pane: state.pane === 'list' ? null : state.pane,
      mapView: state.mapView,
      atSeconds: null,
    });
    const { pushes } = this;
    this.pushes = false;
    if (hash === window.location.hash) return;
    const address = hash || window.location.pathname + window.location.search;
    try {
      if (pushes) window.history.pushState(null, '', address);
      else window.history.replaceState(null, '', address);
    } catch {
      // A browser that allows no history on file:// still shows the page; only the link is then not kept up.
    }
  }
}
