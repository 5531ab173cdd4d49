/**
 * WebAssembly modules put together from their instructions, for the few inner loops that reckon with several numbers at
 * once (WebAssembly Core Specification 2.0, W3C, chapter 5 "Binary Format" and its vector instructions).
 *
 * A piece of code is a list of bytes; pieces are joined by spreading. Addresses are in bytes of the module's one memory.
 */

export type Code = readonly number[];

/** Types of locals, and of a block without a result. */
export const I32 = 0x7f;
export const V128 = 0x7b;
const EMPTY = 0x40;

/** Whole numbers as the binary format writes them, seven bits a byte, lowest first (LEB128). */
function unsigned(value: number): number[] {
  return value < 0x80 ? [value] : [(value & 0x7f) | 0x80, ...unsigned(value >>> 7)];
}
function signed(value: number): number[] {
  const isLast = value >= -0x40 && value < 0x40;
  return isLast ? [value & 0x7f] : [(value & 0x7f) | 0x80, ...signed(value >> 7)];
}

export const vector = (code: number): Code => [0xfd, ...unsigned(code)];
export const get = (local: number): Code => [0x20, ...unsigned(local)];
export const set = (local: number): Code => [0x21, ...unsigned(local)];
export const tee = (local: number): Code => [0x22, ...unsigned(local)];
export const number = (value: number): Code => [0x41, ...signed(value)];
export const I32_ADD: Code = [0x6a];
export const I32_LESS: Code = [0x48];
/** Alignment is a hint only: 2^1 bytes. */
const at = (offset: number): Code => [1, ...unsigned(offset)];
/** Of the address on the stack and `offset` bytes on. */
export const loadVector = (offset: number): Code => [...vector(0x00), ...at(offset)];
export const storeVector = (offset: number): Code => [...vector(0x0b), ...at(offset)];
/** `code`, again and again while it leaves a number other than 0 on the stack. */
export const repeat = (code: Code): Code => [0x03, EMPTY, ...code, 0x0d, 0, 0x0b];
/** Adds to a local that holds an address. */
export const advance = (local: number, bytes: number): Code => [
  ...get(local),
  ...number(bytes),
  ...I32_ADD,
  ...set(local),
];

/** The vector instructions that read one value into all lanes. */
export const loadSplat16 = (offset: number): Code => [...vector(0x08), ...at(offset)];
export const loadSplat64 = (offset: number): Code => [...vector(0x0a), ...at(offset)];

const PAGE_BYTES = 0x10000;

/**
 * The bytes of a module with one function without arguments and results, called `run`, and one memory of at least
 * `bytes`, called `memory`. `locals`: how many of which type, numbered through in this order.
 */
export function moduleOf(
  bytes: number,
  locals: readonly (readonly [count: number, type: number])[],
  code: Code,
): Uint8Array<ArrayBuffer> {
  const sized = (part: Code): Code => [...unsigned(part.length), ...part];
  const section = (id: number, part: Code): Code => [id, ...sized(part)];
  const name = (text: string): Code => sized(Array.from(text, (letter) => letter.charCodeAt(0)));
  const body = [
    ...unsigned(locals.length),
    ...locals.flatMap(([count, type]) => [...unsigned(count), type]),
    ...code,
    0x0b,
  ];
  return Uint8Array.from([
    ...[0, 0x61, 0x73, 0x6d, 1, 0, 0, 0],
    ...section(1, [1, 0x60, 0, 0]),
    ...section(3, [1, 0]),
    ...section(5, [1, 0, ...unsigned(Math.ceil(bytes / PAGE_BYTES))]),
    ...section(7, [2, ...name('memory'), 2, 0, ...name('run'), 0, 0]),
    ...section(10, [1, ...sized(body)]),
  ]);
}

export interface VectorProgram {
  memory: ArrayBuffer;
  run: () => void;
}

/** Null where there are no vector instructions, or modules may not be made. */
export function programOf(module: Uint8Array<ArrayBuffer>): VectorProgram | null {
  try {
    const { exports } = new WebAssembly.Instance(new WebAssembly.Module(module));
    const { memory, run } = exports;
    if (!(memory instanceof WebAssembly.Memory) || typeof run !== 'function') return null;
    return { memory: memory.buffer, run: () => run() };
  } catch {
    return null;
  }
}
