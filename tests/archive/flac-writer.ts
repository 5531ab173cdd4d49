/**
 * A plain FLAC encoder for tests, written from RFC 9639 for sight and not for speed: exact numbers (BigInt), one bit at
 * a time, every way of coding a block chosen by the caller. It shares nothing with the decoder.
 */
import { bytes } from './bytes.ts';

export interface SubframeChoice {
  kind: 'constant' | 'verbatim' | 'fixed' | 'linear';
  order: number;
  /** Linear prediction: coefficients (newest sample first), their width, and the shift. */
  coefficients: number[];
  precision: number;
  shift: number;
  wastedBits: number;
  partitionOrder: number;
  /** Rice parameter of each partition, or the width of plain binary. */
  parameters: { rice: number | null; plainBits: number }[];
  fiveBitParameters: boolean;
}

export interface FrameChoice {
  stereo: 'independent' | 'left-side' | 'side-right' | 'mid-side';
  subframes: SubframeChoice[];
}

class BitWriter {
  readonly bits: number[] = [];
  put(value: number | bigint, width: number): void {
    const wide = BigInt.asUintN(width, BigInt(value));
    for (let bit = width - 1; bit >= 0; bit--) this.bits.push(Number((wide >> BigInt(bit)) & 1n));
  }
  unary(zeros: number): void {
    for (let count = 0; count < zeros; count++) this.bits.push(0);
    this.bits.push(1);
  }
  toBytes(): Uint8Array {
    while (this.bits.length % 8) this.bits.push(0);
    return Uint8Array.from({ length: this.bits.length / 8 }, (_, at) =>
      this.bits.slice(at * 8, at * 8 + 8).reduce((byte, bit) => byte * 2 + bit, 0),
    );
  }
}

const BIT_CODES: Record<number, number> = { 8: 1, 12: 2, 16: 4, 20: 5, 24: 6, 32: 7 };
const STEREO_CODES = { 'left-side': 8, 'side-right': 9, 'mid-side': 10 };

/** One frame of a stream with blocks of one size; `number` counts frames. */
export function flacFrame(channels: bigint[][], bits: number, number: number, choice: FrameChoice): Uint8Array {
  const writer = new BitWriter();
  const count = channels[0].length;
  const channelCode = choice.stereo === 'independent' ? channels.length - 1 : STEREO_CODES[choice.stereo];
  writer.put(0b11111111111110, 14);
  writer.put(0, 2);
  writer.put(7, 4);
  writer.put(0, 4);
  writer.put(channelCode, 4);
  writer.put(BIT_CODES[bits] ?? 0, 3);
  writer.put(0, 1);
  writer.put(number, 8);
  writer.put(count - 1, 16);
  writer.put(crc(writer.toBytes(), 8, 0x07), 8);
  for (const [index, samples] of decorrelated(channels, choice.stereo).entries()) {
    const isSide = choice.stereo === 'side-right' ? index === 0 : choice.stereo !== 'independent' && index === 1;
    writeSubframe(writer, samples, bits + (isSide ? 1 : 0), choice.subframes[index]);
  }
  const body = writer.toBytes();
  const check = crc(body, 16, 0x8005);
  return bytes(body, [check >> 8, check & 255]);
}

/** "fLaC" and STREAMINFO. */
export function flacHead(block: number, rate: number, channels: number, bits: number, frames: number): Uint8Array {
  return bytes('fLaC', [0x80, 0, 0, 34], streamInfo(block, rate, channels, bits, frames));
}

export function streamInfo(block: number, rate: number, channels: number, bits: number, frames: number): Uint8Array {
  const writer = new BitWriter();
  writer.put(block, 16);
  writer.put(block, 16);
  writer.put(0, 48);
  writer.put(rate, 20);
  writer.put(channels - 1, 3);
  writer.put(bits - 1, 5);
  writer.put(frames, 36);
  writer.put(0, 128);
  return writer.toBytes();
}

function decorrelated(channels: bigint[][], stereo: FrameChoice['stereo']): bigint[][] {
  if (stereo === 'independent') return channels;
  const [left, right] = channels;
  const side = left.map((value, n) => value - right[n]);
  if (stereo === 'left-side') return [left, side];
  if (stereo === 'side-right') return [side, right];
  return [left.map((value, n) => (value + right[n]) >> 1n), side];
}

function writeSubframe(writer: BitWriter, all: bigint[], width: number, choice: SubframeChoice): void {
  const types = { constant: 0, verbatim: 1, fixed: 8 + choice.order, linear: 31 + choice.order };
  writer.put(types[choice.kind] * 2 + (choice.wastedBits > 0 ? 1 : 0), 8);
  if (choice.wastedBits > 0) writer.unary(choice.wastedBits - 1);
  const samples = all.map((value) => value >> BigInt(choice.wastedBits));
  const bits = width - choice.wastedBits;
  const plain = { constant: 1, verbatim: samples.length, fixed: choice.order, linear: choice.order }[choice.kind];
  for (const value of samples.slice(0, plain)) writer.put(value, bits);
  if (choice.kind === 'constant' || choice.kind === 'verbatim') return;
  if (choice.kind === 'linear') {
    writer.put(choice.precision - 1, 4);
    writer.put(choice.shift, 5);
    for (const coefficient of choice.coefficients) writer.put(coefficient, choice.precision);
  }
  writeResidual(writer, residualOf(samples, choice), choice);
}

const FIXED = [[], [1], [2, -1], [3, -3, 1], [4, -6, 4, -1]];

/** What is left after prediction, from the first predicted sample on. */
export function residualOf(samples: bigint[], choice: SubframeChoice): bigint[] {
  const coefficients = choice.kind === 'fixed' ? FIXED[choice.order] : choice.coefficients;
  const shift = choice.kind === 'fixed' ? 0 : choice.shift;
  return samples.slice(choice.order).map((value, index) => {
    const n = index + choice.order;
    const sum = coefficients.reduce((total, coefficient, k) => total + BigInt(coefficient) * samples[n - 1 - k], 0n);
    return value - (sum >> BigInt(shift));
  });
}

function writeResidual(writer: BitWriter, residual: bigint[], choice: SubframeChoice): void {
  const parameterBits = choice.fiveBitParameters ? 5 : 4;
  const partitions = 2 ** choice.partitionOrder;
  const size = (residual.length + choice.order) / partitions;
  writer.put(choice.fiveBitParameters ? 1 : 0, 2);
  writer.put(choice.partitionOrder, 4);
  let from = 0;
  for (let partition = 0; partition < partitions; partition++) {
    const to = (partition + 1) * size - choice.order;
    const { rice, plainBits } = choice.parameters[partition];
    writer.put(rice ?? 2 ** parameterBits - 1, parameterBits);
    if (rice === null) writer.put(plainBits, 5);
    for (const value of residual.slice(from, to)) {
      if (rice === null) {
        writer.put(value, plainBits);
        continue;
      }
      const folded = value >= 0n ? value * 2n : -value * 2n - 1n;
      writer.unary(Number(folded >> BigInt(rice)));
      writer.put(folded, rice);
    }
    from = to;
  }
}

/** Bit by bit, most significant first, beginning with 0. */
function crc(data: Uint8Array, width: number, polynomial: number): number {
  let register = 0;
  for (const byte of data) {
    for (let bit = 7; bit >= 0; bit--) {
      const out = ((register >> (width - 1)) & 1) ^ ((byte >> bit) & 1);
      register = ((register << 1) & (2 ** width - 1)) ^ (out ? polynomial : 0);
    }
  }
  return register;
}
