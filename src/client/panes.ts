/** The panes beside the list and their tabs. On a narrow screen the list is one of them. */
import { byId, onClick } from './dom.ts';
import { PANES, type PaneName, readLink, type Store } from './state.ts';

type Filled = 'sound' | 'alike';

/** As in the style sheet. */
const NARROW = '(max-width: 880px)';

export class Panes {
  private readonly store: Store;
  private readonly fill: Record<Filled, (sound: number) => void>;
  private readonly opened: () => void;
  /** Panes whose content no longer fits the sound in hand; filled when seen, so that moving through the list costs nothing. */
  private readonly stale = new Set<Filled>(['sound', 'alike']);

  /** `opened` is called when a person, not a link, opened a pane. */
  constructor(store: Store, fill: Record<Filled, (sound: number) => void>, opened: () => void) {
    this.store = store;
    this.fill = fill;
    this.opened = opened;
    store.on(['pane'], () => this.show());
    this.listenTabs();
    this.followWidth();
  }

  open(pane: PaneName): void {
    this.store.set({ pane });
    this.opened();
  }

  /** Fills these anew, at once where one is seen. */
  renew(...panes: readonly Filled[]): void {
    for (const pane of panes) this.stale.add(pane);
    this.fillSeen();
  }

  private show(): void {
    const { pane } = this.store.get();
    byId('find').dataset.pane = pane;
    for (const name of PANES) {
      const tab = byId(`tab-${name}`);
      tab.setAttribute('aria-selected', String(name === pane));
      tab.tabIndex = name === pane ? 0 : -1;
      if (name !== 'list') byId(`pane-${name}`).hidden = name !== pane;
    }
    this.fillSeen();
  }

  private fillSeen(): void {
    const { pane, sound } = this.store.get();
    if ((pane === 'sound' || pane === 'alike') && this.stale.delete(pane)) this.fill[pane](sound);
  }

  private listenTabs(): void {
    const tabs = PANES.map((name) => ({ name, tab: byId(`tab-${name}`) }));
    for (const { name, tab } of tabs) {
      onClick(tab, () => this.open(name));
      tab.addEventListener('keydown', (event) => {
        const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
        if (by === undefined) return;
        const shown = tabs.filter((other) => other.tab.offsetParent !== null);
        const at = shown.findIndex((other) => other.tab === tab);
        const next = shown[(at + by + shown.length) % shown.length];
        event.preventDefault();
        this.open(next.name);
        next.tab.focus();
      });
    }
  }

  /** The list is a pane only where there is no room beside it. */
  private followWidth(): void {
    const narrow = matchMedia(NARROW);
    const choose = () => {
      const { pane } = this.store.get();
      if (narrow.matches && pane === 'map') this.store.set({ pane: 'list' });
      else if (!narrow.matches && pane === 'list') this.store.set({ pane: 'map' });
    };
    narrow.addEventListener('change', choose);
    if (readLink(window.location.hash).pane === null) choose();
  }
}
