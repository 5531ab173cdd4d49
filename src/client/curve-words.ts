/** A loudness curve in words, for those who do not see it and as a check for those who do. */
import { FULL, isDrawn, KNOTS } from './drawn-shape.ts';
import { share } from './format.ts';

/** Of the highest: what counts as held, as a stroke, and as sounding at all (1.5, 17 and 50 dB less). */
const HIGH = 0.9;
const QUIET = 0.3;
const SOUNDING = 1 / 32;
/** Within this share of the length of the beginning or the end a moment is there. */
const AT_THE_EDGE = 0.07;
/** A stretch this long at its height is held. */
const HELD = 0.35;

/** "rises to its loudest at 80 %, then stops" */
export function curveWords(heights: readonly number[]): string {
  if (!isDrawn(heights)) return 'nothing drawn';
  const peak = Math.max(...heights);
  const levels = heights.map((height) => height / peak);
  const strokes = strokesOf(levels);
  if (strokes.length > 3) return `${strokes.length} strokes, the loudest at ${percent(levels.indexOf(1))}`;
  return strokes.map((stroke, at) => strokeWords(levels, stroke, at > 0)).join(', ');
}

/** Knots from one quiet moment to the next. */
interface Stroke {
  first: number;
  end: number;
}

function strokesOf(levels: readonly number[]): Stroke[] {
  const strokes: Stroke[] = [];
  let first = 0;
  let top = 0;
  let low = 1;
  let lowAt = 0;
  for (const [knot, level] of levels.entries()) {
    if (level > low * 2 && level > QUIET && top > QUIET && low < top / 2) {
      strokes.push({ first, end: lowAt + 1 });
      first = lowAt;
      top = level;
      low = level;
    }
    if (level > top) {
      top = level;
      low = level;
    }
    if (level <= low) {
      low = level;
      lowAt = knot;
    }
  }
  return [...strokes, { first, end: levels.length }];
}

function strokeWords(levels: readonly number[], { first, end }: Stroke, isLater: boolean): string {
  const part = levels.slice(first, end);
  const top = Math.max(...part);
  const isHigh = (level: number): boolean => level >= top * HIGH;
  const highFirst = first + part.findIndex(isHigh);
  const highLast = first + part.findLastIndex(isHigh);
  const soundingLast = first + part.findLastIndex((level) => level > SOUNDING);
  const isHeld = place(highLast - highFirst) >= HELD;
  const isAtStart = !isLater && place(highFirst) <= AT_THE_EDGE;
  const isAtEnd = place(highLast) >= 1 - AT_THE_EDGE;
  if (isHeld && isAtStart && isAtEnd) return 'holds from beginning to end';
  const name = top < 1 ? 'a lesser height' : 'its loudest';
  const words = [
    isAtStart
      ? `starts at ${name}`
      : `${isLater ? 'then rises' : 'rises'} to ${name} at ${percent(isHeld ? highFirst : first + part.indexOf(top))}`,
  ];
  if (isHeld) words.push(`holds until ${percent(highLast)}`);
  if (isAtEnd || place(soundingLast - highLast) <= AT_THE_EDGE) words.push('then stops');
  else if (end < levels.length) words.push(`falls until ${percent(end - 1)}`);
  else if (place(soundingLast) >= 1 - AT_THE_EDGE) words.push('dies away to the end');
  else words.push(`dies away by ${percent(soundingLast)}`);
  return words.join(', ');
}

const place = (knots: number): number => knots / (KNOTS - 1);
const percent = (knot: number): string => share(place(knot));

/** One knot for a slider's value: "at 25 %: 12 of 35". */
export function knotWords(heights: readonly number[], knot: number): string {
  return `at ${percent(knot)}: height ${heights[knot]} of ${FULL}`;
}
