/** Chunks as RIFF and IFF files have them: four letters, a size, the bytes, and a pad byte where the size is odd. */

export interface Chunk {
  id: string;
  body: Uint8Array;
}

export function concatBytes(parts: readonly Uint8Array[]): Uint8Array<ArrayBuffer> {
  const joined = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    joined.set(part, at);
    at += part.length;
  }
  return joined;
}

export function utf8(text: string): Uint8Array {
  return new TextEncoder().encode(text);
}

/** Little-endian unsigned 32-bit numbers in a row. */
export function words(...values: number[]): Uint8Array {
  const bytes = new Uint8Array(values.length * 4);
  const view = new DataView(bytes.buffer);
  values.forEach((value, index) => {
    view.setUint32(index * 4, value, true);
  });
  return bytes;
}

/** A chunk with its head and padding. `claimedSize` overrides the size field (RF64 writes FFFFFFFF there). */
export function chunkBytes(chunk: Chunk, bigEndian = false, claimedSize = chunk.body.length): Uint8Array<ArrayBuffer> {
  const head = new Uint8Array(8);
  head.set(utf8(chunk.id));
  new DataView(head.buffer).setUint32(4, claimedSize, !bigEndian);
  const pad = new Uint8Array(chunk.body.length % 2);
  return concatBytes([head, chunk.body, pad]);
}
