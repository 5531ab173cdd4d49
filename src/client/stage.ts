/** Where the sound in hand is drawn large: blade, waveform and playhead on a time axis, to look at and to point into. */
import { type Axis, axisLines, type Counting, strokeLines, writeLabels, xOf } from './axis.ts';
import { atSpeed, drawBlade } from './blade.ts';
import { byId, contextOf } from './dom.ts';
import { seconds } from './format.ts';
import { drawLegend } from './legend.ts';
import type { Shapes } from './shapes.ts';
import type { Store } from './state.ts';
import { colours, onRepaint } from './theme.ts';

export interface StageSource {
  counting: () => Counting;
  targetSeconds: () => number | null;
  /** Minimum and maximum a column; null while it is not there. */
  waveform: (sound: number) => Int8Array | null;
  /** Place in the sound, in seconds as recorded. */
  position: () => number;
  isPlaying: () => boolean;
  seek: (seconds: number) => void;
}

/** Presses of an arrow key from one end of a sound to the other. */
const KEY_STEPS = 50;

export class Stage {
  private readonly store: Store;
  private readonly shapes: Shapes;
  private readonly source: StageSource;
  private readonly canvas = byId('stage', HTMLCanvasElement);
  /** All but the playhead, drawn once and put under it every frame. */
  private readonly still = document.createElement('canvas');

  constructor(store: Store, shapes: Shapes, source: StageSource) {
    this.store = store;
    this.shapes = shapes;
    this.source = source;
    new ResizeObserver(() => this.draw()).observe(this.canvas);
    onRepaint(() => this.draw());
    this.canvas.addEventListener('click', (event) => {
      const axis = this.axis();
      source.seek(((event.offsetX - axis.left) / axis.width) * axis.seconds * this.rate);
    });
    this.canvas.addEventListener('keydown', (event) => {
      const step = shapes.duration(store.get().sound) / KEY_STEPS;
      const moves: Record<string, number> = { ArrowLeft: -step, ArrowRight: step, ArrowDown: -step, ArrowUp: step };
      const move = moves[event.key];
      if (move === undefined || store.get().sound < 0) return;
      event.preventDefault();
      event.stopPropagation();
      source.seek(source.position() + move);
    });
  }

  draw(): void {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    const context = contextOf(this.still, width, height);
    if (context) this.drawStill(context, width, height);
    this.drawPlayhead();
  }

  drawPlayhead(): void {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    const context = contextOf(this.canvas, width, height);
    if (!context) return;
    context.drawImage(this.still, 0, 0, width, height);
    const { sound } = this.store.get();
    this.canvas.setAttribute('aria-valuemax', sound < 0 ? '0' : this.shapes.duration(sound).toFixed(2));
    if (sound < 0) return;
    const position = this.source.position();
    const x = Math.round(xOf(this.axis(), position / this.rate));
    this.canvas.setAttribute('aria-valuenow', position.toFixed(2));
    this.canvas.setAttribute('aria-valuetext', `${seconds(position)} of ${seconds(this.shapes.duration(sound))}`);
    if (position === 0 && !this.source.isPlaying()) return;
    context.fillStyle = colours().signal;
    context.fillRect(x - 1, 20, 2, height - 24);
  }

  private get rate(): number {
    return 2 ** (this.store.get().speed / 12);
  }

  private axis(): Axis {
    const { sound } = this.store.get();
    const length = sound < 0 ? 4 : this.shapes.duration(sound) / this.rate;
    const targetSeconds = this.source.targetSeconds();
    return {
      left: 14,
      width: Math.max(20, this.canvas.clientWidth - 24),
      seconds: Math.max(
        0.05,
        length * 1.06,
        targetSeconds !== null && targetSeconds < length * 2 ? targetSeconds * 1.1 : 0,
      ),
      counting: this.source.counting(),
      targetSeconds,
    };
  }

  private drawStill(context: CanvasRenderingContext2D, width: number, height: number): void {
    const { sound } = this.store.get();
    if (width < 40) return;
    if (sound < 0) {
      drawLegend(context, width, colours());
      return;
    }
    const axis = this.axis();
    const palette = colours();
    const lines = axisLines(axis);
    strokeLines(context, axis, lines, [20, height - 4], palette);
    writeLabels(context, axis, lines, 15, palette);
    const tall = height > 110;
    const waveHeight = tall ? 30 : 0;
    const bladeWidth = xOf(axis, this.shapes.duration(sound) / this.rate) - axis.left;
    const room = height - 20 - waveHeight - (tall ? 16 : 12);
    drawBlade(
      context,
      atSpeed(this.shapes.of(sound), this.store.get().speed),
      { x: axis.left, y: 28 + room / 2, width: bladeWidth, height: room - 4, lineWidth: 1.2, wedge: 9 },
      { ink: palette.ink, ground: palette.paper },
    );
    if (tall) this.drawWaveform(context, axis.left, bladeWidth, height - 6 - waveHeight / 2, waveHeight, palette.soft);
  }

  /** Minimum and maximum a pixel, once the first part of the preview is there. */
  private drawWaveform(
    context: CanvasRenderingContext2D,
    left: number,
    width: number,
    y: number,
    height: number,
    ink: string,
  ): void {
    const columns = this.source.waveform(this.store.get().sound);
    context.strokeStyle = ink;
    context.lineWidth = 1;
    context.beginPath();
    if (columns) {
      const count = columns.length / 2;
      // Drawn to its own peak: level is told in figures.
      const peak = Math.max(1, ...columns.map(Math.abs));
      for (let x = 0; x < width; x++) {
        const column = Math.min(count - 1, Math.floor((x / width) * count));
        const [low, high] = [columns[2 * column] / peak, columns[2 * column + 1] / peak];
        context.moveTo(left + x + 0.5, y - (high * height) / 2 - 0.5);
        context.lineTo(left + x + 0.5, y - (low * height) / 2 + 0.5);
      }
    } else {
      context.moveTo(left, y);
      context.lineTo(left + width, y);
    }
    context.stroke();
  }
}
