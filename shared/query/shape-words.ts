/** A wanted shape as something sounds come near to, and what differs in plain words. */
import { semitonesToRate } from '../music.ts';
import type { Shelf } from '../shelf.ts';
import { CONTOUR_POINTS, type Semitones } from '../sound.ts';
import { contourDistance, lengthCost, shapeDistances, type WantedShape, wantedRow } from './contour.ts';
import { shapeRowsOf } from './contour-rows.ts';
import type { Reason } from './criterion.ts';
import { formatSeconds } from './describe.ts';
import { heardSecondsOf } from './heard.ts';
import type { Nearness } from './nearness.ts';

/** Up to here contours are called the same, and near: what a take and the same take bent by hand differ by. Our judgement. */
export const SAME_SHAPE = 0.03;
export const CLOSE_SHAPE = 0.07;
/** A length that costs less than this is not worth a word: a twentieth off. */
const SAME_LENGTH_COST = 0.003;
/** One that costs more does not fit: a fifth off, where varispeed has to bend it by more than three semitones. */
const CLOSE_LENGTH_COST = 0.03;

/** The door by which a drawn or sung shape enters ranking. */
export function nearShape(shelf: Shelf, wanted: WantedShape): Nearness {
  return {
    distances(sounds, semitonesOf) {
      const { silent } = shapeRowsOf(shelf);
      const distances = shapeDistances(shelf, wanted, { sounds, semitonesOf });
      for (let at = 0; at < sounds.length; at++) if (silent[sounds[at]] === 1) distances[at] = Infinity;
      return distances;
    },
    reason: (sound, semitones) => shapeReason(shelf, wanted, sound, semitones),
  };
}

/** "same shape", "close in shape, loudest later", "shape 0.12 away: dies away sooner, 0.40 s shorter". */
export function shapeReason(shelf: Shelf, wanted: WantedShape, sound: number, semitones: Semitones): Reason {
  const far = contourDistance(shelf, wanted, sound);
  const { rows, silent } = shapeRowsOf(shelf);
  if (silent[sound] === 1) return { text: 'silent: no shape', fits: false };
  const cost = lengthCost(shelf, wanted, sound, semitones);
  const fits = far <= CLOSE_SHAPE && cost <= CLOSE_LENGTH_COST;
  const row = rows.subarray(sound * CONTOUR_POINTS, (sound + 1) * CONTOUR_POINTS);
  const differs = far <= SAME_SHAPE ? null : shapeDifference(wantedRow(wanted).row, row);
  const length = cost <= SAME_LENGTH_COST ? null : lengthWords(shelf, wanted, sound, semitones);
  const known = [differs, length].filter((words) => words !== null).join(', ');
  const head =
    far <= SAME_SHAPE ? 'same shape' : far <= CLOSE_SHAPE ? 'close in shape' : `shape ${far.toFixed(2)} away`;
  const between = far <= CLOSE_SHAPE ? ', ' : ': ';
  return { text: known === '' ? head : head + between + known, fits };
}

function lengthWords(shelf: Shelf, { seconds }: WantedShape, sound: number, semitones: Semitones): string | null {
  if (seconds === null) return null;
  const miss = heardSecondsOf(shelf)(sound) / semitonesToRate(semitones) - seconds;
  return `${formatSeconds(Math.abs(miss))} ${miss > 0 ? 'longer' : 'shorter'}`;
}

/** Half a band is shifted without a word: a moment must come this share of the length elsewhere to be called late. */
const LATER_POINTS = 0.12 * CONTOUR_POINTS;
/** Of 255: 5 dB below the loudest moment. */
const LOUD = 255 * Math.SQRT1_2;

/** How the second contour differs from the first: the plainest of what can be said; null where nothing plain can. */
export function shapeDifference(wanted: Uint8Array, row: Uint8Array): string | null {
  const isLoud = (value: number): boolean => value >= LOUD;
  const rise = row.findIndex(isLoud) - wanted.findIndex(isLoud);
  const fall = row.findLastIndex(isLoud) - wanted.findLastIndex(isLoud);
  if (rise > LATER_POINTS && fall > LATER_POINTS) return 'loudest later';
  if (rise < -LATER_POINTS && fall < -LATER_POINTS) return 'loudest earlier';
  if (rise > LATER_POINTS) return 'rises later';
  if (fall < -LATER_POINTS) return 'dies away sooner';
  if (rise < -LATER_POINTS) return 'rises earlier';
  if (fall > LATER_POINTS) return 'holds on longer';
  const [uneven, wantedUneven] = [unevenness(row), unevenness(wanted)];
  if (uneven > 1.5 * wantedUneven + 1) return 'more uneven';
  if (wantedUneven > 1.5 * uneven + 1) return 'more even';
  const fuller = mean(row) - mean(wanted);
  if (Math.abs(fuller) < 0.06 * 255) return null;
  return fuller > 0 ? 'fuller' : 'leaner';
}

/** All rises and falls together, in full heights. */
function unevenness(row: Uint8Array): number {
  let sum = 0;
  for (let point = 1; point < row.length; point++) sum += Math.abs(row[point] - row[point - 1]);
  return sum / 255;
}

const mean = (row: Uint8Array): number => row.reduce((sum, value) => sum + value, 0) / row.length;
