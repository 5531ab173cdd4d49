/**
 * The Shape pane: a loudness curve drawn by pointer or keyboard, or started from a preset, and the length it should last.
 * While it is drawn the list follows; what is kept stands in the store, so chip, link and pane always agree.
 */
import type { Seconds } from '../../shared/sound.ts';
import { drawBlade } from './blade.ts';
import { curveWords, knotWords } from './curve-words.ts';
import { byId, contextOf, make, onClick, setPressed } from './dom.ts';
import {
  type CurvePoint,
  type DrawnShape,
  FULL,
  isDrawn,
  KNOTS,
  NOTHING_DRAWN,
  PRESETS,
  withLine,
  withStep,
} from './drawn-shape.ts';
import { seconds as secondsText, share } from './format.ts';
import type { OtherChip } from './other-chip.ts';
import type { Store } from './state.ts';
import { colours, onRepaint } from './theme.ts';

export interface ShapeParts {
  /** A length as it may be asked for, "3 s" or "2 bars", by the question's tempo; null where it is not understood. */
  lengthOf: (text: string) => Seconds | null;
  /** A stroke is over, a preset chosen: a state worth going back to. */
  settled: () => void;
  /** Shows this pane. */
  open: () => void;
}

/** Room beside and above the curve, so that its ends can be hit and its dots seen. */
const EDGE = 8;
const LABEL_HEIGHT = 16;
const BIG_STEP = 5;
/** A press that moved less than this is a click. */
const CLICK_PIXELS = 4;
/** Half ink: what sound it is has not been asked. */
const BRIGHTNESS = 0.5;

export class ShapePane {
  private readonly store: Store;
  private readonly parts: ShapeParts;
  private readonly canvas = byId('shape-curve', HTMLCanvasElement);
  private readonly lengthField = byId('shape-length', HTMLInputElement);
  private readonly presets = new Map<string, HTMLElement>();
  /** Where the keyboard stands. */
  private knot = 0;
  private stroke: { from: CurvePoint; x: number; y: number; moved: boolean } | null = null;
  /** The last click, from which the next draws a line. */
  private clicked: CurvePoint | null = null;
  /** Drawn, and not yet in the store: one question a frame is enough. */
  private pending: readonly number[] | null = null;
  private seconds: Seconds | null = null;

  constructor(store: Store, parts: ShapeParts) {
    this.store = store;
    this.parts = parts;
    this.canvas.setAttribute('aria-valuemax', String(FULL));
    this.makePresets();
    this.listen();
    store.on(['shape'], () => this.follow());
    store.on(['pane'], () => this.draw());
    onRepaint(() => this.draw());
    new ResizeObserver(() => this.draw()).observe(this.canvas);
    this.follow();
  }

  /** The shape among the pieces of the question. */
  chips(): OtherChip[] {
    const { shape } = this.store.get();
    if (shape === null) return [];
    const edit = () => {
      this.parts.open();
      this.canvas.focus();
    };
    const remove = () => this.store.set({ shape: null });
    const detail = shape.seconds === null ? '' : secondsText(shape.seconds);
    return [{ kind: 'shape', label: 'drawn shape', detail, edit, remove }];
  }

  private get heights(): readonly number[] {
    return this.pending ?? this.store.get().shape?.heights ?? NOTHING_DRAWN;
  }

  private makePresets(): void {
    for (const [name, heights] of PRESETS) {
      const button = make('button', { type: 'button', class: 'choice', 'aria-pressed': 'false' }, name);
      onClick(button, () => this.set(heights));
      this.presets.set(name, button);
    }
    byId('shape-presets').replaceChildren(...this.presets.values());
  }

  private listen(): void {
    const { canvas } = this;
    canvas.addEventListener('pointerdown', (event) => this.press(event));
    canvas.addEventListener('pointermove', (event) => this.move(event));
    for (const kind of ['pointerup', 'pointercancel'] as const) {
      canvas.addEventListener(kind, () => this.release());
    }
    canvas.addEventListener('keydown', (event) => this.key(event));
    for (const kind of ['focus', 'blur'] as const) canvas.addEventListener(kind, () => this.draw());
    this.lengthField.addEventListener('change', () => this.readLength());
    onClick(byId('shape-clear'), () => {
      this.clicked = null;
      this.seconds = null;
      this.set(NOTHING_DRAWN);
      canvas.focus();
    });
  }

