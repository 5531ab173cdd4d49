/**
 * The discrete Fourier transform of N complex numbers, N a power of two from 4 on:
 *
 *   X[k] = sum over n of x[n] e^(-2 pi i k n / N)
 *
 * in passes that each do a quarter of what is left (radix 4; Stockham's order, which sorts as it goes; Cochran et al.,
 * "What is the fast Fourier transform?", Proc. IEEE 55(10), 1967, from memory), with one of radix 2 at the end where N is
 * no power of four. Between two passes the numbers change places from one array to the other.
 *
 * It comes twice: as a WebAssembly module with a complex number to a vector, in which all lengths and addresses are constants,
 * and in plain code for where such may not be made. Both do the same sums in the same order, so they agree to the last bit.
 */
import {
  advance,
  type Code,
  get,
  I32,
  I32_ADD,
  I32_LESS,
  loadSplat64,
  loadVector,
  moduleOf,
  number,
  programOf,
  repeat,
  set,
  storeVector,
  V128,
  vector,
} from '../vector-code.ts';

/** Complex numbers are interleaved: real, imaginary. */
export interface FourierKernel {
  /** N numbers to transform. What is in there after it means nothing. */
  input: Float64Array;
  output: Float64Array;
  transform: () => void;
}

const VALUE_BYTES = 8;
const COMPLEX_BYTES = 2 * VALUE_BYTES;

/** A pass transforms what lies `stride` apart; `size` is the length of the transforms that it takes apart. */
interface Pass {
  size: number;
  stride: number;
  /** Addresses in bytes; of the factors, the first, second and third power for each of size / 4 places. */
  from: number;
  to: number;
  factors: number;
}

interface Plan {
  passes: Pass[];
  bytes: number;
}

function planOf(size: number): Plan {
  const passes: Pass[] = [];
  let factors = 2 * size * COMPLEX_BYTES;
  let [from, to] = [0, size * COMPLEX_BYTES];
  for (let left = size; left > 1; left >>= 2) {
    passes.push({ size: left, stride: size / left, from, to, factors });
    if (left > 4) factors += (left / 4) * 3 * COMPLEX_BYTES;
    [from, to] = [to, from];
  }
  return { passes, bytes: factors };
}

/** A new one, with memory of its own. */
export function fourierKernel(size: number): FourierKernel {
  return vectorKernel(size) ?? plainKernel(size);
}

/** Null where there are no vector instructions, or modules may not be made. */
export function vectorKernel(size: number): FourierKernel | null {
  const plan = planOf(size);
  const code = [...SIGN_CONSTANTS, ...plan.passes.flatMap((pass) => passCode(pass, size))];
  const program = programOf(moduleOf(plan.bytes, LOCALS, code));
  return program && kernelIn(program.memory, size, plan, program.run);
}

export function plainKernel(size: number): FourierKernel {
  const plan = planOf(size);
  const memory = new Float64Array(plan.bytes / VALUE_BYTES);
  return kernelIn(memory.buffer, size, plan, () => {
    for (const pass of plan.passes) runPass(memory, pass, size);
  });
}

function kernelIn(memory: ArrayBuffer, size: number, { passes }: Plan, transform: () => void): FourierKernel {
  for (const { size: length, factors } of passes) {
    if (length <= 4) continue;
    const values = new Float64Array(memory, factors, (length / 4) * 6);
    for (let place = 0, at = 0; place < length / 4; place++) {
      for (let power = 1; power <= 3; power++) {
        const angle = (-2 * Math.PI * place * power) / length;
        values[at++] = Math.cos(angle);
        values[at++] = Math.sin(angle);
      }
    }
  }
  const { to } = passes[passes.length - 1];
  return {
    input: new Float64Array(memory, passes[0].from, 2 * size),
    output: new Float64Array(memory, to, 2 * size),
    transform,
  };
}

function runPass(memory: Float64Array, { size, stride, from, to, factors }: Pass, whole: number): void {
  if (size === 2) runLastPair(memory, from / VALUE_BYTES, to / VALUE_BYTES, whole);
  else runQuarters(memory, from / VALUE_BYTES, to / VALUE_BYTES, factors / VALUE_BYTES, size, stride);
}

