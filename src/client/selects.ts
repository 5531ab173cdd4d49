/** The selects: kept in the browser, listed in their pane, carried away as a file. */
import { archive, byId, make, onClick } from './dom.ts';
import { plural, seconds, semitones } from './format.ts';
import type { KeptLists } from './kept-lists.ts';
import { toSheet } from './pick-up-list.ts';
import type { PickUps } from './pick-ups.ts';
import { fromJson, type Select, toCsv, toJson, toPlaylist } from './select-list.ts';
import type { Shapes } from './shapes.ts';
import type { Store } from './state.ts';

export interface SelectsActs {
  choose: (sound: number) => void;
  say: (sentence: string, ...acts: HTMLElement[]) => void;
  /** Marks in the list and on the bench follow. */
  changed: () => void;
}

/** Rows shown at first and added at a time: thousands at once would hold up every change. */
const ROWS = 200;

export class Selects {
  private readonly store: Store;
  private readonly shapes: Shapes;
  private readonly lists: KeptLists;
  private readonly pickUps: PickUps;
  private readonly acts: SelectsActs;
  private readonly pane = byId('pane-selects');
  private ids = new Set<string>();
  private rows = ROWS;

  constructor(store: Store, shapes: Shapes, lists: KeptLists, pickUps: PickUps, acts: SelectsActs) {
    this.store = store;
    this.shapes = shapes;
    this.lists = lists;
    this.pickUps = pickUps;
    this.acts = acts;
    lists.onChange(() => this.renew());
    this.renew();
  }

  private get list(): readonly Select[] {
    return this.lists.get().selects;
  }

  has(sound: number): boolean {
    return this.ids.has(this.shapes.shelf.text('id', sound));
  }

  toggle(sound: number): void {
    if (sound < 0) return;
    const id = this.shapes.shelf.text('id', sound);
    const at = this.list.findIndex((select) => select.id === id);
    if (at >= 0) this.remove(at);
    else {
      this.change([...this.list, this.selectOf(sound)]);
      this.acts.say(`${this.shapes.name(sound)} is among the selects (${this.list.length}).`);
    }
  }

  private selectOf(sound: number): Select {
    const { shelf } = this.shapes;
    const [place] = shelf.places(sound);
    return {
      id: shelf.text('id', sound),
      name: this.shapes.name(sound),
      session: shelf.text('session', sound),
      file: place?.file ?? shelf.text('file', sound),
      folder: place?.folder ?? '',
      startSeconds: place?.startSeconds ?? 0,
      durationSeconds: this.shapes.duration(sound),
      heardSeconds: this.shapes.heardSeconds(sound),
      semitones: this.store.get().speed,
      note: '',
      rights: shelf.text('rights', sound) || null,
    };
  }

  private remove(at: number): void {
    const before = this.list;
    const [gone] = before.slice(at, at + 1);
    this.change(before.filter((_, index) => index !== at));
    const undo = make('button', { type: 'button' }, 'Undo');
    onClick(undo, () => {
      const restored = [...this.list];
      restored.splice(at, 0, gone);
      this.change(restored);
      this.acts.say(`${gone.name} is back.`);
    });
    this.acts.say(`${gone.name} is no longer a select.`, undo);
  }

  private move(at: number, by: number): void {
    const list = [...this.list];
    const [moved] = list.splice(at, 1);
    list.splice(at + by, 0, moved);
    this.change(list);
    this.pane.querySelectorAll<HTMLElement>('.select-item .open')[at + by]?.focus();
  }

  private change(selects: readonly Select[]): void {
    this.lists.change({ selects });
  }

  private renew(): void {
    this.ids = new Set(this.list.map(({ id }) => id));
    byId('selects-tally').textContent = this.list.length > 0 ? String(this.list.length) : '';
    this.fill();
    this.acts.changed();
  }

  private fill(): void {
    const lost = this.lists.kept
      ? null
      : make('p', { role: 'alert' }, 'This browser does not keep the selects. Export them before you close the page.');
    const items = make(
      'ol',
      { 'aria-label': 'Selects, in order' },
      ...this.list.slice(0, this.rows).map((select, at) => this.item(select, at)),
    );
    const hidden = this.list.length - this.rows;
    const more = make('button', { type: 'button', class: 'more-selects' }, `Show more (${hidden} not shown)`);
    onClick(more, () => {
      const first = this.rows;
      this.rows += ROWS;
      this.fill();
      this.pane.querySelectorAll<HTMLElement>('.select-item .open')[first]?.focus();
    });
    const total = this.list.reduce((sum, { heardSeconds }) => sum + heardSeconds, 0);
    this.pane.replaceChildren(
      make('h2', {}, 'Selects'),
      make(
        'p',
        { class: 'sub' },
        this.list.length === 0
          ? 'None yet. The key s takes the sound in hand.'
          : `${plural(this.list.length, 'take')}, ${seconds(total)}`,
      ),
      ...(lost ? [lost] : []),
      items,
      ...(hidden > 0 ? [more] : []),
      ...this.pickUps.elements(),
      this.files(),
    );
  }

