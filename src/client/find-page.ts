/** The Find page: puts question, list, map, bench and selects together around one store. */
import type { MusicalFit, MusicalTarget } from '../../shared/query/musical.ts';
import { Shelf } from '../../shared/shelf.ts';
import { AlikePane } from './alike-pane.ts';
import { Asking } from './asking.ts';
import { Bench } from './bench.ts';
import { Controls } from './controls.ts';
import { archive, byId, make, onClick } from './dom.ts';
import { type FitWords, fitWords, musicalFit, targetOf } from './fit-words.ts';
import { count, plural, semitones } from './format.ts';
import { type KeyAction, startKeys } from './keys.ts';
import { List, type RowWords } from './list.ts';
import { type MapDirection, SoundMap } from './map.ts';
import { Question } from './question.ts';
import { bytesOf, take } from './receive.ts';
import { missing } from './report-page.ts';
import { Selects } from './selects.ts';
import { Shapes } from './shapes.ts';
import { fillSoundPane } from './sound-pane.ts';
import { PANES, type PaneName, questionText, readLink, Store, writeLink } from './state.ts';
import { onRepaint, startTheme } from './theme.ts';

export function startFind(): void {
  const nextTheme = startTheme(byId('theme'));
  const packed = take<string>('shelf');
  if (packed === undefined) {
    explain(...missing('data/shelf.js'));
    startKeys([]);
    return;
  }
  try {
    new FindPage(new Shelf(bytesOf(packed)), take<string>('words'), nextTheme);
  } catch (problem) {
    explain(
      make('p', { class: 'empty-line' }, 'The data of this site cannot be read.'),
      make('p', {}, problem instanceof Error ? problem.message : String(problem)),
    );
    throw problem;
  }
}

/** Says why there is no list, in its place. */
function explain(...content: HTMLElement[]): void {
  const empty = byId('empty');
  empty.hidden = false;
  empty.replaceChildren(...content);
}

const LINK_MILLISECONDS = 250;
const AXIS_STEP = 1.25;
const OCTAVE = 12;

class FindPage {
  private readonly store = new Store();
  private readonly shelf: Shelf;
  private readonly shapes: Shapes;
  private readonly asking: Asking;
  private readonly question: Question;
  private readonly list: List;
  private readonly map: SoundMap;
  private readonly bench: Bench;
  private readonly selects: Selects;
  private readonly alike: AlikePane;
  private readonly controls: Controls;
  private shift = 0;
  private weak = false;
  private target: MusicalTarget | null = null;
  /** What the bar lines on the bench stand for. */
  private lines = '';
  private linkTimer = 0;
  private linkPushes = false;
  private readonly stale = new Set<PaneName>(['sound', 'alike']);

  constructor(shelf: Shelf, words: string | undefined, nextTheme: () => void) {
    this.shelf = shelf;
    this.shapes = new Shapes(shelf);
    this.asking = new Asking(shelf, words);
    const { store, shapes } = this;
    const counting = () => store.get().query;
    const targetSeconds = () => this.target?.seconds ?? null;
    const isSelect = (sound: number): boolean => this.selects?.has(sound) ?? false;
    this.question = new Question(store, this.asking, () => this.link(true));
    this.list = new List(
      store,
      shapes,
      { words: (sound) => this.rowWords(sound), targetSeconds, counting, shiftSemitones: () => this.shift, isSelect },
      (row) => this.goTo(row),
    );
    this.bench = new Bench(store, shapes, {
      counting,
      targetSeconds,
      isSelect,
      toggleSelect: (sound) => this.selects.toggle(sound),
    });
    const choose = (sound: number) => this.choose(sound);
    this.selects = new Selects(store, shapes, {
      choose,
      say: (sentence, ...acts) => this.bench.say(sentence, ...acts),
      changed: () => {
        this.list.draw();
        this.bench.markSelect();
      },
    });
    this.map = new SoundMap(store, shapes, choose);
    this.alike = new AlikePane(byId('pane-alike'), shapes, choose);
    this.controls = new Controls(store, this.question, this.asking, () => this.target);
    this.listen();
    startKeys(this.keyActions(nextTheme));
    this.follow();
    if (document.activeElement === document.body || document.activeElement === null) this.question.focus();
    this.redrawWhenFontsCame();
  }

