/** Files built byte by byte, to say what no writer would say. Layouts: RIFF and EA IFF 85 as their specifications have them. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { AudioFormat, FrameRange } from '../../scripts/archive/audio-stream.ts';
import { openAudio } from '../../scripts/archive/decode/open.ts';

export type Part = Uint8Array | number[] | string;

/** Parts one after another; text counts as Latin-1. */
export function bytes(...parts: Part[]): Uint8Array {
  const buffers = parts.map((part) => (typeof part === 'string' ? Buffer.from(part, 'latin1') : Uint8Array.from(part)));
  return Uint8Array.from(Buffer.concat(buffers));
}

export const u16 = (value: number): number[] => [value & 255, (value >> 8) & 255];
export const u32 = (value: number): number[] => [...u16(value & 0xffff), ...u16(value >>> 16)];
export const u64 = (value: number): number[] => [...u32(value % 2 ** 32), ...u32(Math.floor(value / 2 ** 32))];
export const u16be = (value: number): number[] => u16(value).reverse();
export const u32be = (value: number): number[] => u32(value).reverse();

/** A little-endian chunk with its pad byte; `claim` puts a size of its own into the header. */
export function chunk(id: string, content: Part, claim?: number): Uint8Array {
  const body = bytes(content);
  return bytes(id, u32(claim ?? body.length), body, body.length % 2 ? [0] : []);
}

export function riff(chunks: Part[], container = 'RIFF'): Uint8Array {
  const body = bytes('WAVE', ...chunks);
  return bytes(container, u32(body.length), body);
}

export interface WaveHeader {
  tag?: number;
  channels?: number;
  rate?: number;
  bits?: number;
  blockAlign?: number;
  extra?: Part;
}

export function waveFormat(header: WaveHeader = {}): Uint8Array {
  const { tag = 1, channels = 1, rate = 48_000, bits = 16, extra = [] } = header;
  const blockAlign = header.blockAlign ?? channels * Math.ceil(bits / 8);
  return chunk(
    'fmt ',
    bytes(u16(tag), u16(channels), u32(rate), u32(rate * blockAlign), u16(blockAlign), u16(bits), extra),
  );
}

/** WAVE_FORMAT_EXTENSIBLE after the first 16 bytes: size, valid bits, mask, sub-format. */
export function extensible(validBits: number, mask: number, tag: number): Uint8Array {
  const rest = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71];
  return bytes(u16(22), u16(validBits), u32(mask), u16(tag), rest);
}

export function bigChunk(id: string, content: Part): Uint8Array {
  const body = bytes(content);
  return bytes(id, u32be(body.length), body, body.length % 2 ? [0] : []);
}

export function form(type: string, chunks: Part[]): Uint8Array {
  const body = bytes(type, ...chunks);
  return bytes('FORM', u32be(body.length), body);
}

/** 80-bit extended float of a whole number: 44100 is 40 0E AC 44 0 0 0 0 0 0, as in any AIFF file of that rate. */
export function extended80(value: number): number[] {
  if (value === 0) return Array(10).fill(0);
  const exponent = Math.floor(Math.log2(value));
  const mantissa = BigInt(value) << BigInt(63 - exponent);
  const low = Array.from({ length: 8 }, (_, index) => Number((mantissa >> BigInt(56 - 8 * index)) & 255n));
  return [...u16be(16_383 + exponent), ...low];
}

export function common(channels: number, frames: number, bits: number, rate: number, compression?: string): Uint8Array {
  const type = compression === undefined ? [] : bytes(compression, [0, 0]);
  return bigChunk('COMM', bytes(u16be(channels), u32be(frames), u16be(bits), extended80(rate), type));
}

export const sound = (content: Part): Uint8Array => bigChunk('SSND', bytes(u32be(0), u32be(0), content));

/** A folder for one test file, removed by `remove`. */
export function scratchFolder(): { write: (name: string, content: Uint8Array) => string; remove: () => void } {
  const folder = mkdtempSync(join(tmpdir(), 'takeshelf-test-'));
  return {
    write: (name, content) => {
      const path = join(folder, name);
      writeFileSync(path, content);
      return path;
    },
    remove: () => rmSync(folder, { recursive: true, force: true }),
  };
}

export interface Decoded {
  format: AudioFormat;
  channels: Float32Array[];
  warnings: string[];
}

/** Opens, decodes and closes. */
export async function decodeWhole(path: string, range?: FrameRange): Promise<Decoded> {
  const stream = await openAudio(path);
  try {
    const blocks: Float32Array[][] = [];
    for await (const block of stream.blocks(range)) blocks.push(block);
    const channels = Array.from({ length: stream.format.channels }, (_, channel) =>
      joined(blocks.map((block) => block[channel])),
    );
    return { format: stream.format, channels, warnings: stream.warnings };
  } finally {
    await stream.close();
  }
}

export function joined(parts: Float32Array[]): Float32Array {
  const all = new Float32Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    all.set(part, at);
    at += part.length;
  }
  return all;
}

/** A file of the package audio-lena: one recording, 541 184 frames at 44.1 kHz in one channel, in many formats. */
export const lena = (name: string): string => inPackages(`audio-lena/${name}`);
export const LENA_FRAMES = 541_184;

export const inPackages = (path: string): string =>
  fileURLToPath(new URL(`../../node_modules/${path}`, import.meta.url));

/** Numbers 0..1 that are the same on every run (linear congruential generator of Numerical Recipes). */
export function seeded(seed: number): () => number {
  let state = seed;
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
}
