/** The Find page: puts question, list, map, bench and selects together around one store. */
import type { MusicalTarget } from '../../shared/query/musical.ts';
import { Shelf } from '../../shared/shelf.ts';
import { AlikePane } from './alike-pane.ts';
import { Asking } from './asking.ts';
import { Bench } from './bench.ts';
import { CuePane } from './context/cue-pane.ts';
import { Controls } from './controls.ts';
import { byId, inIdleMoments, make, onClick } from './dom.ts';
import { isSameShape, readShape } from './drawn-shape.ts';
import { takeDrops } from './drop-zone.ts';
import { keyActions } from './find-keys.ts';
import { type FitWords, fitWords, musicalFit, targetOf } from './fit-words.ts';
import { semitones, trueMinus } from './format.ts';
import { explain, Found } from './found.ts';
import { KeptLists } from './kept-lists.ts';
import { startKeys } from './keys.ts';
import { LinkKeeper } from './link.ts';
import { List, type RowWords } from './list.ts';
import { SoundMap } from './map.ts';
import type { MapDirection } from './map-travel.ts';
import { NearAsked, recordedChip } from './near-asked.ts';
import type { OtherChip } from './other-chip.ts';
import { Panes } from './panes.ts';
import { type Answered, wordsOf } from './pick-up-of.ts';
import { PickUps } from './pick-ups.ts';
import { Question } from './question.ts';
import { shortReasons } from './reason-words.ts';
import { bytesOf, take } from './receive.ts';
import { RecordedSound } from './recorded-sound.ts';
import { missing } from './report-page.ts';
import { Selects } from './selects.ts';
import { ShapePane } from './shape-pane.ts';
import { Shapes } from './shapes.ts';
import { fillSoundPane, type Placing } from './sound-pane.ts';
import { RowSpeed, Speeds } from './speeds.ts';
import { questionText, readLink, Store, speedAsked, wholeSpeed } from './state.ts';
import { onRepaint, startTheme } from './theme.ts';
import { Wish } from './wish.ts';