  /** After the store changed: by this pane, the chip's cross, or a link. */
  private follow(): void {
    const { shape } = this.store.get();
    this.seconds = shape?.seconds ?? null;
    this.lengthField.value = this.seconds === null ? '' : secondsText(this.seconds);
    this.sayLength('');
    this.draw();
  }

  private set(heights: readonly number[]): void {
    this.put(heights);
    this.parts.settled();
  }

  private put(heights: readonly number[]): void {
    const shape: DrawnShape | null = isDrawn(heights) ? { heights, seconds: this.seconds } : null;
    this.pending = null;
    if (shape === null && this.store.get().shape === null) this.draw();
    else this.store.set({ shape });
  }

  private soon(heights: readonly number[]): void {
    if (this.pending === null) {
      requestAnimationFrame(() => {
        if (this.pending) this.put(this.pending);
      });
    }
    this.pending = heights;
  }

  private pointOf(event: PointerEvent): CurvePoint {
    const { left, top, width, height } = this.canvas.getBoundingClientRect();
    const plot = plotOf(width, height);
    const away = Math.abs(event.clientY - top - plot.y);
    return {
      at: Math.max(0, Math.min(1, (event.clientX - left - EDGE) / plot.width)),
      level: Math.min(1, away / plot.half),
    };
  }

  private press(event: PointerEvent): void {
    if (event.button !== 0) return;
    event.preventDefault();
    this.canvas.setPointerCapture(event.pointerId);
    this.canvas.focus({ preventScroll: true });
    const point = this.pointOf(event);
    this.stroke = { from: point, x: event.clientX, y: event.clientY, moved: false };
    this.knot = Math.round(point.at * (KNOTS - 1));
    this.soon(withLine(this.heights, this.clicked ?? point, point));
  }

  private move(event: PointerEvent): void {
    const { stroke } = this;
    if (!stroke) return;
    if (!stroke.moved && Math.hypot(event.clientX - stroke.x, event.clientY - stroke.y) < CLICK_PIXELS) return;
    const point = this.pointOf(event);
    stroke.moved = true;
    this.knot = Math.round(point.at * (KNOTS - 1));
    this.soon(withLine(this.heights, stroke.from, point));
    stroke.from = point;
  }

  private release(): void {
    const { stroke } = this;
    if (!stroke) return;
    this.clicked = stroke.moved ? null : stroke.from;
    this.stroke = null;
    if (this.pending) this.put(this.pending);
    this.parts.settled();
  }

  private key(event: KeyboardEvent): void {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = event.shiftKey ? BIG_STEP : 1;
    const { heights } = this;
    if (event.key === 'ArrowLeft') this.goTo(this.knot - step);
    else if (event.key === 'ArrowRight') this.goTo(this.knot + step);
    else if (event.key === 'Home') this.goTo(0);
    else if (event.key === 'End') this.goTo(KNOTS - 1);
    else if (event.key === 'ArrowUp') this.set(withStep(heights, this.knot, step));
    else if (event.key === 'ArrowDown') this.set(withStep(heights, this.knot, -step));
    else if (event.key === 'Delete' || event.key === 'Backspace') this.set(withStep(heights, this.knot, -FULL));
    else return;
    event.preventDefault();
    this.clicked = null;
  }

  private goTo(knot: number): void {
    this.knot = Math.max(0, Math.min(KNOTS - 1, knot));
    this.draw();
  }

  private readLength(): void {
    const text = this.lengthField.value.trim();
    const isFree = text === '' || text.toLowerCase() === 'free';
    const length = isFree ? null : this.parts.lengthOf(text);
    const isUnclear = !isFree && length === null;
    this.lengthField.setAttribute('aria-invalid', String(isUnclear));
    if (isUnclear) {
      this.sayLength('Write 3 s, or 2 bars at 84.');
      return;
    }
    this.seconds = length;
    this.set(this.heights);
    this.lengthField.value = length === null ? '' : secondsText(length);
    this.sayLength(isDrawn(this.heights) ? '' : 'Counts once something is drawn.');
  }