/** In numbers, not in bytes. */
function runQuarters(m: Float64Array, from: number, to: number, factors: number, size: number, stride: number): void {
  const quarter = (size / 4) * stride * 2;
  const out = stride * 2;
  let read = from;
  let write = to;
  let factor = factors;
  for (let place = 0; place < size / 4; place++) {
    const isPlain = size === 4;
    const w1r = isPlain ? 1 : m[factor];
    const w1i = isPlain ? 0 : m[factor + 1];
    const w2r = isPlain ? 1 : m[factor + 2];
    const w2i = isPlain ? 0 : m[factor + 3];
    const w3r = isPlain ? 1 : m[factor + 4];
    const w3i = isPlain ? 0 : m[factor + 5];
    for (const end = read + out; read < end; read += 2, write += 2) {
      const ar = m[read];
      const ai = m[read + 1];
      const br = m[read + quarter];
      const bi = m[read + quarter + 1];
      const cr = m[read + 2 * quarter];
      const ci = m[read + 2 * quarter + 1];
      const dr = m[read + 3 * quarter];
      const di = m[read + 3 * quarter + 1];
      const sumACr = ar + cr;
      const sumACi = ai + ci;
      const lessACr = ar - cr;
      const lessACi = ai - ci;
      const sumBDr = br + dr;
      const sumBDi = bi + di;
      // -i times b - d.
      const turnedR = bi - di;
      const turnedI = -(br - dr);
      m[write] = sumACr + sumBDr;
      m[write + 1] = sumACi + sumBDi;
      writeTimes(m, write + out, lessACr + turnedR, lessACi + turnedI, w1r, w1i);
      writeTimes(m, write + 2 * out, sumACr - sumBDr, sumACi - sumBDi, w2r, w2i);
      writeTimes(m, write + 3 * out, lessACr - turnedR, lessACi - turnedI, w3r, w3i);
    }
    write += 3 * out;
    factor += 6;
  }
}

function writeTimes(m: Float64Array, at: number, re: number, im: number, factorRe: number, factorIm: number): void {
  m[at] = re * factorRe - im * factorIm;
  m[at + 1] = im * factorRe + re * factorIm;
}

function runLastPair(m: Float64Array, from: number, to: number, whole: number): void {
  for (let n = 0; n < whole; n++) {
    const a = m[from + n];
    const b = m[from + whole + n];
    m[to + n] = a + b;
    m[to + whole + n] = a - b;
  }
}

/** Locals: three addresses and an end, then vectors. */
const READ = 0;
const WRITE = 1;
const FACTOR = 2;
const END = 3;
const NEGATE_REAL = 4;
const NEGATE_IMAGINARY = 5;
/** Two vectors a factor: its real part in both lanes, its imaginary part in both. */
const FACTORS = 6;
const [SUM_AC, LESS_AC, SUM_BD, TURNED, A, B, C, D] = [12, 13, 14, 15, 16, 17, 18, 19];
const LOCALS = [
  [4, I32],
  [16, V128],
] as const;

const ADD = vector(0xf0);
const SUBTRACT = vector(0xf1);
const MULTIPLY = vector(0xf2);
const XOR = vector(0x51);
/** The vector in `local` with its two lanes in each other's place. */
const swapped = (local: number): Code => [
  ...get(local),
  ...get(local),
  ...vector(0x0d),
  ...Array.from({ length: 16 }, (_, byte) => (byte + 8) % 16),
];
const constant = (bytes: readonly number[]): Code => [...vector(0x0c), ...bytes];
const SIGN_OF_FIRST = Array.from({ length: 16 }, (_, byte) => (byte === 7 ? 0x80 : 0));
const SIGN_OF_SECOND = Array.from({ length: 16 }, (_, byte) => (byte === 15 ? 0x80 : 0));
const SIGN_CONSTANTS = [
  ...[...constant(SIGN_OF_FIRST), ...set(NEGATE_REAL)],
  ...[...constant(SIGN_OF_SECOND), ...set(NEGATE_IMAGINARY)],
];

