/**
 * One FLAC frame, from bytes to samples (RFC 9639, sections 9 and 10), exact for every width from 4 to 32 bits.
 *
 * Written here because the identity of a sound rests on exact samples: common WebAssembly builds scale by
 * 2^(bits-1) - 1, which differs from the same audio in a WAV file.
 */
import type { AudioBlock } from '../audio-stream.ts';
import { BitReader } from './flac-bits.ts';

export interface FlacFrameHeader {
  /** First sample of the frame, or its number when the stream counts frames of one size. */
  number: number;
  numberIsSample: boolean;
  blockSamples: number;
  /** null: as in STREAMINFO. */
  sampleRateHz: number | null;
  channels: number;
  stereo: 'independent' | 'left-side' | 'side-right' | 'mid-side';
  bits: number | null;
  headerBytes: number;
}

const RATES_HZ = [0, 88_200, 176_400, 192_000, 8000, 16_000, 22_050, 24_000, 32_000, 44_100, 48_000, 96_000];
const BIT_DEPTHS = [null, 8, 12, undefined, 16, 20, 24, 32];
const STEREO = ['left-side', 'side-right', 'mid-side'] as const;

/** Reads and checks a frame header (section 9.1); null when the bytes are none. */
export function flacFrameHeader(bytes: Uint8Array, offset: number): FlacFrameHeader | null {
  if (bytes[offset] !== 0xff || (bytes[offset + 1] & 0xfe) !== 0xf8 || offset + 6 > bytes.length) return null;
  const numberIsSample = (bytes[offset + 1] & 1) === 1;
  const sizeCode = bytes[offset + 2] >> 4;
  const rateCode = bytes[offset + 2] & 15;
  const channelCode = bytes[offset + 3] >> 4;
  const bits = BIT_DEPTHS[(bytes[offset + 3] >> 1) & 7];
  const reserved = bytes[offset + 3] & 1;
  if (sizeCode === 0 || rateCode === 15 || channelCode > 10 || bits === undefined || reserved) return null;

  const coded = codedNumber(bytes, offset + 4);
  if (!coded) return null;
  let at = coded.end;
  const byte = (): number => bytes[at++] ?? 0;
  const word = (): number => byte() * 256 + byte();
  let blockSamples = sizeCode === 1 ? 192 : sizeCode < 6 ? 144 << sizeCode : 1 << sizeCode;
  if (sizeCode === 6) blockSamples = byte() + 1;
  if (sizeCode === 7) blockSamples = word() + 1;
  let sampleRateHz: number | null = rateCode === 0 ? null : (RATES_HZ[rateCode] ?? null);
  if (rateCode === 12) sampleRateHz = byte() * 1000;
  if (rateCode === 13) sampleRateHz = word();
  if (rateCode === 14) sampleRateHz = word() * 10;
  if (at >= bytes.length || crc8(bytes, offset, at) !== bytes[at]) return null;
  return {
    number: coded.value,
    numberIsSample,
    blockSamples,
    sampleRateHz,
    channels: channelCode < 8 ? channelCode + 1 : 2,
    stereo: channelCode < 8 ? 'independent' : stereoOf(channelCode),
    bits,
    headerBytes: at + 1 - offset,
  };
}

function stereoOf(code: number): (typeof STEREO)[number] {
  return STEREO[code - 8] ?? 'mid-side';
}

/** What one attempt at a frame took, whether or not it came to one. */
export interface FrameWork {
  bytes: number;
  samples: number;
}

/**
 * Decodes the frame that begins at `offset`. Throws RangeError when the bytes end first, and Error when they cannot be
 * a frame or its checksum fails. `bits` is the width STREAMINFO gives, for headers that do not say. What it took is
 * written into `work`.
 */
export function decodeFlacFrame(
  bytes: Uint8Array,
  offset: number,
  header: FlacFrameHeader,
  streamBits: number,
  work: FrameWork,
): { block: AudioBlock; frameBytes: number } {
  const bits = header.bits ?? streamBits;
  const reader = new BitReader(bytes, offset + header.headerBytes);
  const channels: Samples[] = [];
  try {
    readSubframes(reader, header, bits, channels);
  } finally {
    work.bytes = reader.alignedByte() - offset;
    // One more was begun where it broke off.
    work.samples = Math.min(header.channels, channels.length + 1) * header.blockSamples;
  }
  const end = reader.alignedByte();
  if (end + 2 > bytes.length) throw new RangeError('The frame is cut off.');
  const said = (bytes[end] << 8) | bytes[end + 1];
  if (crc16(bytes, offset, end) !== said) throw new Error('The checksum of the frame does not fit.');
  const [first, second] = channels;
  if (first && second) joinStereo(header.stereo, first, second);
  const scale = 1 / 2 ** (bits - 1);
  const block = channels.map((samples) => {
    const floats = new Float32Array(samples.length);
    for (let index = 0; index < floats.length; index++) floats[index] = samples[index] * scale;
    return floats;
  });
  return { block, frameBytes: end + 2 - offset };
}