  private item(select: Select, at: number): HTMLElement {
    const sound = this.shapes.shelf.find(select.id);
    const open = make('button', { type: 'button', class: 'open' }, archive(select.name));
    if (sound < 0) open.disabled = true;
    onClick(open, () => this.acts.choose(sound));
    const facts = [
      seconds(select.heardSeconds),
      select.semitones === 0 ? null : `at ${semitones(select.semitones)}`,
      sound < 0 ? 'not on this shelf' : null,
    ];
    const note = make('input', {
      type: 'text',
      value: select.note,
      placeholder: 'note',
      'aria-label': `Note on ${select.name}`,
    });
    note.addEventListener('input', () => {
      const selects = this.list.map((other) => (other.id === select.id ? { ...other, note: note.value } : other));
      this.lists.changeQuietly({ selects });
    });
    const act = (label: string, sign: string, disabled: boolean, run: () => void): HTMLElement => {
      const button = make('button', { type: 'button', 'aria-label': `${label}: ${select.name}`, disabled }, sign);
      onClick(button, run);
      return button;
    };
    return make(
      'li',
      { class: 'select-item' },
      make('span', { class: 'place' }, `${at + 1}`),
      make(
        'div',
        {},
        open,
        make(
          'div',
          { class: 'sub' },
          archive(select.session),
          ` · ${facts.filter((fact) => fact !== null).join(' · ')}`,
        ),
        note,
      ),
      make(
        'div',
        { class: 'acts' },
        act('Earlier', '↑', at === 0, () => this.move(at, -1)),
        act('Later', '↓', at === this.list.length - 1, () => this.move(at, 1)),
        act('Remove', '×', false, () => this.remove(at)),
      ),
    );
  }

  private files(): HTMLElement {
    const bar = make('div', { class: 'bar', role: 'group', 'aria-label': 'Carry away or bring in' });
    const lists = this.lists.get();
    const leave = (label: string, name: string, type: string, write: () => string): void => {
      const button = make('button', { type: 'button' }, `Export ${label}`);
      onClick(button, () => download(name, `${type};charset=utf-8`, write()));
      bar.append(button);
    };
    const has = { selects: lists.selects.length > 0, pickUps: lists.pickUps.length > 0 };
    if (has.selects || has.pickUps) leave('CSV', 'selects.csv', 'text/csv', () => toCsv(this.lists.get()));
    if (has.selects) leave('M3U8', 'selects.m3u8', 'audio/mpegurl', () => toPlaylist(this.list));
    if (has.selects || has.pickUps) leave('JSON', 'selects.json', 'application/json', () => toJson(this.lists.get()));
    if (has.pickUps) leave('recording sheet', 'pick-ups.txt', 'text/plain', () => toSheet(this.lists.get().pickUps));
    const input = make('input', {
      type: 'file',
      accept: '.json,application/json',
      class: 'unseen',
      id: 'import-selects',
    });
    input.addEventListener('change', () => {
      const [file] = input.files ?? [];
      if (file) void this.bringIn(file);
    });
    bar.append(make('label', { class: 'button', for: 'import-selects' }, 'Import JSON', input));
    return bar;
  }

  private async bringIn(file: File): Promise<void> {
    try {
      const before = this.lists.get();
      this.lists.add(fromJson(await file.text()));
      const after = this.lists.get();
      const selects = plural(after.selects.length - before.selects.length, 'select');
      const pickUps = plural(after.pickUps.length - before.pickUps.length, 'pick-up');
      this.acts.say(`${selects} and ${pickUps} came in.`);
    } catch (problem) {
      this.acts.say(problem instanceof Error ? problem.message : String(problem));
    }
  }
}

function download(name: string, type: string, text: string): void {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const link = make('a', { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  // The browser has the download in hand by the next turn.
  window.setTimeout(() => URL.revokeObjectURL(address), 1000);
}
