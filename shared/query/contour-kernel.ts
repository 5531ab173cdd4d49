/**
 * The warped cost of eight rows at once, for machines that add eight numbers in one step: a WebAssembly module of one function,
 * put together here from its instructions (WebAssembly Core Specification 2.0, W3C, chapter 5 "Binary Format" and its
 * vector instructions). The cost of the loudest against silence is 32,640, so that 16 bits hold every cost; sums that
 * would go beyond stay at the top (saturate), which marks what cannot be reached.
 *
 * It works out the recursion of warpedCost (contour-bounds.ts) to the end; nothing is left out and nothing is guessed.
 */
import { CONTOUR_POINTS } from '../sound.ts';
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
  try {
    const { exports } = new WebAssembly.Instance(new WebAssembly.Module(moduleBytes()));
    const { memory, warp } = exports;
    if (!(memory instanceof WebAssembly.Memory) || typeof warp !== 'function') return null;
    const { buffer } = memory;
    const padded = (CONTOUR_POINTS + 2 * BAND_POINTS) * LANES;
    new Uint16Array(buffer, ROWS_AT, padded).fill(UNREACHED);
    return {
      wanted: new Uint16Array(buffer, WANTED_AT, CONTOUR_POINTS),
      rows: new Uint16Array(buffer, ROWS_AT + BAND_POINTS * POINT_BYTES, CONTOUR_POINTS * LANES),
      costs: new Uint16Array(buffer, COSTS_AT, LANES),
      warp: () => warp(),
    };
  } catch {
    return null;
  }
}

/** Whole numbers as the binary format writes them, seven bits a byte, lowest first (LEB128). */
function unsigned(value: number): number[] {
  return value < 0x80 ? [value] : [(value & 0x7f) | 0x80, ...unsigned(value >>> 7)];
}
function signed(value: number): number[] {
  const isLast = value >= -0x40 && value < 0x40;
  return isLast ? [value & 0x7f] : [(value & 0x7f) | 0x80, ...signed(value >> 7)];
}

const I32 = 0x7f;
const V128 = 0x7b;
const EMPTY = 0x40;
const vector = (code: number): number[] => [0xfd, ...unsigned(code)];
const get = (local: number): number[] => [0x20, ...unsigned(local)];
const set = (local: number): number[] => [0x21, ...unsigned(local)];
const tee = (local: number): number[] => [0x22, ...unsigned(local)];
const number = (value: number): number[] => [0x41, ...signed(value)];
/** Alignment is a hint only: 2^1 bytes. */
const at = (offset: number): number[] => [1, ...unsigned(offset)];
const I32_ADD = [0x6a];
const I32_LESS = [0x48];
const loadVector = (offset: number): number[] => [...vector(0x00), ...at(offset)];
const loadSplat = (offset: number): number[] => [...vector(0x08), ...at(offset)];
const storeVector = (offset: number): number[] => [...vector(0x0b), ...at(offset)];
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

/** One point of the wanted row against the point `k` of its band. */
function cell(k: number): number[] {
  const straight = [...get(COST + k), ...get(DIFFERENCE), ...ADD_SATURATED];
  const alone = (before: number): number[] => [...get(before), ...get(STEP), ...ADD_SATURATED, ...MIN];
  return [
    ...[...get(ROWS_PLACE), ...loadVector(ROWS_AT + k * POINT_BYTES), ...tee(OTHER), ...get(VALUE), ...MAX],
    ...[...get(OTHER), ...get(VALUE), ...MIN, ...SUBTRACT, ...set(DIFFERENCE)],
    ...straight,
    ...(k + 1 < STEPS ? alone(COST + k + 1) : []),
    ...(k > 0 ? alone(COST + k - 1) : []),
    ...[...get(DIFFERENCE), ...ADD_SATURATED, ...set(COST + k)],
  ];
}

function body(): number[] {
  const splat = (value: number): number[] => [...number(value), ...SPLAT];
  const cells = Array.from({ length: STEPS }, (_, k) => cell(k)).flat();
  const starts = Array.from({ length: STEPS }, (_, k) => [
    ...splat(k === BAND_POINTS ? 0 : UNREACHED),
    ...set(COST + k),
  ]);
  const next = (local: number, bytes: number): number[] => [...get(local), ...number(bytes), ...I32_ADD, ...tee(local)];
  const loop = [
    ...[0x03, EMPTY],
    ...[...get(WANTED_PLACE), ...loadSplat(WANTED_AT), ...set(VALUE)],
    ...cells,
    ...[...next(ROWS_PLACE, POINT_BYTES), 0x1a],
    ...[...next(WANTED_PLACE, BYTES_PER_VALUE), ...number(CONTOUR_POINTS * BYTES_PER_VALUE), ...I32_LESS],
    ...[0x0d, 0, 0x0b],
  ];
  const locals = [2, ...[2, I32], ...[COST + STEPS - VALUE, V128]];
  const end = [...number(0), ...get(COST + BAND_POINTS), ...storeVector(COSTS_AT), 0x0b];
  return [...locals, ...splat(STEP_COST), ...set(STEP), ...starts.flat(), ...loop, ...end];
}

function moduleBytes(): Uint8Array<ArrayBuffer> {
  const sized = (bytes: readonly number[]): number[] => [...unsigned(bytes.length), ...bytes];
  const section = (id: number, bytes: readonly number[]): number[] => [id, ...sized(bytes)];
  const name = (text: string): number[] => sized(Array.from(text, (letter) => letter.charCodeAt(0)));
  return Uint8Array.from([
    ...[0, 0x61, 0x73, 0x6d, 1, 0, 0, 0],
    // One type without arguments and results, one function of it, one page of memory, both under their names.
    ...section(1, [1, 0x60, 0, 0]),
    ...section(3, [1, 0]),
    ...section(5, [1, 0, 1]),
    ...section(7, [2, ...name('memory'), 2, 0, ...name('warp'), 0, 0]),
    ...section(10, [1, ...sized(body())]),
  ]);
}
