/**
 * A loudness curve drawn by hand: what is kept of it, how it is changed, how it travels in a link, and what it is in words.
 *
 * It has KNOTS heights from beginning to end with straight lines between, each a whole number from 0 to FULL, on the scale
 * blades are drawn on. So a link carries it exactly, one character a knot.
 */
import type { WantedShape } from '../../shared/query/contour.ts';
import { CONTOUR_POINTS, type Seconds } from '../../shared/sound.ts';

export const KNOTS = 32;
/** The highest digit of base 36. */
export const FULL = 35;

export interface DrawnShape {
  heights: readonly number[];
  /** null leaves the length free. */
  seconds: Seconds | null;
}

/** Longer than any take; a link that says more is not believed. */
const LONGEST_SECONDS: Seconds = 3600;

export const NOTHING_DRAWN: readonly number[] = new Array<number>(KNOTS).fill(0);

export const isDrawn = (heights: readonly number[]): boolean => heights.some((height) => height > 0);

/** Height 0..FULL at a share 0..1 of the length. */
export function heightAt(heights: readonly number[], at: number): number {
  const place = Math.max(0, Math.min(1, at)) * (KNOTS - 1);
  const before = Math.min(KNOTS - 2, Math.floor(place));
  return heights[before] + (heights[before + 1] - heights[before]) * (place - before);
}

/** As values of a contour, each in the middle of its share of the length, 1 the highest. */
export function wantedOf({ heights, seconds }: DrawnShape): WantedShape {
  const peak = Math.max(...heights, 1);
  const contour = Float32Array.from(
    { length: CONTOUR_POINTS },
    (_, point) => heightAt(heights, (point + 0.5) / CONTOUR_POINTS) / peak,
  );
  return { contour, seconds };
}

/** The heights that come nearest to a contour of any number of values 0..1: a measured sound as if it had been drawn. */
export function drawnFrom(contour: ArrayLike<number>): number[] {
  return Array.from({ length: KNOTS }, (_, knot) => {
    const place = (knot / (KNOTS - 1)) * (contour.length - 1);
    const before = Math.min(contour.length - 2, Math.floor(place));
    const value = contour[before] + (contour[before + 1] - contour[before]) * (place - before);
    return height(value * FULL);
  });
}

const height = (value: number): number => Math.max(0, Math.min(FULL, Math.round(value)));

export interface CurvePoint {
  /** Share 0..1 of the length. */
  at: number;
  /** 0..1 of full height. */
  level: number;
}

const knotOf = (at: number): number => Math.max(0, Math.min(KNOTS - 1, Math.round(at * (KNOTS - 1))));

/** A straight line from one point to another, in place of what stood between; the same point twice sets one knot. */
export function withLine(heights: readonly number[], from: CurvePoint, to: CurvePoint): number[] {
  const [left, right] = from.at <= to.at ? [from, to] : [to, from];
  const [first, last] = [knotOf(left.at), knotOf(right.at)];
  return heights.map((old, knot) => {
    if (knot < first || knot > last) return old;
    if (first === last) return height(to.level * FULL);
    const share = (knot - first) / (last - first);
    return height((left.level + (right.level - left.level) * share) * FULL);
  });
}

/** One knot higher or lower. */
export function withStep(heights: readonly number[], knot: number, by: number): number[] {
  return heights.map((old, at) => (at === knot ? height(old + by) : old));
}

/** `heights` as base-36 digits, then the seconds: "0123_2.5". */
export function writeShape({ heights, seconds }: DrawnShape): string {
  const digits = heights.map((value) => value.toString(36)).join('');
  return seconds === null ? digits : `${digits}_${Number(seconds.toFixed(3))}`;
}

/** Whether a link would say the same of both. */
export function isSameShape(one: DrawnShape | null, other: DrawnShape | null): boolean {
  return (one && writeShape(one)) === (other && writeShape(other));
}

/** null where the text is no shape, or one with nothing drawn. */
export function readShape(text: string): DrawnShape | null {
  const [digits, length] = text.split('_');
  if (!new RegExp(`^[0-9a-z]{${KNOTS}}$`).test(digits)) return null;
  const heights = Array.from(digits, (digit) => Number.parseInt(digit, 36));
  if (!isDrawn(heights)) return null;
  const seconds = Number(length);
  return { heights, seconds: seconds > 0 && seconds <= LONGEST_SECONDS ? seconds : null };
}

/** Loudness halves with 10 dB, so an even decay in decibels halves in equal times. */
const dying = (at: number, halvings: number): number => (at < 0 ? 0 : 2 ** (-at * halvings));
const PRESET_COURSES: Readonly<Record<string, (at: number) => number>> = {
  hit: (at) => dying(at, 6),
  swell: (at) => Math.sin(Math.PI * at),
  riser: (at) => (at <= 0.85 ? (at / 0.85) ** 1.6 : 0),
  drone: (at) => Math.min(1, at / 0.06, (1 - at) / 0.06),
  pulse: (at) => dying((at * 5) % 1, 3.5) * (at < 1 ? 1 : 0),
  fade: (at) => 1 - at,
  'swell, then hit': (at) => (at < 0.65 ? 0.75 * (at / 0.65) ** 2 : dying(at - 0.65, 12)),
  'hit, then swell': (at) => Math.max(dying(at, 9), at < 0.35 ? 0 : 0.85 * Math.sin(((at - 0.35) / 0.65) * Math.PI)),
};

/** Courses to start from, by their trade names. */
export const PRESETS: ReadonlyMap<string, readonly number[]> = new Map(
  Object.entries(PRESET_COURSES).map(([name, course]) => [
    name,
    Array.from({ length: KNOTS }, (_, knot) => height(course(knot / (KNOTS - 1)) * FULL)),
  ]),
);