const plus = (a: number, b: number): Code => [...get(a), ...get(b), ...ADD];
const minus = (a: number, b: number): Code => [...get(a), ...get(b), ...SUBTRACT];

/** The complex number in `local` times the factor of that power. */
function timesFactor(local: number, power: number): Code {
  const real = FACTORS + 2 * (power - 1);
  return [
    ...[...get(local), ...get(real), ...MULTIPLY],
    ...[...swapped(local), ...get(real + 1), ...MULTIPLY, ...get(NEGATE_REAL), ...XOR],
    ...ADD,
  ];
}

function passCode(pass: Pass, whole: number): Code {
  return pass.size === 2 ? lastPairCode(pass, whole) : quartersCode(pass, whole);
}

function quartersCode({ size, stride, from, to, factors }: Pass, whole: number): Code {
  const quarter = (whole / 4) * COMPLEX_BYTES;
  const out = stride * COMPLEX_BYTES;
  const isPlain = size === 4;
  const load = (place: number, local: number): Code => [
    ...get(READ),
    ...loadVector(from + place * quarter),
    ...set(local),
  ];
  const store = (place: number, value: Code): Code => [...get(WRITE), ...value, ...storeVector(to + place * out)];
  const storeTimes = (place: number, local: number, value: Code): Code =>
    isPlain ? store(place, value) : [...value, ...set(local), ...store(place, timesFactor(local, place))];
  const butterfly = [
    ...[...load(0, A), ...load(1, B), ...load(2, C), ...load(3, D)],
    ...[...plus(A, C), ...set(SUM_AC), ...minus(A, C), ...set(LESS_AC)],
    ...[...plus(B, D), ...set(SUM_BD), ...minus(B, D), ...set(TURNED)],
    // -i times b - d.
    ...[...swapped(TURNED), ...get(NEGATE_IMAGINARY), ...XOR, ...set(TURNED)],
    ...store(0, plus(SUM_AC, SUM_BD)),
    ...storeTimes(1, A, plus(LESS_AC, TURNED)),
    ...storeTimes(2, B, minus(SUM_AC, SUM_BD)),
    ...storeTimes(3, C, minus(LESS_AC, TURNED)),
    ...advance(READ, COMPLEX_BYTES),
    ...advance(WRITE, COMPLEX_BYTES),
  ];
  const strides = [
    ...[...get(READ), ...number(out), ...I32_ADD, ...set(END)],
    ...repeat([...butterfly, ...get(READ), ...get(END), ...I32_LESS]),
  ];
  const loadFactors = Array.from({ length: 6 }, (_, part) => [
    ...get(FACTOR),
    ...loadSplat64(factors + part * VALUE_BYTES),
    ...set(FACTORS + part),
  ]).flat();
  const start = [READ, WRITE, FACTOR].flatMap((local) => [...number(0), ...set(local)]);
  if (isPlain) return [...start, ...strides];
  const place = [
    ...loadFactors,
    ...advance(FACTOR, 6 * VALUE_BYTES),
    ...(stride === 1 ? butterfly : strides),
    ...advance(WRITE, 3 * out),
  ];
  return [...start, ...repeat([...place, ...get(READ), ...number(quarter), ...I32_LESS])];
}

function lastPairCode({ from, to }: Pass, whole: number): Code {
  const half = (whole / 2) * COMPLEX_BYTES;
  const both = [
    ...[...get(READ), ...loadVector(from), ...set(A), ...get(READ), ...loadVector(from + half), ...set(B)],
    ...[...get(READ), ...plus(A, B), ...storeVector(to)],
    ...[...get(READ), ...minus(A, B), ...storeVector(to + half)],
  ];
  const next = [...advance(READ, COMPLEX_BYTES), ...get(READ), ...number(half), ...I32_LESS];
  return [...number(0), ...set(READ), ...repeat([...both, ...next])];
}