  private sayLength(sentence: string): void {
    byId('shape-length-says').textContent = sentence;
    if (sentence === '') this.lengthField.setAttribute('aria-invalid', 'false');
  }

  private draw(): void {
    const { heights } = this;
    const drawn = isDrawn(heights);
    byId('shape-words').textContent = drawn
      ? sentenceOf(heights)
      : 'Nothing drawn yet. Draw above, or start from one of these:';
    byId('shape-clear', HTMLButtonElement).disabled = !drawn;
    for (const [name, button] of this.presets) setPressed(button, PRESETS.get(name) === heights);
    this.canvas.setAttribute('aria-valuenow', String(heights[this.knot]));
    this.canvas.setAttribute('aria-valuetext', knotWords(heights, this.knot));
    if (this.store.get().pane === 'shape') this.paint(heights);
  }

  private paint(heights: readonly number[]): void {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    const context = contextOf(this.canvas, width, height);
    if (!context) return;
    const palette = colours();
    const plot = plotOf(width, height);
    context.strokeStyle = palette.line;
    context.lineWidth = 1;
    context.beginPath();
    for (let quarter = 0; quarter <= 4; quarter++) {
      const x = Math.round(EDGE + (plot.width * quarter) / 4) + 0.5;
      context.moveTo(x, EDGE);
      context.lineTo(x, plot.y + plot.half);
    }
    context.moveTo(EDGE, Math.round(plot.y) + 0.5);
    context.lineTo(EDGE + plot.width, Math.round(plot.y) + 0.5);
    context.stroke();
    this.writeScale(context, plot);
    if (isDrawn(heights)) {
      const contour = heights.map((value) => (value / FULL) * 255);
      const box = { x: EDGE, y: plot.y, width: plot.width, height: 2 * plot.half, lineWidth: 1.2 };
      drawBlade(context, { contour, brightness: BRIGHTNESS }, box, { ink: palette.ink, ground: palette.paper });
    }
    if (document.activeElement === this.canvas) this.paintPlace(context, heights[this.knot], plot);
  }

  /** Where the keyboard stands. */
  private paintPlace(context: CanvasRenderingContext2D, height: number, plot: Plot): void {
    const { signal } = colours();
    const x = EDGE + (plot.width * this.knot) / (KNOTS - 1);
    const half = (height / FULL) * plot.half;
    context.strokeStyle = signal;
    context.fillStyle = signal;
    context.lineWidth = 1.5;
    context.beginPath();
    context.moveTo(x, plot.y - half);
    context.lineTo(x, plot.y + half);
    context.stroke();
    for (const y of [plot.y - half, plot.y + half]) {
      context.beginPath();
      context.arc(x, y, 4, 0, 2 * Math.PI);
      context.fill();
    }
  }

  private writeScale(context: CanvasRenderingContext2D, plot: Plot): void {
    context.fillStyle = colours().soft;
    context.font = '400 12px "IBM Plex Sans Condensed", sans-serif';
    context.textBaseline = 'alphabetic';
    for (let quarter = 0; quarter <= 4; quarter++) {
      const at = quarter / 4;
      const text = this.seconds === null ? share(at) : quarter === 0 ? '0' : secondsText(this.seconds * at);
      context.textAlign = quarter === 0 ? 'left' : quarter === 4 ? 'right' : 'center';
      context.fillText(text, EDGE + plot.width * at, plot.y + plot.half + LABEL_HEIGHT - 2);
    }
  }
}

interface Plot {
  width: number;
  /** The line the blade is mirrored about, and how far it reaches from there. */
  y: number;
  half: number;
}

function plotOf(width: number, height: number): Plot {
  const half = (height - EDGE - LABEL_HEIGHT) / 2;
  return { width: width - 2 * EDGE, y: EDGE + half, half };
}

function sentenceOf(heights: readonly number[]): string {
  const words = curveWords(heights);
  return `${words[0].toUpperCase()}${words.slice(1)}.`;
}