export function startFind(): void {
  const nextTheme = startTheme(byId('theme'));
  const packed = take<string>('shelf');
  if (packed === undefined) {
    document.body.toggleAttribute('data-broken', true);
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
  private readonly controls: Controls;
  private readonly link: LinkKeeper;
  private readonly panes: Panes;
  private readonly shapePane: ShapePane;
  private readonly recorded: RecordedSound;
  private readonly nearAsked: NearAsked;
  private readonly found: Found;
  private readonly rowSpeed: RowSpeed;
  private readonly wish: Wish;
  private shift = 0;
  private weak = false;
  private target: MusicalTarget | null = null;
  /** What the bar lines on the bench stand for. */
  private lines = '';

  constructor(shelf: Shelf, words: string | undefined, nextTheme: () => void) {
    this.shelf = shelf;
    this.shapes = new Shapes(shelf);
    this.asking = new Asking(shelf, words);
    this.nearAsked = new NearAsked(shelf);
    const { store, shapes } = this;
    this.link = new LinkKeeper(store, (sound) => shelf.text('id', sound));
    const counting = () => store.get().query;
    const targetSeconds = () => this.target?.seconds ?? null;
    const isSelect = (sound: number): boolean => this.selects?.has(sound) ?? false;
    this.question = new Question(
      store,
      this.asking,
      () => this.link.write(true),
      () => this.otherChips(),
    );
    this.list = new List(
      store,
      shapes,
      {
        words: (sound) => this.rowWords(sound),
        targetSeconds,
        counting,
        shiftOf: (sound) => this.asking.semitonesOf(sound),
        isSelect,
      },
      (row) => this.goTo(row),
    );
    this.bench = new Bench(store, shapes, {
      counting,
      targetSeconds,
      target: () => this.target,
      isSelect,
      toggleSelect: (sound) => this.selects.toggle(sound),
    });
    const choose = (sound: number) => this.choose(sound);
    const say = (sentence: string, ...acts: HTMLElement[]) => this.bench.say(sentence, ...acts);
    const lists = new KeptLists();
    const pickUps = new PickUps(lists, {
      ask: (pickUp) => {
        store.set({ shape: readShape(pickUp.shape), recorded: null });
        this.askFor(this.asking.pieces(wordsOf(pickUp)));
      },
      say,
    });
    this.selects = new Selects(store, shapes, lists, pickUps, {
      choose,
      say,
      changed: () => {
        this.list.draw();
        this.bench.markSelect();
      },
    });
    this.map = new SoundMap(store, shapes, choose);
    const alike = new AlikePane(byId('pane-alike'), store, shapes, choose);
    this.panes = new Panes(
      store,
      {
        alike: (sound) => alike.show(sound),
        sound: (sound) =>
          fillSoundPane(byId('pane-sound'), shapes, sound, {
            placing: () => this.placing(sound),
            ask: (text) => this.question.add(text),
            seek: (seconds) => this.bench.seek(seconds),
            hear: (seconds) => this.bench.hear(seconds),
          }),
      },
      () => this.link.write(true),
    );
    this.shapePane = new ShapePane(store, {
      lengthOf: (text) => this.asking.lengthOf(text, store.get()),
      settled: () => this.link.write(true),
      open: () => this.panes.open('shape'),
    });
    this.recorded = new RecordedSound(byId('shape-sound'), store, {
      parameters: shelf.parameters,
      quiet: () => {
        if (store.get().playing) this.bench.toggle();
      },
      settled: () => this.link.write(true),
    });
    new CuePane(store, shapes, this.bench, (piece) => this.question.add(piece));
    const speeds = new Speeds(store, say);
    this.rowSpeed = new RowSpeed(
      store,
      (sound) => this.asking.semitonesOf(sound),
      () => this.shift,
    );
    this.controls = new Controls(store, this.question, this.asking, () => this.target);
    this.found = new Found(store, this.asking, shelf.count, {
      askFor: (pieces) => this.askFor(pieces),
      isWeak: () => this.weak,
      fits: (sound) =>
        this.target === null ? null : this.fit(sound).fits && this.asking.semitonesOf(sound) === this.shift,
    });
    this.wish = new Wish({
      answered: () => this.answered(),
      has: (wish) => pickUps.has(wish),
      add: (pickUp) => pickUps.add(pickUp),
      say,
      showList: () => {
        this.panes.open('selects');
        byId('pick-ups').scrollIntoView({ block: 'nearest' });
      },
    });
    lists.onChange(() => this.wish.renew());
    this.listen();
    startKeys(
      keyActions({
        store,
        question: this.question,
        controls: this.controls,
        selects: this.selects,
        speeds,
        wish: this.wish,
        bench: this.bench,
        list: this.list,
        step: (by) => this.arrow(by),
        goTo: (row) => this.goTo(row),
        openPane: (pane) => this.panes.open(pane),
        sing: () => {
          this.panes.open('shape');
          void this.recorded.toggleListening();
        },
        keepAsking: () => this.bench.say(alike.keep(store.get().sound)),
        nextTheme,
      }),
    );
    this.follow();
    if (document.activeElement === document.body || document.activeElement === null) this.question.focus();
    this.redrawWhenFontsCame();
    inIdleMoments(this.asking.preparations());
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
      this.map.renew();
    });
  }

  private listen(): void {
    const { store } = this;
    store.on(['alsoAt'], ({ alsoAt }) => {
      this.asking.askAlsoAt(alsoAt);
      inIdleMoments(this.asking.speedPreparations());
    });
    store.on(['pieces', 'typed', 'shape', 'recorded', 'alsoAt'], () => this.search());
    store.on(['alsoAt'], ({ sound }) => {
      this.link.write(true);
      if (sound >= 0) store.set({ speed: this.rowSpeed.speedFor(sound) });
    });
    store.on(['sound', 'speed', 'pane', 'mapView', 'pieces', 'typed', 'shape'], () => this.link.write(false));
    store.on(['query', 'speed'], () => this.panes.renew('sound'));
    store.on(['sound'], ({ sound }) => {
      this.panes.renew('sound', 'alike');
      if (sound >= 0) byId('map-here').textContent = this.shapes.spoken(sound);
    });
    store.on(['alikeFrom'], () => {
      this.panes.renew('alike');
      this.link.write(true);
    });
    onRepaint(() => this.panes.renew('alike'));
    takeDrops((file, others) => {
      this.panes.open('shape');
      void this.recorded.takeFile(file, others);
    });
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
    const { query, ranking } = this.asking.ask(pieces, typed, this.nearAsked.of(this.store.get()));
    this.target = targetOf(query);
    this.weak = ranking.weak;
    if (ranking.semitones !== this.shift) {
      this.shift = ranking.semitones;
      this.store.set({ speed: wholeSpeed(this.shift) });
      this.rowSpeed.restart(wholeSpeed(this.shift));
    }
    this.store.set({ query, axisSeconds: null, results: { order: ranking.order, found: ranking.found } });
    this.found.say();
    this.wish.renew();
    const lines = JSON.stringify([query.tempo, query.metre, this.target?.seconds]);
    if (lines !== this.lines) this.bench.draw();
    this.lines = lines;
  }

  private otherChips(): readonly OtherChip[] {
    const { recorded, shape } = this.store.get();
    if (recorded === null) return this.shapePane.chips();
    const edit = () => this.panes.open('shape');
    return [recordedChip(recorded, shape, { edit, remove: () => this.recorded.remove() })];
  }

  /** The question as answered, for the pick-up list. */
  private answered(): Answered {
    const { query, results, shape } = this.store.get();
    const first = results.found > 0 ? results.order[0] : -1;
    const nearest =
      first < 0
        ? null
        : { id: this.shelf.text('id', first), name: this.shapes.name(first), reasons: this.asking.reasons(first) };
    return { query, shape, target: this.target, weak: this.weak, nearest };
  }

  private askFor(pieces: readonly string[]): void {
    this.store.set({ pieces, typed: '' });
    this.question.focus();
    this.link.write(true);
  }

  private fit(sound: number): FitWords {
    return fitWords(this.shapes, sound, this.target, this.asking.semitonesOf(sound));
  }

  /** Against the question's target, at the speed set. */
  private placing(sound: number): Placing | null {
    const { speed } = this.store.get();
    const fit = this.target && musicalFit(this.shapes, sound, this.target, speed);
    return fit && { fit, semitones: speed };
  }

  private rowWords(sound: number): RowWords {
    const fit = this.fit(sound);
    const reasons = this.asking.reasons(sound).map(({ text }) => text);
    const origin = [this.shelf.text('session', sound), this.shelf.tags(sound).slice(0, 3).join(', ')]
      .filter((piece) => piece !== '')
      .join(' · ');
    return {
      ...fit,
      sub: [this.speedUnsaid(sound, fit.note), shortReasons(reasons, this.target !== null) || origin]
        .filter((piece) => piece !== '')
        .join(' · '),
      because: [trueMinus(reasons.join(', ')), fit.inFull].filter((piece) => piece !== '').join('; '),
    };
  }

  /** The speed a sound answers at, unless its row says it already. */
  private speedUnsaid(sound: number, note: string): string {
    const shift = this.asking.semitonesOf(sound);
    return shift === 0 || note.includes(semitones(shift)) ? '' : `at ${semitones(shift)}`;
  }

  /** Takes the sound of a row in hand and plays it. */
  private goTo(row: number): void {
    const { order, found } = this.store.get().results;
    if (found === 0) return;
    const at = Math.max(0, Math.min(found - 1, row));
    this.moveTo(
      order[at],
      [order[at + 1], order[at + 2]].filter((next) => next !== undefined),
    );
  }

  /** Takes a sound in hand at the speed it answers at. */
  private moveTo(sound: number, next: readonly number[]): void {
    if (sound >= 0) this.store.set({ sound, speed: this.rowSpeed.speedFor(sound) });
    this.bench.moveTo(sound, next);
  }

  private step(by: number): void {
    const row = this.list.positionOf(this.store.get().sound);
    if (row === 0 && by < 0) this.question.focus();
    else this.goTo(row < 0 ? 0 : row + by);
  }

  /** A sound chosen elsewhere than in the list: worth a step in the history. */
  private choose(sound: number): void {
    if (sound < 0) return;
    this.moveTo(sound, []);
    this.link.write(true);
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
    if (sound >= 0) this.moveTo(sound, []);
  }

  /** Does what the link says: at the start, and when one goes back or forward. */
  private follow(): void {
    const link = readLink(window.location.hash);
    const { shape } = this.store.get();
    if (!isSameShape(shape, link.shape)) this.store.set({ shape: link.shape, recorded: null });
    if (link.alsoAt.join() !== this.store.get().alsoAt.join()) this.store.set({ alsoAt: link.alsoAt });
    const known = questionText(this.store.get()) === link.question;
    if (!known || this.store.get().results.order.length === 0) {
      const { chips } = this.asking.parse(link.question);
      const words = chips.filter(({ kind }) => kind === 'word').length === chips.length;
      const pieces = this.asking.pieces(link.question);
      this.store.set(words ? { pieces: [], typed: link.question } : { pieces, typed: '' });
      this.search();
    }
    this.store.set({
      speed: link.speed ?? speedAsked(this.store.get().query),
      mapView: link.mapView,
      ...(link.pane ? { pane: link.pane } : {}),
    });
    const alikeFrom = link.alikeIds.map((id) => this.shelf.find(id)).filter((kept) => kept >= 0);
    if (alikeFrom.join() !== this.store.get().alikeFrom.join()) this.store.set({ alikeFrom });
    const sound = link.soundId === null ? -1 : this.shelf.find(link.soundId);
    if (link.soundId !== null && sound < 0)
      this.bench.say(`This link names a sound that is not on this shelf (${link.soundId}).`);
    if (sound >= 0 || link.soundId === null) this.store.set({ sound });
    const { speed } = this.store.get();
    this.rowSpeed.restart(sound >= 0 && speed === this.asking.semitonesOf(sound) ? speed : this.shift);
    if (sound >= 0 && link.atSeconds !== null) this.bench.seek(link.atSeconds);
  }

  private arrow(by: number): void {
    const results = byId('results');
    if (document.activeElement !== results) results.focus({ preventScroll: true });
    this.step(by);
  }
}