function readSubframes(reader: BitReader, header: FlacFrameHeader, bits: number, channels: Samples[]): void {
  for (let channel = 0; channel < header.channels; channel++) {
    const isSide =
      (header.stereo === 'side-right' && channel === 0) ||
      ((header.stereo === 'left-side' || header.stereo === 'mid-side') && channel === 1);
    channels.push(subframe(reader, header.blockSamples, bits + (isSide ? 1 : 0)));
  }
}

/** 33 bits, the side channel of 32-bit stereo, do not fit an Int32Array. */
type Samples = Int32Array | Float64Array;

/** Section 9.2: one channel. */
function subframe(reader: BitReader, count: number, width: number): Samples {
  const head = reader.unsigned(8);
  if (head & 0x80) throw new Error('A subframe begins with a set bit.');
  const type = head >> 1;
  const wasted = head & 1 ? reader.unary() + 1 : 0;
  const bits = width - wasted;
  if (bits < 1) throw new Error('A subframe has no bits left.');
  const samples: Samples = bits > 32 ? new Float64Array(count) : new Int32Array(count);
  if (type === 0) {
    samples.fill(reader.signed(bits));
  } else if (type === 1) {
    for (let index = 0; index < count; index++) samples[index] = reader.signed(bits);
  } else if (type >= 8 && type <= 12) {
    fixedPrediction(reader, samples, type - 8, bits);
  } else if (type >= 32) {
    linearPrediction(reader, samples, type - 31, bits);
  } else {
    throw new Error('A subframe of a reserved type.');
  }
  if (wasted > 0) {
    const factor = 2 ** wasted;
    for (let index = 0; index < count; index++) samples[index] = samples[index] * factor;
  }
  return samples;
}

/** Section 9.2.5: polynomial predictors of order 0 to 4. */
function fixedPrediction(reader: BitReader, samples: Samples, order: number, bits: number): void {
  warmUp(reader, samples, order, bits);
  residual(reader, samples, order);
  const count = samples.length;
  const at = (index: number): number => samples[index] ?? 0;
  if (order === 1) {
    for (let n = 1; n < count; n++) samples[n] = at(n) + at(n - 1);
  } else if (order === 2) {
    for (let n = 2; n < count; n++) samples[n] = at(n) + 2 * at(n - 1) - at(n - 2);
  } else if (order === 3) {
    for (let n = 3; n < count; n++) samples[n] = at(n) + 3 * at(n - 1) - 3 * at(n - 2) + at(n - 3);
  } else if (order === 4) {
    for (let n = 4; n < count; n++) samples[n] = at(n) + 4 * at(n - 1) - 6 * at(n - 2) + 4 * at(n - 3) - at(n - 4);
  }
}

/** Section 9.2.6: x[n] = residual[n] + floor(sum of coefficient[k] * x[n-1-k] / 2^shift). */
function linearPrediction(reader: BitReader, samples: Samples, order: number, bits: number): void {
  warmUp(reader, samples, order, bits);
  const precision = reader.unsigned(4) + 1;
  const shift = reader.signed(5);
  if (precision === 16 || shift < 0) throw new Error('A predictor with forbidden parameters.');
  // Reversed, so that coefficient and sample run in the same direction.
  const coefficients = new Int32Array(order);
  for (let k = order - 1; k >= 0; k--) coefficients[k] = reader.signed(precision);
  residual(reader, samples, order);
  const count = samples.length;
  const fitsInt32 = bits + precision + Math.ceil(Math.log2(order)) <= 32;
  if (fitsInt32 && samples instanceof Int32Array) {
    for (let n = order; n < count; n++) {
      let sum = 0;
      for (let k = 0, at = n - order; k < order; k++, at++) {
        sum = (sum + Math.imul(coefficients[k] ?? 0, samples[at] ?? 0)) | 0;
      }
      samples[n] = samples[n] + (sum >> shift);
    }
    return;
  }
  // Doubles hold the exact sum: 33 bits of sample, 15 of coefficient and 5 of order are 53.
  const scale = 1 / 2 ** shift;
  for (let n = order; n < count; n++) {
    let sum = 0;
    for (let k = 0, at = n - order; k < order; k++, at++) sum += coefficients[k] * samples[at];
    samples[n] = samples[n] + Math.floor(sum * scale);
  }
}