  /** Canvases do not wait for fonts by themselves. */
  private redrawWhenFontsCame(): void {
    const faces = [
      '400 13px "IBM Plex Sans Condensed"',
      '600 13px "IBM Plex Sans Condensed"',
      'italic 400 16px "Source Serif 4"',
    ];
    void Promise.all(faces.map((face) => document.fonts.load(face).catch(() => []))).then(() => {
      this.list.draw();
      this.bench.draw();
      this.store.set({ results: { ...this.store.get().results } });
    });
  }

  private listen(): void {
    const { store } = this;
    store.on(['pieces', 'typed'], () => this.search());
    store.on(['sound', 'speed', 'pane', 'mapView', 'pieces', 'typed'], () => this.link(false));
    store.on(['query', 'speed'], () => {
      this.stale.add('sound');
      this.fillPane();
    });
    store.on(['sound'], ({ sound }) => {
      this.stale.add('sound').add('alike');
      this.fillPane();
      if (sound >= 0) byId('map-here').textContent = this.shapes.spoken(sound);
    });
    store.on(['pane'], () => this.showPane());
    onRepaint(() => {
      this.stale.add('alike');
      this.fillPane();
    });
    this.listenTabs();
    onClick(byId('map-in'), () => this.map.zoomByKey(true));
    onClick(byId('map-out'), () => this.map.zoomByKey(false));
    onClick(byId('map-fit'), () => this.map.fit());
    this.question.input.addEventListener('keydown', (event) => {
      if (event.key === 'ArrowDown') {
        event.preventDefault();
        this.question.takeTraits(true);
        byId('results').focus({ preventScroll: true });
        this.step(this.list.positionOf(store.get().sound) < 0 ? 1 : 0);
      }
    });
    byId('map').addEventListener('keydown', (event) => this.mapKey(event));
    // The first key or click lets the browser open the sound; later ones cost nothing.
    for (const kind of ['keydown', 'pointerdown'] as const)
      document.addEventListener(kind, () => this.bench.wake(), { capture: true });
    window.addEventListener('popstate', () => this.follow());
    window.addEventListener('hashchange', () => this.follow());
  }

  private search(): void {
    const { pieces, typed } = this.store.get();
    const { query, ranking } = this.asking.ask(pieces, typed);
    this.target = targetOf(query);
    this.weak = ranking.weak;
    if (ranking.semitones !== this.shift) {
      this.shift = ranking.semitones;
      this.store.set({ speed: Math.max(-24, Math.min(24, Math.round(this.shift))) });
    }
    this.store.set({ query, axisSeconds: null, results: { order: ranking.order, found: ranking.found } });
    this.sayCount();
    const lines = JSON.stringify([query.tempo, query.metre, this.target?.seconds]);
    if (lines !== this.lines) this.bench.draw();
    this.lines = lines;
  }

  private sayCount(): void {
    const { results, query } = this.store.get();
    const { found } = results;
    const total = plural(this.shelf.count, 'sound');
    const line = byId('count');
    if (query.chips.length === 0)
      line.replaceChildren(make('b', {}, count(this.shelf.count)), this.shelf.count === 1 ? ' sound' : ' sounds');
    else line.replaceChildren(make('b', {}, count(found)), ` of ${total}`, this.fitting(found));
    const empty = byId('empty');
    empty.hidden = found > 0;
    if (this.shelf.count === 0)
      explain(
        make('p', { class: 'empty-line' }, 'The shelf is empty.'),
        make(
          'p',
          {},
          'No sound was found in the archive. The report says which files were met and why they gave none.',
        ),
        make('a', { href: 'report.html' }, 'Open the report'),
      );
    else if (found === 0) this.explainNothing();
  }

  /** How many of the first results need no bending. */
  private fitting(found: number): string {
    if (this.weak && found > 0) return ', none of them quite';
    if (!this.target) return '';
    const { order } = this.store.get().results;
    let fitting = 0;
    while (fitting < found && this.fit(order[fitting]).fits) fitting++;
    return fitting > 0
      ? `, ${count(fitting)} ${fitting === 1 ? 'fits' : 'fit'} as ${fitting === 1 ? 'it is' : 'they are'}`
      : ', none fits as it is';
  }

