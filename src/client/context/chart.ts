/** The bars heard, drawn: their lines, each take at its place with its accent on the target, the cue below, the playhead. */
import { barSeconds, beatSeconds } from '../../../shared/music.ts';
import { clicksBetween, type Placing, type Score } from '../../../shared/placing.ts';
import { type Axis, type Line, strokeLines, writeLabels, xOf } from '../axis.ts';
import { type BladeShape, drawBlade } from '../blade.ts';
import { contextOf } from '../dom.ts';
import type { Palette } from '../theme.ts';
import { CUE_COLUMNS_A_SECOND } from './cue-level.ts';

export interface ChartTake {
  /** A or B; empty where there is but one. */
  letter: string;
  shape: BladeShape;
  durationSeconds: number;
  placing: Placing;
  inHand: boolean;
}

export interface ChartScene {
  score: Score;
  /** The bars heard. */
  bars: Placing;
  takes: readonly ChartTake[];
  cue: { columns: Float32Array; durationSeconds: number; barOneSeconds: number; muted: boolean } | null;
}

const LEFT = 16;
const RIGHT = 14;
const LABELS = 22;
const TAKE_HEIGHT = 62;
const CUE_HEIGHT = 46;
const NARROWEST_BAR_LABEL = 46;
const NARROWEST_LINE = 9;
const COUNT_IN = 'count-in';

export const chartHeight = (scene: ChartScene): number =>
  LABELS + Math.max(1, scene.takes.length) * TAKE_HEIGHT + (scene.cue ? CUE_HEIGHT : 0) + 6;

/** Score time across the chart, counted from the first bar heard. */
export function chartAxis({ score, bars }: ChartScene, width: number): Axis {
  return {
    left: LEFT,
    width: Math.max(20, width - LEFT - RIGHT),
    seconds: bars.endSeconds - bars.startSeconds,
    counting: score,
    targetSeconds: bars.targetSeconds - bars.startSeconds,
  };
}

export function drawChart(canvas: HTMLCanvasElement, scene: ChartScene, width: number, palette: Palette): void {
  const height = chartHeight(scene);
  const context = contextOf(canvas, width, height);
  if (!context) return;
  const axis = chartAxis(scene, width);
  const lines = barLines(scene, axis);
  strokeLines(context, axis, lines, [LABELS, height - 2], palette);
  writeLabels(context, axis, lines, 14, palette);
  for (const [row, take] of scene.takes.entries())
    drawTake(context, axis, scene, take, LABELS + row * TAKE_HEIGHT, palette);
  if (scene.cue) drawCue(context, axis, scene, height - CUE_HEIGHT - 4, palette);
}

function barLines({ score, bars }: ChartScene, axis: Axis): Line[] {
  const bar = barSeconds(score.tempo, score.metre);
  const pixels = axis.width / axis.seconds;
  let every = 1;
  while (every * bar * pixels < NARROWEST_BAR_LABEL) every *= 2;
  const barsApart = bar * pixels < NARROWEST_LINE ? every : 1;
  const beatsShown = beatSeconds(score.tempo, score.metre) * pixels >= NARROWEST_LINE;
  const lines: Line[] = [];
  let number = bars.firstBar - 1;
  for (const { scoreSeconds, downbeat } of clicksBetween(score, bars.startSeconds, bars.endSeconds)) {
    if (downbeat) number++;
    if (downbeat ? (number - bars.firstBar) % barsApart !== 0 : !beatsShown) continue;
    const label = downbeat ? barLabel(number, bars.firstBar, every) : '';
    lines.push({ seconds: scoreSeconds - bars.startSeconds, kind: downbeat ? 'bar' : 'beat', label });
  }
  const { bar: targetBar, beat } = score.target;
  const on = beat === 1 ? `bar ${targetBar}` : `bar ${targetBar} beat ${Number(beat.toFixed(3))}`;
  const target = bars.targetSeconds - bars.startSeconds;
  return [
    ...lines.filter(({ seconds }) => Math.abs(seconds - target) > 1e-6),
    { seconds: target, kind: 'target', label: on },
  ];
}

function barLabel(number: number, first: number, every: number): string {
  if (number < 1) return number === first ? COUNT_IN : '';
  return (number - Math.max(1, first)) % every === 0 ? `bar ${number}` : '';
}

function drawTake(
  context: CanvasRenderingContext2D,
  axis: Axis,
  { bars }: ChartScene,
  { letter, shape, durationSeconds, placing, inHand }: ChartTake,
  top: number,
  palette: Palette,
): void {
  const x = xOf(axis, placing.clipSeconds - bars.startSeconds);
  const width = (durationSeconds / placing.rate / axis.seconds) * axis.width;
  const middle = top + 14 + (TAKE_HEIGHT - 18) / 2;
  const cut = xOf(axis, placing.enterSeconds - bars.startSeconds);
  const isCut = placing.trimSeconds > 0.001 && cut >= axis.left - 1;
  const left = isCut ? cut : axis.left - 1;
  context.save();
  context.beginPath();
  context.rect(left, top, axis.left + axis.width + 1 - left, TAKE_HEIGHT);
  context.clip();
  drawBlade(
    context,
    shape,
    { x, y: middle, width, height: TAKE_HEIGHT - 24, lineWidth: inHand ? 1.3 : 0.8, wedge: 8 },
    { ink: inHand ? palette.ink : palette.faded, ground: palette.sheet },
  );
  context.restore();
  if (isCut) {
    context.strokeStyle = palette.ink;
    context.lineWidth = 1.5;
    context.setLineDash([3, 3]);
    context.beginPath();
    context.moveTo(cut + 0.5, top + 12);
    context.lineTo(cut + 0.5, top + TAKE_HEIGHT - 4);
    context.stroke();
    context.setLineDash([]);
  }
  if (letter === '') return;
  context.font = `${inHand ? 600 : 400} 13px "IBM Plex Sans Condensed", "Arial Narrow", sans-serif`;
  context.fillStyle = inHand ? palette.ink : palette.soft;
  context.fillText(letter, 2, middle + 4);
}

/** Largest sample of every column, mirrored; drawn to the largest in view. */
function drawCue(
  context: CanvasRenderingContext2D,
  axis: Axis,
  { bars, cue }: ChartScene,
  top: number,
  palette: Palette,
): void {
  if (!cue) return;
  const first = bars.startSeconds + cue.barOneSeconds;
  const columnAt = (x: number): number => Math.floor((first + (x / axis.width) * axis.seconds) * CUE_COLUMNS_A_SECOND);
  /** Negative where the cue has not begun or is over. */
  const heights: number[] = [];
  for (let x = 0; x < axis.width; x++) {
    let most = -1;
    for (let column = columnAt(x); column <= columnAt(x + 1); column++)
      most = Math.max(most, cue.columns[column] ?? -1);
    heights.push(most);
  }
  const largest = Math.max(1e-6, ...heights);
  const middle = top + CUE_HEIGHT / 2;
  context.strokeStyle = cue.muted ? palette.line : palette.soft;
  context.lineWidth = 1;
  context.beginPath();
  for (const [x, height] of heights.entries()) {
    if (height < 0) continue;
    const half = 0.5 + (height / largest) * (CUE_HEIGHT / 2 - 5);
    context.moveTo(axis.left + x + 0.5, middle - half);
    context.lineTo(axis.left + x + 0.5, middle + half);
  }
  context.stroke();
}
