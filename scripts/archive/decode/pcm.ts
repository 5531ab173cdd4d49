/**
 * Uncompressed samples: from interleaved bytes to planar floats.
 *
 * Integers become value / 2^(container bits - 1), so that the most negative one is exactly -1. Samples narrower than
 * their container (12 in 16, 20 or 24 in 32) are left-justified in WAV and AIFF, so the container's width is the scale.
 * A-law and mu-law follow ITU-T G.711, read as 16-bit values.
 */
import type { Hash } from 'node:crypto';
import { type AudioBlock, type AudioFormat, type AudioStream, BLOCK_FRAMES, type FrameRange } from '../audio-stream.ts';
import { clampRange } from './blocks.ts';
import type { OpenFile } from './byte-source.ts';
import { warnOnce } from './warn.ts';

export type SampleKind = 'unsigned' | 'signed' | 'float' | 'A-law' | 'mu-law';

export interface SampleLayout {
  kind: SampleKind;
  /** Bytes a sample takes in the file. */
  bytes: number;
  littleEndian: boolean;
}

/** Where the interleaved audio lies in the file. */
export interface PcmRegion {
  layout: SampleLayout;
  start: number;
  bytes: number;
}

const HASH_BYTES = 1 << 20;

/** A stream over interleaved samples in a file; every range is found by arithmetic. */
export class PcmStream implements AudioStream {
  readonly format: AudioFormat;
  readonly warnings: string[];
  readonly #file: OpenFile;
  readonly #region: PcmRegion;

  constructor(file: OpenFile, format: AudioFormat, region: PcmRegion, warnings: string[]) {
    this.#file = file;
    this.format = format;
    this.#region = region;
    this.warnings = warnings;
  }

