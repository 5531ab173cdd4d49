/**
 * Writes WAV files: plain, WAVE_FORMAT_EXTENSIBLE, or RF64 (EBU Tech 3306), with whatever further chunks are given.
 * Layout after the Multimedia Programming Interface and Data Specifications 1.0 (1991) and Microsoft's
 * WAVEFORMATEXTENSIBLE page.
 */
import { type Chunk, chunkBytes, concatBytes, utf8, words } from './chunks.ts';
import { encodeSamples, type SampleFormat } from './samples.ts';

export interface WavOptions {
  sampleRateHz: number;
  sampleFormat: SampleFormat;
  container: 'plain' | 'extensible' | 'rf64';
  /** Written before the samples. */
  before: readonly Chunk[];
  /** Written after them. */
  after: readonly Chunk[];
}

/** Speaker masks by channel count: front centre; front pair; front and back pair. */
const SPEAKERS: Record<number, number> = { 1: 0x4, 2: 0x3, 4: 0x33 };
/** The part of a sub-format's GUID that follows the two bytes of the format tag. */
const SUBFORMAT_TAIL = [0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71];

export function encodeWav(channels: readonly Float32Array[], options: WavOptions): Uint8Array<ArrayBuffer> {
  const data = { id: 'data', body: encodeSamples(channels, options.sampleFormat) };
  const rf64 = options.container === 'rf64';
  const parts = [
    chunkBytes(formatChunk(channels.length, options)),
    ...options.before.map((chunk) => chunkBytes(chunk)),
    chunkBytes(data, false, rf64 ? 0xffffffff : data.body.length),
    ...options.after.map((chunk) => chunkBytes(chunk)),
  ];
  const size = parts.reduce((sum, part) => sum + part.length, 4);
  if (!rf64) return concatBytes([utf8('RIFF'), words(size), utf8('WAVE'), ...parts]);
  // ds64: RIFF size, data size and frame count as 64-bit numbers (all below 2^32 here), then an empty table.
  const ds64 = chunkBytes({ id: 'ds64', body: words(size + 36, 0, data.body.length, 0, channels[0].length, 0, 0) });
  return concatBytes([utf8('RF64'), words(0xffffffff), utf8('WAVE'), ds64, ...parts]);
}

function formatChunk(channels: number, options: WavOptions): Chunk {
  const bits = options.sampleFormat === 'int16' ? 16 : options.sampleFormat === 'int24' ? 24 : 32;
  const tag = options.sampleFormat === 'float32' ? 3 : 1;
  const extensible = options.container === 'extensible';
  const body = new Uint8Array(extensible ? 40 : 16);
  const view = new DataView(body.buffer);
  view.setUint16(0, extensible ? 0xfffe : tag, true);
  view.setUint16(2, channels, true);
  view.setUint32(4, options.sampleRateHz, true);
  view.setUint32(8, (options.sampleRateHz * channels * bits) / 8, true);
  view.setUint16(12, (channels * bits) / 8, true);
  view.setUint16(14, bits, true);
  if (extensible) {
    view.setUint16(16, 22, true);
    view.setUint16(18, bits, true);
    view.setUint32(20, SPEAKERS[channels] ?? 0, true);
    view.setUint16(24, tag, true);
    body.set(SUBFORMAT_TAIL, 26);
  }
  return { id: 'fmt ', body };
}