  /** Which piece leaves most out, and a way to leave that piece out; where no one piece is to blame, each by itself. */
  private explainNothing(): void {
    const { pieces, typed } = this.store.get();
    const all = this.asking.pieces(questionText({ pieces, typed }));
    const offer = (words: string, piece: string, kept: readonly string[]): { found: number; button: HTMLElement } => {
      const found = kept.length === 0 ? this.shelf.count : this.asking.count(questionText({ pieces: kept, typed: '' }));
      const button = make('button', { type: 'button' }, words, archive(piece), `: ${plural(found, 'sound')}`);
      onClick(button, () => {
        this.store.set({ pieces: kept, typed: '' });
        this.question.focus();
        this.link(true);
      });
      return { found, button };
    };
    const best = (offers: { found: number; piece: string; button: HTMLElement }[]) =>
      offers.filter(({ found }) => found > 0).sort((a, b) => b.found - a.found);
    const without = best(
      all.map((piece, at) => ({
        piece,
        ...offer(
          'Leave out ',
          piece,
          all.filter((_, other) => other !== at),
        ),
      })),
    );
    const alone = without.length > 0 ? [] : best(all.map((piece) => ({ piece, ...offer('Only ', piece, [piece]) })));
    const hint = make('p', {});
    if (without.length > 0) hint.append('Most is left out by ', archive(without[0].piece), '.');
    else
      hint.append(
        alone.length > 0
          ? 'No one piece is to blame: they do not meet in any sound.'
          : 'No sound answers any part of it.',
      );
    const clear = make('button', { type: 'button' }, 'Ask anew');
    onClick(clear, () => {
      this.question.clear();
      this.question.focus();
    });
    const buttons = [...without, ...alone].slice(0, 4).map(({ button }) => button);
    explain(make('p', { class: 'empty-line' }, 'No sound answers all of this.'), hint, ...buttons, clear);
  }

  private fit(sound: number): FitWords {
    return fitWords(this.shapes, sound, this.target, this.shift);
  }

  /** Against the question's target, at the speed set. */
  private placing(sound: number): MusicalFit | null {
    return this.target && musicalFit(this.shapes, sound, this.target, this.store.get().speed);
  }

