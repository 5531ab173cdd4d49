/**
 * Writes AIFF: COMM, name and annotations, MARK points and big-endian samples. Layout after the Audio Interchange File
 * Format specification, version 1.3 (1989).
 */
import { chunkBytes, concatBytes, utf8 } from './chunks.ts';
import { encodeSamples, type SampleFormat } from './samples.ts';

export interface AiffOptions {
  sampleRateHz: number;
  sampleFormat: SampleFormat;
  /** Empty texts are left out. */
  name: string;
  annotation: string;
  marks: readonly { startFrame: number; label: string }[];
}

export function encodeAiff(channels: readonly Float32Array[], options: AiffOptions): Uint8Array<ArrayBuffer> {
  const samples = encodeSamples(channels, options.sampleFormat, true);
  const chunks = [
    { id: 'COMM', body: commonBody(channels, options) },
    ...(options.name === '' ? [] : [{ id: 'NAME', body: utf8(options.name) }]),
    ...(options.annotation === '' ? [] : [{ id: 'ANNO', body: utf8(options.annotation) }]),
    ...(options.marks.length === 0 ? [] : [{ id: 'MARK', body: marksBody(options.marks) }]),
    // Offset and block size, both 0, stand before the samples.
    { id: 'SSND', body: concatBytes([new Uint8Array(8), samples]) },
  ].map((chunk) => chunkBytes(chunk, true));
  const form = concatBytes([utf8('AIFF'), ...chunks]);
  return chunkBytes({ id: 'FORM', body: form }, true);
}

function commonBody(channels: readonly Float32Array[], options: AiffOptions): Uint8Array {
  const body = new Uint8Array(18);
  const view = new DataView(body.buffer);
  view.setUint16(0, channels.length);
  view.setUint32(2, channels[0].length);
  view.setUint16(6, options.sampleFormat === 'int16' ? 16 : 24);
  body.set(extended(options.sampleRateHz), 8);
  return body;
}

/** An 80-bit float of a positive whole number: exponent with bias 16383, then 64 bits with the leading 1 written out. */
function extended(value: number): Uint8Array {
  const exponent = Math.floor(Math.log2(value));
  const bytes = new Uint8Array(10);
  const view = new DataView(bytes.buffer);
  view.setUint16(0, 16383 + exponent);
  view.setBigUint64(2, BigInt(value) << BigInt(63 - exponent));
  return bytes;
}

function marksBody(marks: AiffOptions['marks']): Uint8Array {
  const count = new Uint8Array(2);
  new DataView(count.buffer).setUint16(0, marks.length);
  const entries = marks.map((mark, index) => {
    const label = utf8(mark.label).subarray(0, 255);
    // A Pascal string: its length, its bytes, padded so that both together are even.
    const entry = new Uint8Array(6 + 1 + label.length + ((label.length + 1) % 2));
    const view = new DataView(entry.buffer);
    view.setUint16(0, index + 1);
    view.setUint32(2, mark.startFrame);
    entry[6] = label.length;
    entry.set(label, 7);
    return entry;
  });
  return concatBytes([count, ...entries]);
}
