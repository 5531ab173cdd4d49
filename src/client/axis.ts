/** The time axis that list and bench share: how many seconds it spans, and where its lines stand. */
import { barSeconds, beatSeconds, type Metre, type Tempo } from '../../shared/music.ts';
import type { Palette } from './theme.ts';

export interface Counting {
  tempo: Tempo | null;
  metre: Metre | null;
}

export interface Axis {
  /** Left edge and width of the plot in pixels. */
  left: number;
  width: number;
  seconds: number;
  counting: Counting;
  /** Where the accent is to fall; null when the question does not say. */
  targetSeconds: number | null;
}

export interface Line {
  seconds: number;
  kind: 'bar' | 'beat' | 'target';
  label: string;
}

export const xOf = (axis: Axis, seconds: number): number => axis.left + (seconds / axis.seconds) * axis.width;

/** Share of the sounds shown that fit whole, where a few are so much longer that the rest would shrink to nothing. */
const FITTING_SHARE = 0.9;
const MUCH_LONGER = 1.7;
const LEAST_SECONDS = 0.25;

/** Seconds across: what all lengths need, or all but a few much longer ones; and the target in view. */
export function fittingSpan(lengths: Float32Array, targetSeconds: number | null): number {
  const sorted = lengths.filter((length) => length > 0).sort();
  const longest = sorted.at(-1) ?? 4;
  const usual = sorted.at(Math.floor((sorted.length - 1) * FITTING_SHARE)) ?? longest;
  const most = longest > usual * MUCH_LONGER ? usual : longest;
  return Math.max(LEAST_SECONDS, most * 1.04, (targetSeconds ?? 0) * 1.3);
}

const NARROWEST_LABEL = 46;
/** Seconds need fewer lines than bars: nobody counts them. */
const NARROWEST_SECONDS = 70;
const NARROWEST_BEAT = 9;
/** From here on minutes read better. */
const LONGEST_SECOND_STEP = 20;
const MINUTE_STEPS = [0.5, 1, 2, 5, 10, 20, 30, 60, 120];

/** Bars and beats where there is a tempo, else round seconds; the target last, so that it is drawn over the rest. */
export function axisLines(axis: Axis): Line[] {
  const { tempo, metre } = axis.counting;
  const lines = tempo ? musicalLines(axis, tempo, metre) : secondLines(axis);
  const { targetSeconds } = axis;
  if (targetSeconds === null || targetSeconds > axis.seconds) return lines;
  const at = lines.findIndex((line) => Math.abs(line.seconds - targetSeconds) < 1e-6);
  const label = at >= 0 ? lines[at].label : '';
  if (at >= 0) lines.splice(at, 1);
  return [...lines, { seconds: targetSeconds, kind: 'target', label: label || 'accent' }];
}

function musicalLines(axis: Axis, tempo: Tempo, metre: Metre | null): Line[] {
  const bar = barSeconds(tempo, metre);
  const beat = beatSeconds(tempo, metre);
  const pixels = axis.width / axis.seconds;
  const lines: Line[] = [];
  // Labels at every bar, or every 2nd, 4th, 8th ... so that they do not touch.
  let every = 1;
  while (every * bar * pixels < NARROWEST_LABEL) every *= 2;
  const barsShown = every * bar * pixels > 0 ? Math.floor(axis.seconds / bar) : 0;
  const linesEvery = bar * pixels < NARROWEST_BEAT ? every : 1;
  for (let count = 0; count <= barsShown; count += linesEvery) {
    lines.push({ seconds: count * bar, kind: 'bar', label: count % every === 0 ? `bar ${count + 1}` : '' });
    if (beat * pixels < NARROWEST_BEAT) continue;
    for (let step = 1; step * beat < bar - 1e-6; step++) {
      const seconds = count * bar + step * beat;
      if (seconds < axis.seconds) lines.push({ seconds, kind: 'beat', label: '' });
    }
  }
  return lines;
}

function secondLines(axis: Axis): Line[] {
  const least = (NARROWEST_SECONDS / axis.width) * axis.seconds;
  if (least > LONGEST_SECOND_STEP) return minuteLines(axis, least / 60);
  const step = roundStep(least);
  const digits = Math.max(0, Math.ceil(-Math.log10(step) - 1e-9));
  const lines: Line[] = [];
  for (let count = 0; count * step <= axis.seconds; count++) {
    const label = count === 0 ? '0 s' : (count * step).toFixed(digits);
    lines.push({ seconds: count * step, kind: 'bar', label });
  }
  return lines;
}

function minuteLines(axis: Axis, least: number): Line[] {
  const step = MINUTE_STEPS.find((size) => size >= least) ?? roundStep(least);
  const lines: Line[] = [];
  for (let count = 0; count * step * 60 <= axis.seconds; count++)
    lines.push({ seconds: count * step * 60, kind: 'bar', label: `${count * step} min` });
  return lines;
}

/** 1, 2 or 5 times a power of ten, no less than `least`. */
function roundStep(least: number): number {
  const decade = 10 ** Math.floor(Math.log10(least));
  return [1, 2, 5, 10].map((factor) => factor * decade).find((size) => size >= least) ?? decade * 10;
}

export function strokeLines(
  context: CanvasRenderingContext2D,
  axis: Axis,
  lines: readonly Line[],
  [top, bottom]: readonly [number, number],
  palette: Palette,
): void {
  for (const { seconds, kind } of lines) {
    // Half pixels keep one-pixel lines sharp.
    const x = Math.round(xOf(axis, seconds)) + 0.5;
    context.strokeStyle = kind === 'target' ? palette.signal : palette.line;
    context.lineWidth = kind === 'target' ? 1.5 : kind === 'bar' ? 1 : 0.5;
    context.beginPath();
    context.moveTo(x, top);
    context.lineTo(x, bottom);
    context.stroke();
  }
}

export function writeLabels(
  context: CanvasRenderingContext2D,
  axis: Axis,
  lines: readonly Line[],
  baseline: number,
  palette: Palette,
): void {
  const target = lines.find((line) => line.kind === 'target');
  for (const { seconds, kind, label } of lines) {
    if (label === '') continue;
    const x = Math.round(xOf(axis, seconds)) + 3;
    if (kind !== 'target' && target && Math.abs(xOf(axis, target.seconds) - xOf(axis, seconds)) < NARROWEST_LABEL - 6)
      continue;
    context.font = `${kind === 'target' ? 600 : 400} 12.5px "IBM Plex Sans Condensed", "Arial Narrow", sans-serif`;
    const width = context.measureText(label).width;
    if (x + width > axis.left + axis.width + 2 && kind !== 'target') continue;
    context.fillStyle = kind === 'target' ? palette.signal : palette.soft;
    context.fillText(label, Math.min(x, axis.left + axis.width - width), baseline);
  }
}