function warmUp(reader: BitReader, samples: Samples, order: number, bits: number): void {
  if (order > samples.length) throw new Error('A predictor longer than its block.');
  for (let index = 0; index < order; index++) samples[index] = reader.signed(bits);
}

/** Section 9.2.7: the coded residual, in 2^k partitions, each with its own Rice parameter or in plain binary. */
function residual(reader: BitReader, samples: Samples, order: number): void {
  const method = reader.unsigned(2);
  if (method > 1) throw new Error('A reserved residual coding.');
  const parameterBits = method === 0 ? 4 : 5;
  const plainBinary = method === 0 ? 15 : 31;
  const partitions = 1 << reader.unsigned(4);
  const partitionSamples = samples.length / partitions;
  if (!Number.isInteger(partitionSamples) || partitionSamples < order) throw new Error('Partitions that do not fit.');
  for (let partition = 0; partition < partitions; partition++) {
    const from = partition === 0 ? order : partition * partitionSamples;
    const to = (partition + 1) * partitionSamples;
    const parameter = reader.unsigned(parameterBits);
    if (parameter === plainBinary) {
      const width = reader.unsigned(5);
      for (let index = from; index < to; index++) samples[index] = width === 0 ? 0 : reader.signed(width);
    } else {
      reader.rice(samples, from, to, parameter);
    }
  }
}

/** Section 4.2: from side and one other channel back to left and right. */
function joinStereo(stereo: FlacFrameHeader['stereo'], first: Samples, second: Samples): void {
  const count = first.length;
  if (stereo === 'left-side') {
    for (let n = 0; n < count; n++) second[n] = first[n] - second[n];
  } else if (stereo === 'side-right') {
    for (let n = 0; n < count; n++) first[n] = first[n] + second[n];
  } else if (stereo === 'mid-side') {
    for (let n = 0; n < count; n++) {
      const side = second[n] ?? 0;
      const twiceMid = 2 * first[n] + (side - 2 * Math.floor(side / 2));
      first[n] = (twiceMid + side) / 2;
      second[n] = (twiceMid - side) / 2;
    }
  }
}

/** Section 9.1.5: a number of up to 36 bits in 1 to 7 bytes, coded as UTF-8 extends to. */
function codedNumber(bytes: Uint8Array, offset: number): { value: number; end: number } | null {
  const first = bytes[offset] ?? 0xff;
  if (first < 0x80) return { value: first, end: offset + 1 };
  const following = Math.clz32(~(first << 24)) - 1;
  if (following < 1 || following > 6) return null;
  let value = first & (0x3f >> following);
  for (let index = 1; index <= following; index++) {
    const byte = bytes[offset + index] ?? 0;
    if ((byte & 0xc0) !== 0x80) return null;
    value = value * 64 + (byte & 0x3f);
  }
  return { value, end: offset + following + 1 };
}

const CRC8 = Uint8Array.from({ length: 256 }, (_, byte) => crcOf(byte, 0x07, 8));
const CRC16 = Uint16Array.from({ length: 256 }, (_, byte) => crcOf(byte, 0x8005, 16));

function crcOf(byte: number, polynomial: number, width: number): number {
  let crc = byte << (width - 8);
  for (let bit = 0; bit < 8; bit++) crc = (crc << 1) ^ (crc & (1 << (width - 1)) ? polynomial : 0);
  return crc & ((1 << width) - 1);
}

function crc8(bytes: Uint8Array, from: number, to: number): number {
  let crc = 0;
  for (let index = from; index < to; index++) crc = CRC8[crc ^ bytes[index]] ?? 0;
  return crc;
}

function crc16(bytes: Uint8Array, from: number, to: number): number {
  let crc = 0;
  for (let index = from; index < to; index++) {
    crc = ((crc << 8) & 0xffff) ^ CRC16[(crc >> 8) ^ (bytes[index] ?? 0)];
  }
  return crc;
}
