/**
 * The results: a listbox whose rows exist only near what is seen, over one canvas of blades on one time axis.
 *
 * Rows scroll as the browser scrolls them; the canvas lies among them and is drawn anew only when the rows are.
 */
import { varispeedSeconds } from '../../shared/music.ts';
import { type Axis, axisLines, type Counting, fittingSpan, strokeLines, writeLabels, xOf } from './axis.ts';
import { atSpeed, type BladeColours, drawBlade } from './blade.ts';
import { archive, byId, contextOf, make } from './dom.ts';
import type { Shapes } from './shapes.ts';
import type { Results, Store } from './state.ts';
import { colours, onRepaint } from './theme.ts';

/** What stands at the right of a row and under its name. */
export interface RowWords {
  figure: string;
  /** The take fits as it is. */
  fits: boolean;
  note: string;
  sub: string;
  /** All reasons in full; empty where nothing is asked. */
  because: string;
}

export interface ListSource {
  words: (index: number, position: number) => RowWords;
  /** Where the accent is to fall; null when the question does not say. */
  targetSeconds: () => number | null;
  counting: () => Counting;
  /** Varispeed a sound answers the question at. */
  shiftOf: (index: number) => number;
  isSelect: (index: number) => boolean;
}

const OVERSCAN_ROWS = 6;
/** Must agree with the style sheet's columns. */
const WIDE = { name: 246, figure: 104, gutter: 0 };
const NARROW_GUTTER = 14;

export class List {
  private readonly store: Store;
  private readonly shapes: Shapes;
  private readonly source: ListSource;
  private readonly scroller = byId('list-scroll');
  private readonly rows = byId('results');
  private readonly blades = byId('blades', HTMLCanvasElement);
  private readonly ruler = byId('ruler', HTMLCanvasElement);
  private readonly axisCanvas = byId('axis', HTMLCanvasElement);
  private position = new Int32Array(0);
  private window: readonly [number, number] = [0, 0];
  /** Read once a change of size: asking the page for it after rows changed would make it lay out at once. */
  private rowHeight = 56;
  private width = 0;
  private height = 0;
  private axisHeight = 24;
  private scrollTop = 0;
  private fitted = 4;

  constructor(store: Store, shapes: Shapes, source: ListSource, choose: (position: number) => void) {
    this.store = store;
    this.shapes = shapes;
    this.source = source;
    this.scroller.addEventListener(
      'scroll',
      () => {
        this.scrollTop = this.scroller.scrollTop;
        this.follow();
      },
      { passive: true },
    );
    this.rows.addEventListener('click', (event) => {
      const row = event.target instanceof Element ? event.target.closest<HTMLElement>('.row') : null;
      if (row) choose(Number(row.getAttribute('aria-posinset')) - 1);
    });
    new ResizeObserver(() => {
      this.measure();
      this.draw();
    }).observe(this.scroller);
    this.measure();
    onRepaint(() => this.draw());
    store.on(['results'], () => this.renew());
    store.on(['axisSeconds'], () => this.draw());
    store.on(['sound'], () => this.mark());
  }

  /** Row of a sound in the results; -1 where it is not among them. */
  positionOf(sound: number): number {
    return sound >= 0 && sound < this.position.length ? this.position[sound] : -1;
  }

  get spanSeconds(): number {
    return this.store.get().axisSeconds ?? this.fitted;
  }

  /** Rows that fit into view at once. */
  get pageRows(): number {
    return Math.max(1, Math.floor(this.height / this.rowHeight) - 1);
  }

  show(position: number): void {
    const top = position * this.rowHeight;
    const seen = this.height - this.axisHeight;
    if (top < this.scrollTop) this.scrollTo(top);
    else if (top + this.rowHeight > this.scrollTop + seen) this.scrollTo(top + this.rowHeight - seen);
    this.follow();
  }

  /** Draws again what is shown, after selects or words changed. */
  draw(): void {
    this.rows.style.height = `${this.results.found * this.rowHeight}px`;
    this.window = [0, 0];
    this.drawRuler();
    this.follow();
  }

  private scrollTo(top: number): void {
    this.scroller.scrollTop = top;
    this.scrollTop = this.scroller.scrollTop;
  }