  private rowWords(sound: number): RowWords {
    const fit = this.fit(sound);
    const reasons = this.asking.reasons(sound).map((reason) => reason.text.replace(/(^|[\s(])-(?=\d)/g, '$1−'));
    const origin = [this.shelf.text('session', sound), this.shelf.tags(sound).slice(0, 3).join(', ')]
      .filter((piece) => piece !== '')
      .join(' · ');
    const sub = reasons.length > 0 ? reasons.join(' · ') : origin;
    const atShift = this.shift === 0 || this.target ? fit.note : `at ${semitones(this.shift)}`;
    return { ...fit, note: atShift, sub };
  }

  /** Takes the sound of a row in hand and plays it. */
  private goTo(row: number): void {
    const { order, found } = this.store.get().results;
    if (found === 0) return;
    const at = Math.max(0, Math.min(found - 1, row));
    this.bench.moveTo(
      order[at],
      [order[at + 1], order[at + 2]].filter((next) => next !== undefined),
    );
  }

  private step(by: number): void {
    const row = this.list.positionOf(this.store.get().sound);
    if (row === 0 && by < 0) this.question.focus();
    else this.goTo(row < 0 ? 0 : row + by);
  }

  /** A sound chosen elsewhere than in the list: worth a step in the history. */
  private choose(sound: number): void {
    if (sound < 0) return;
    this.bench.moveTo(sound, []);
    this.link(true);
  }

  private listenTabs(): void {
    const tabs = [...document.querySelectorAll<HTMLElement>('.tabs [role="tab"]')];
    for (const tab of tabs) {
      onClick(tab, () => this.openPane(tab.dataset.pane as PaneName));
      tab.addEventListener('keydown', (event) => {
        const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
        if (by === undefined) return;
        const shown = tabs.filter((other) => other.offsetParent !== null);
        const next = shown[(shown.indexOf(tab) + by + shown.length) % shown.length];
        event.preventDefault();
        this.openPane(next.dataset.pane as PaneName);
        next.focus();
      });
    }
    const narrow = matchMedia('(max-width: 880px)');
    const choosePane = () => {
      const { pane } = this.store.get();
      if (narrow.matches && pane === 'map') this.store.set({ pane: 'list' });
      else if (!narrow.matches && pane === 'list') this.store.set({ pane: 'map' });
    };
    narrow.addEventListener('change', choosePane);
    if (readLink(window.location.hash).pane === null) choosePane();
  }

  private openPane(pane: PaneName): void {
    this.store.set({ pane });
    this.link(true);
  }

  private showPane(): void {
    const { pane } = this.store.get();
    byId('find').dataset.pane = pane;
    for (const name of PANES) {
      const tab = byId(`tab-${name}`);
      tab.setAttribute('aria-selected', String(name === pane));
      tab.tabIndex = name === pane ? 0 : -1;
      if (name !== 'list') byId(`pane-${name}`).hidden = name !== pane;
    }
    this.fillPane();
  }

  /** Panes are filled when seen; what is not looked at costs nothing while one moves through the list. */
  private fillPane(): void {
    const { pane, sound } = this.store.get();
    if (!this.stale.delete(pane)) return;
    if (pane === 'alike') this.alike.show(sound);
    if (pane === 'sound') {
      fillSoundPane(byId('pane-sound'), this.shapes, sound, {
        placing: () => this.placing(sound),
        ask: (text) => this.question.add(text),
        seek: (seconds) => this.bench.seek(seconds),
      });
    }
  }

  private mapKey(event: KeyboardEvent): void {
    const direction = { ArrowLeft: 'left', ArrowRight: 'right', ArrowUp: 'up', ArrowDown: 'down' }[event.key] as
      | MapDirection
      | undefined;
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (direction) this.chooseQuietly(this.map.neighbour(direction));
    else if (event.key === '+' || event.key === '=') this.map.zoomByKey(true);
    else if (event.key === '-') this.map.zoomByKey(false);
    else if (event.key === '0') this.map.fit();
    else if (event.key === 'Enter') this.bench.play();
    else return;
    event.preventDefault();
  }

  private chooseQuietly(sound: number): void {
    if (sound >= 0) this.bench.moveTo(sound, []);
  }

  private zoomAxis(factor: number): void {
    this.store.set({ axisSeconds: Math.max(0.05, Math.min(3600, this.list.spanSeconds * factor)) });
  }

  /** Writes the link a little later; `push` makes it a step one can go back to. */
  private link(push: boolean): void {
    this.linkPushes ||= push;
    window.clearTimeout(this.linkTimer);
    this.linkTimer = window.setTimeout(() => this.writeLink(), LINK_MILLISECONDS);
  }

  private writeLink(): void {
    const state = this.store.get();
    const pane = state.pane === 'list' ? null : state.pane;
    const soundId = state.sound < 0 ? null : this.shelf.text('id', state.sound);
    const hash = writeLink({
      question: questionText(state),
      soundId,
      speed: state.speed,
      pane,
      mapView: state.mapView,
      atSeconds: null,
    });
    const push = this.linkPushes;
    this.linkPushes = false;
    if (hash === window.location.hash) return;
    const address = hash || window.location.pathname + window.location.search;
    try {
      if (push) window.history.pushState(null, '', address);
      else window.history.replaceState(null, '', address);
    } catch {
      // A browser that allows no history on file:// still shows the page; only the link is then not kept up.
    }
  }

  /** Does what the link says: at the start, and when one goes back or forward. */
  private follow(): void {
    const link = readLink(window.location.hash);
    const known = questionText(this.store.get()) === link.question;
    if (!known || this.store.get().results.order.length === 0) {
      const { chips } = this.asking.parse(link.question);
      const words = chips.filter(({ kind }) => kind === 'word').length === chips.length;
      const pieces = this.asking.pieces(link.question);
      this.store.set(words ? { pieces: [], typed: link.question } : { pieces, typed: '' });
      this.search();
    }
    this.store.set({ speed: link.speed, mapView: link.mapView, ...(link.pane ? { pane: link.pane } : {}) });
    const sound = link.soundId === null ? -1 : this.shelf.find(link.soundId);
    if (link.soundId !== null && sound < 0)
      this.bench.say(`This link names a sound that is not on this shelf (${link.soundId}).`);
    if (sound >= 0 || link.soundId === null) this.store.set({ sound });
    if (sound >= 0 && link.atSeconds !== null) this.bench.seek(link.atSeconds);
  }

  private keyActions(nextTheme: () => void): KeyAction[] {
    const { store, bench } = this;
    const results = byId('results');
    const pane = (name: PaneName, focus: string) => () => {
      this.openPane(name);
      byId(focus).focus();
    };
    const find = 'Find';
    const play = 'Play';
    const look = 'Look';
    return [
      { group: find, keys: ['/'], shown: ['/'], does: 'to the question', run: () => this.question.focus() },
      { group: find, keys: ['Escape'], shown: ['Esc'], does: 'back to the question', run: () => this.question.focus() },
      { group: find, keys: ['h'], shown: ['h'], does: 'set by hand', run: () => this.controls.toggle() },
      { group: find, keys: ['t'], shown: ['t'], does: 'tap the tempo', run: () => this.controls.tap() },
      {
        group: find,
        keys: ['Enter', 'Backspace'],
        shown: ['Enter', '⌫'],
        does: 'in the question: take as pieces, remove the last',
        run: () => bench.play(),
        elsewhere: true,
      },
      {
        group: find,
        keys: ['ArrowDown', 'ArrowUp'],
        shown: ['↓', '↑'],
        does: 'next, previous, and hear it',
        run: (key) => this.arrow(results, key === 'ArrowDown' ? 1 : -1),
      },
      {
        group: find,
        keys: ['PageDown', 'PageUp'],
        shown: ['PgDn', 'PgUp'],
        does: 'a page on, a page back',
        run: (key) => this.arrow(results, (key === 'PageDown' ? 1 : -1) * this.list.pageRows),
      },
      {
        group: find,
        keys: ['Home', 'End'],
        shown: ['Home', 'End'],
        does: 'first, last',
        run: (key) => this.goTo(key === 'Home' ? 0 : store.get().results.found - 1),
      },
      {
        group: find,
        keys: ['s'],
        shown: ['s'],
        does: 'select, or no longer',
        run: () => this.selects.toggle(store.get().sound),
      },
      { group: play, keys: [' '], shown: ['Space'], does: 'play, stop', run: () => bench.toggle() },
      {
        group: play,
        keys: ['Enter'],
        shown: ['Enter'],
        does: 'play from the start',
        run: () => {
          bench.seek(0);
          bench.play();
        },
      },
      { group: play, keys: ['l'], shown: ['l'], does: 'loop', run: () => store.set({ loop: !store.get().loop }) },
      {
        group: play,
        keys: ['[', ']'],
        shown: ['[', ']'],
        does: 'a semitone slower, faster',
        run: (key) => bench.changeSpeed(key === ']' ? 1 : -1),
      },
      {
        group: play,
        keys: ['{', '}'],
        shown: ['{', '}'],
        does: 'an octave slower, faster',
        run: (key) => bench.changeSpeed(key === '}' ? OCTAVE : -OCTAVE),
      },
      { group: play, keys: ['\\'], shown: ['\\'], does: 'as recorded', run: () => store.set({ speed: 0 }) },
      {
        group: play,
        keys: [',', '.'],
        shown: [',', '.'],
        does: 'softer, louder',
        run: (key) => bench.changeLevel(key === '.' ? 1 : -1),
      },
      {
        group: play,
        keys: ['o'],
        shown: ['o'],
        does: 'play on move, or stay silent',
        run: () => store.set({ playOnMove: !store.get().playOnMove }),
      },
      { group: look, keys: ['m'], shown: ['m'], does: 'map; there the arrows go that way', run: pane('map', 'map') },
      { group: look, keys: ['i'], shown: ['i'], does: 'all about this sound', run: pane('sound', 'pane-sound') },
      { group: look, keys: ['n'], shown: ['n'], does: 'nearest to this sound', run: pane('alike', 'pane-alike') },
      { group: look, keys: ['c'], shown: ['c'], does: 'selects', run: pane('selects', 'pane-selects') },
      {
        group: look,
        keys: ['-', '=', '+'],
        shown: ['-', '+'],
        does: 'time axis (on the map: the map) smaller, larger',
        run: (key) => this.zoomAxis(key === '-' ? AXIS_STEP : 1 / AXIS_STEP),
      },
      { group: look, keys: ['0'], shown: ['0'], does: 'fit again', run: () => store.set({ axisSeconds: null }) },
      { group: look, keys: ['d'], shown: ['d'], does: 'day, night, or as the system has it', run: nextTheme },
      {
        group: look,
        keys: ['?'],
        shown: ['?'],
        does: 'this list',
        run: () => byId('keys', HTMLDialogElement).showModal(),
      },
    ];
  }

  private arrow(results: HTMLElement, by: number): void {
    if (document.activeElement !== results) results.focus({ preventScroll: true });
    this.step(by);
  }
}
