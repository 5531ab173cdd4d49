/**
 * The warped cost of eight rows at once, for machines that add eight numbers in one step (vector-code.ts). The cost of the
 * loudest against silence is 32,640, so that 16 bits hold every cost; sums that would go beyond stay at the top
 * (saturate), which marks what cannot be reached.
 *
 * It works out the recursion of warpedCost (contour-bounds.ts) to the end; nothing is left out and nothing is guessed.
 */
import { CONTOUR_POINTS } from '../sound.ts';
import {
  advance,
  type Code,
  get,
  I32,
  I32_LESS,
  loadSplat16,
  loadVector,
  moduleOf,
  number,
  programOf,
  repeat,
  set,
  storeVector,
  tee,
  V128,
  vector,
} from '../vector-code.ts';
import { BAND_POINTS, STEP_COST } from './contour-bounds.ts';

/** Rows warped at once. */
export const LANES = 8;
const BYTES_PER_VALUE = 2;
const POINT_BYTES = LANES * BYTES_PER_VALUE;
/** Of memory: the wanted row, the eight rows with BAND_POINTS unreachable points before and after, and their costs. */
const WANTED_AT = 0;
const ROWS_AT = WANTED_AT + CONTOUR_POINTS * BYTES_PER_VALUE;
const COSTS_AT = ROWS_AT + (CONTOUR_POINTS + 2 * BAND_POINTS) * POINT_BYTES;
const UNREACHED = 0xffff;

export interface WarpKernel {
  /** The one row all others are compared with, CONTOUR_POINTS values 0..255. */
  wanted: Uint16Array;
  /** Point by point the values of all eight rows, 0..255. */
  rows: Uint16Array;
  /** What `warp` leaves: a cost for each row. */
  costs: Uint16Array;
  warp: () => void;
}

let kernel: WarpKernel | null | undefined;

/** Null where the browser has no vector instructions or may not make modules. */
export function warpKernel(): WarpKernel | null {
  if (kernel === undefined) kernel = makeKernel();
  return kernel;
}

function makeKernel(): WarpKernel | null {
  const padded = (CONTOUR_POINTS + 2 * BAND_POINTS) * LANES;
  const program = programOf(moduleOf(COSTS_AT + POINT_BYTES, LOCALS, code()));
  if (program === null) return null;
  const { memory, run } = program;
  new Uint16Array(memory, ROWS_AT, padded).fill(UNREACHED);
  return {
    wanted: new Uint16Array(memory, WANTED_AT, CONTOUR_POINTS),
    rows: new Uint16Array(memory, ROWS_AT + BAND_POINTS * POINT_BYTES, CONTOUR_POINTS * LANES),
    costs: new Uint16Array(memory, COSTS_AT, LANES),
    warp: run,
  };
}

const SPLAT = vector(0x10);
const ADD_SATURATED = vector(0x90);
const SUBTRACT = vector(0x91);
const MIN = vector(0x97);
const MAX = vector(0x99);

/** Locals: two addresses, then vectors. */
const WANTED_PLACE = 0;
const ROWS_PLACE = 1;
const VALUE = 2;
const OTHER = 3;
const DIFFERENCE = 4;
const STEP = 5;
/** Costs by step off the diagonal. */
const COST = 6;
const STEPS = 2 * BAND_POINTS + 1;
const LOCALS = [
  [2, I32],
  [COST + STEPS - VALUE, V128],
] as const;

/** One point of the wanted row against the point `k` of its band. */
function cell(k: number): Code {
  const straight = [...get(COST + k), ...get(DIFFERENCE), ...ADD_SATURATED];
  const alone = (before: number): Code => [...get(before), ...get(STEP), ...ADD_SATURATED, ...MIN];
  return [
    ...[...get(ROWS_PLACE), ...loadVector(ROWS_AT + k * POINT_BYTES), ...tee(OTHER), ...get(VALUE), ...MAX],
    ...[...get(OTHER), ...get(VALUE), ...MIN, ...SUBTRACT, ...set(DIFFERENCE)],
    ...straight,
    ...(k + 1 < STEPS ? alone(COST + k + 1) : []),
    ...(k > 0 ? alone(COST + k - 1) : []),
    ...[...get(DIFFERENCE), ...ADD_SATURATED, ...set(COST + k)],
  ];
}

function code(): Code {
  const splat = (value: number): Code => [...number(value), ...SPLAT];
  const cells = Array.from({ length: STEPS }, (_, k) => cell(k)).flat();
  const starts = Array.from({ length: STEPS }, (_, k) => [
    ...splat(k === BAND_POINTS ? 0 : UNREACHED),
    ...set(COST + k),
  ]);
  const points = repeat([
    ...[...get(WANTED_PLACE), ...loadSplat16(WANTED_AT), ...set(VALUE)],
    ...cells,
    ...advance(ROWS_PLACE, POINT_BYTES),
    ...advance(WANTED_PLACE, BYTES_PER_VALUE),
    ...[...get(WANTED_PLACE), ...number(CONTOUR_POINTS * BYTES_PER_VALUE), ...I32_LESS],
  ]);
  const store = [...number(0), ...get(COST + BAND_POINTS), ...storeVector(COSTS_AT)];
  return [...splat(STEP_COST), ...set(STEP), ...starts.flat(), ...points, ...store];
}