  private measure(): void {
    this.rowHeight = Number.parseFloat(getComputedStyle(document.documentElement).getPropertyValue('--row')) || 56;
    this.width = this.scroller.clientWidth;
    this.height = this.scroller.clientHeight;
    this.axisHeight = this.axisCanvas.clientHeight;
  }

  private get results(): Results {
    return this.store.get().results;
  }

  private renew(): void {
    const { order, found } = this.results;
    if (this.position.length !== this.shapes.shelf.count) this.position = new Int32Array(this.shapes.shelf.count);
    this.position.fill(-1);
    for (let row = 0; row < found; row++) this.position[order[row]] = row;
    const lengths = Float32Array.from(order.subarray(0, found), (index) =>
      this.atSpeed(this.shapes.heardSeconds(index), index),
    );
    this.fitted = fittingSpan(lengths, this.source.targetSeconds());
    if (this.scrollTop > 0) this.scrollTo(0);
    this.draw();
    this.pointToActive();
  }

  /** Times of a sound at the speed it answers at. */
  private atSpeed(recorded: number, index: number): number {
    const shift = this.source.shiftOf(index);
    return shift === 0 ? recorded : varispeedSeconds(recorded, shift);
  }

  private axis(): Axis {
    const narrow = this.isNarrow();
    const { width } = this;
    return {
      left: narrow ? NARROW_GUTTER : WIDE.name,
      width: Math.max(40, narrow ? width - 2 * NARROW_GUTTER : width - WIDE.name - WIDE.figure),
      seconds: this.spanSeconds,
      counting: this.source.counting(),
      targetSeconds: this.source.targetSeconds(),
    };
  }

  private isNarrow(): boolean {
    return this.rowHeight > 70;
  }

  private drawRuler(): void {
    const axis = this.axis();
    const lines = this.results.found > 0 ? axisLines(axis) : [];
    const palette = colours();
    const { width, height } = this;
    const head = contextOf(this.axisCanvas, width, this.axisHeight);
    if (head) writeLabels(head, axis, lines, 17, palette);
    this.ruler.style.width = `${width}px`;
    this.ruler.style.height = `${height}px`;
    const context = contextOf(this.ruler, width, height);
    // On a narrow screen lines would run through the names, so each row draws its own.
    if (context && !this.isNarrow()) strokeLines(context, axis, lines, [this.axisHeight - 4, height], palette);
  }

  /** Makes rows and blades for what is in view, unless they stand already. */
  private follow(): void {
    const { found } = this.results;
    const { scrollTop } = this;
    const first = Math.floor(scrollTop / this.rowHeight);
    const last = Math.min(found, Math.ceil((scrollTop + this.height) / this.rowHeight));
    if (first >= this.window[0] && last <= this.window[1] && this.window[1] > 0) return;
    this.window = [Math.max(0, first - OVERSCAN_ROWS), Math.min(found, last + OVERSCAN_ROWS)];
    this.makeRows();
    this.drawBlades();
  }

  private makeRows(): void {
    const { order, found } = this.results;
    const { sound } = this.store.get();
    const made: HTMLElement[] = [];
    for (let row = this.window[0]; row < this.window[1]; row++) made.push(this.makeRow(order[row], row, found, sound));
    this.rows.replaceChildren(this.blades, ...made);
  }

  private makeRow(index: number, row: number, found: number, sound: number): HTMLElement {
    const words = this.source.words(index, row);
    const select = this.source.isSelect(index);
    const spoken = [
      '',
      this.shapes.spokenFacts(index, this.source.shiftOf(index)),
      select ? 'a select' : '',
      this.shapes.shelf.isAway(index) ? 'its file is away' : '',
      words.because,
    ]
      .filter((piece, at) => at === 0 || piece !== '')
      .join(', ');
    const element = make(
      'div',
      {
        class: 'row',
        role: 'option',
        id: `row-${row}`,
        'aria-setsize': found,
        'aria-posinset': row + 1,
        'aria-selected': String(index === sound),
      },
      make(
        'div',
        { class: 'words' },
        make('span', { class: 'name' }, archive(this.shapes.name(index))),
        make('span', { class: 'unseen' }, spoken),
        make(
          'span',
          { class: 'sub', 'aria-hidden': words.because !== '' && 'true', title: words.because || undefined },
          this.shapes.shelf.isAway(index) ? make('span', { class: 'mark-away', 'aria-hidden': 'true' }, 'away') : null,
          select ? make('span', { class: 'mark-select', 'aria-hidden': 'true' }, '✓') : null,
          archive(words.sub),
        ),
      ),
      make(
        'div',
        { class: 'figure' },
        make('span', { class: words.fits ? 'fits' : '' }, words.figure),
        ' ',
        make('small', {}, words.note),
      ),
    );
    element.style.top = `${row * this.rowHeight}px`;
    return element;
  }