  async *blocks(range?: FrameRange): AsyncGenerator<AudioBlock> {
    const { layout, start } = this.#region;
    const { channels } = this.format;
    const frameBytes = layout.bytes * channels;
    const { startFrame, endFrame } = clampRange(range, this.format.frames ?? 0);
    const bytes = new Uint8Array(Math.min(BLOCK_FRAMES, Math.max(0, endFrame - startFrame)) * frameBytes);
    for (let frame = startFrame; frame < endFrame; ) {
      const wanted = Math.min(BLOCK_FRAMES, endFrame - frame);
      const target = bytes.subarray(0, wanted * frameBytes);
      const got = Math.floor((await this.#file.readInto(target, start + frame * frameBytes)) / frameBytes);
      if (got > 0) yield this.#planar(target, got);
      if (got < wanted) {
        warnOnce(this.warnings, 'The file became shorter while it was read: the end is missing.');
        return;
      }
      frame += got;
    }
  }

  async hashPayload(hash: Hash): Promise<void> {
    const { start, bytes } = this.#region;
    for (let done = 0; done < bytes; done += HASH_BYTES) {
      hash.update(await this.#file.read(start + done, Math.min(HASH_BYTES, bytes - done)));
    }
  }

  async close(): Promise<void> {
    await this.#file.close();
  }

  #planar(bytes: Uint8Array, frames: number): AudioBlock {
    const { block, notNumbers } = planarFloats(bytes, this.#region.layout, this.format.channels, frames);
    if (notNumbers > 0) {
      warnOnce(this.warnings, 'Some samples are not numbers (NaN or infinite); they were read as silence.');
    }
    return block;
  }
}

/** Interleaved bytes to one Float32Array a channel; samples that are no numbers become 0 and are counted. */
export function planarFloats(
  bytes: Uint8Array,
  layout: SampleLayout,
  channels: number,
  frames: number,
): { block: AudioBlock; notNumbers: number } {
  const fill = filler(layout);
  const stride = layout.bytes * channels;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const block: AudioBlock = [];
  let notNumbers = 0;
  for (let channel = 0; channel < channels; channel++) {
    const samples = new Float32Array(frames);
    fill(view, bytes, channel * layout.bytes, stride, samples);
    if (layout.kind === 'float') notNumbers += silenceNonNumbers(samples);
    block.push(samples);
  }
  return { block, notNumbers };
}

type Filler = (view: DataView, bytes: Uint8Array, offset: number, stride: number, out: Float32Array) => void;

function filler({ kind, bytes, littleEndian }: SampleLayout): Filler {
  if (kind === 'A-law') return fillFromTable(A_LAW);
  if (kind === 'mu-law') return fillFromTable(MU_LAW);
  if (kind === 'float') return bytes === 8 ? fillFloat64(littleEndian) : fillFloat32(littleEndian);
  if (bytes === 1) return fillFromTable(kind === 'unsigned' ? UNSIGNED_8 : SIGNED_8);
  if (bytes === 2) return fillSigned16(littleEndian);
  if (bytes === 3) return littleEndian ? fillSigned24Little : fillSigned24Big;
  return fillSigned32(littleEndian);
}

function fillFromTable(table: Float32Array): Filler {
  return (_view, bytes, offset, stride, out) => {
    for (let frame = 0, at = offset; frame < out.length; frame++, at += stride) out[frame] = table[bytes[at] ?? 0] ?? 0;
  };
}

function fillSigned16(littleEndian: boolean): Filler {
  return (view, _bytes, offset, stride, out) => {
    for (let frame = 0, at = offset; frame < out.length; frame++, at += stride) {
      out[frame] = view.getInt16(at, littleEndian) / 32_768;
    }
  };
}

function fillSigned24Little(
  _view: DataView,
  bytes: Uint8Array,
  offset: number,
  stride: number,
  out: Float32Array,
): void {
  for (let frame = 0, at = offset; frame < out.length; frame++, at += stride) {
    const value = (bytes[at] << 8) | (bytes[at + 1] << 16) | (bytes[at + 2] << 24);
    out[frame] = value / 2_147_483_648;
  }
}

function fillSigned24Big(_view: DataView, bytes: Uint8Array, offset: number, stride: number, out: Float32Array): void {
  for (let frame = 0, at = offset; frame < out.length; frame++, at += stride) {
    const value = (bytes[at] << 24) | (bytes[at + 1] << 16) | (bytes[at + 2] << 8);
    out[frame] = value / 2_147_483_648;
  }
}

function fillSigned32(littleEndian: boolean): Filler {
  return (view, _bytes, offset, stride, out) => {
    for (let frame = 0, at = offset; frame < out.length; frame++, at += stride) {
      out[frame] = view.getInt32(at, littleEndian) / 2_147_483_648;
    }
  };
}

function fillFloat32(littleEndian: boolean): Filler {
  return (view, _bytes, offset, stride, out) => {
    for (let frame = 0, at = offset; frame < out.length; frame++, at += stride) {
      out[frame] = view.getFloat32(at, littleEndian);
    }
  };
}

function fillFloat64(littleEndian: boolean): Filler {
  return (view, _bytes, offset, stride, out) => {
    for (let frame = 0, at = offset; frame < out.length; frame++, at += stride) {
      out[frame] = view.getFloat64(at, littleEndian);
    }
  };
}

function silenceNonNumbers(samples: Float32Array): number {
  let count = 0;
  for (let index = 0; index < samples.length; index++) {
    if (!Number.isFinite(samples[index])) {
      samples[index] = 0;
      count++;
    }
  }
  return count;
}

const UNSIGNED_8 = Float32Array.from({ length: 256 }, (_, code) => (code - 128) / 128);
const SIGNED_8 = Float32Array.from({ length: 256 }, (_, code) => ((code << 24) >> 24) / 128);
const A_LAW = Float32Array.from({ length: 256 }, (_, code) => aLaw(code) / 32_768);
const MU_LAW = Float32Array.from({ length: 256 }, (_, code) => muLaw(code) / 32_768);

/** ITU-T G.711, A-law: even bits inverted, sign, three bits of segment, four of step. */
function aLaw(code: number): number {
  const bits = code ^ 0x55;
  const segment = (bits >> 4) & 7;
  const step = ((bits & 15) << 4) + 8;
  const magnitude = segment === 0 ? step : (step + 256) << (segment - 1);
  return bits & 0x80 ? magnitude : -magnitude;
}

/** ITU-T G.711, mu-law: all bits inverted, a bias of 132 (33 at 14 bits) taken off again. */
function muLaw(code: number): number {
  const bits = ~code & 0xff;
  const magnitude = ((((bits & 15) << 3) + 132) << ((bits >> 4) & 7)) - 132;
  // Taken from 0, for a minus sign would make the two zeros of the code differ.
  return bits & 0x80 ? 0 - magnitude : magnitude;
}