  private drawBlades(): void {
    const [first, end] = this.window;
    const axis = this.axis();
    const { width } = this;
    const height = Math.max(1, (end - first) * this.rowHeight);
    this.blades.style.top = `${first * this.rowHeight}px`;
    this.blades.style.width = `${width}px`;
    this.blades.style.height = `${height}px`;
    const context = contextOf(this.blades, width, height);
    if (!context) return;
    const { order } = this.results;
    const { sound } = this.store.get();
    const palette = colours();
    const narrow = this.isNarrow();
    const lines = narrow ? axisLines(axis) : [];
    for (let row = first; row < end; row++) {
      const index = order[row];
      const top = (row - first) * this.rowHeight;
      if (narrow) strokeLines(context, axis, lines, [top + 42, top + this.rowHeight - 4], palette);
      const chosen = index === sound;
      this.drawRowBlade(context, axis, index, narrow ? top + 62 : top + this.rowHeight / 2 + 3, {
        ink: palette.ink,
        line: chosen ? palette.signal : palette.ink,
        ground: chosen ? palette.sheet : palette.paper,
      });
    }
  }

  private drawRowBlade(
    context: CanvasRenderingContext2D,
    axis: Axis,
    index: number,
    y: number,
    paint: BladeColours,
  ): void {
    const right = axis.left + axis.width;
    const { shapes } = this;
    // The axis begins where the sound does: a head of room tone lies before it, unseen.
    const head = xOf(axis, this.atSpeed(shapes.headSeconds(index), index)) - axis.left;
    const width = xOf(axis, this.atSpeed(shapes.duration(index), index)) - axis.left;
    const runsOff = xOf(axis, this.atSpeed(shapes.heardSeconds(index), index)) - axis.left > axis.width;
    context.save();
    if (runsOff || head > 0) {
      context.beginPath();
      context.rect(axis.left - 4, y - 40, axis.width + (runsOff ? -8 : 4), 80);
      context.clip();
    }
    drawBlade(
      context,
      atSpeed(this.shapes.of(index), this.source.shiftOf(index)),
      { x: axis.left - head, y, width, height: 30, lineWidth: paint.line === paint.ink ? 0.9 : 1.4, wedge: 8 },
      paint,
    );
    context.restore();
    if (runsOff) drawRunOff(context, right - 10, y, paint.line ?? paint.ink);
  }

  private mark(): void {
    const row = this.positionOf(this.store.get().sound);
    if (row >= 0) this.show(row);
    this.pointToActive();
    for (const element of this.rows.querySelectorAll('.row')) {
      element.setAttribute('aria-selected', String(Number(element.getAttribute('aria-posinset')) - 1 === row));
    }
    this.drawBlades();
  }

  /** Tells the listbox which option is the active one, if that stands in the page. */
  private pointToActive(): number {
    const row = this.positionOf(this.store.get().sound);
    if (row >= this.window[0] && row < this.window[1]) this.rows.setAttribute('aria-activedescendant', `row-${row}`);
    else this.rows.removeAttribute('aria-activedescendant');
    return row;
  }
}

/** A torn edge and an arrow: the sound goes on beyond the axis. */
function drawRunOff(context: CanvasRenderingContext2D, x: number, y: number, ink: string): void {
  context.strokeStyle = ink;
  context.fillStyle = ink;
  context.lineWidth = 1;
  context.beginPath();
  for (let step = 0; step <= 8; step++) context.lineTo(x + (step % 2 === 0 ? -2 : 2), y - 16 + step * 4);
  context.stroke();
  context.beginPath();
  context.moveTo(x + 5, y - 4);
  context.lineTo(x + 10, y);
  context.lineTo(x + 5, y + 4);
  context.fill();
}
