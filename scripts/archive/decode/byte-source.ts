/**
 * Random access to the bytes of a file, or of a part of one: all that a decoder or a tag reader sees of where they lie, on a
 * disk (./file-bytes.ts) or dropped into a page.
 */

export interface ByteSource {
  readonly size: number;
  /** The bytes from `position` on: fewer than `length` at the end, none beyond it. The caller may keep them. */
  read(position: number, length: number): Promise<Uint8Array>;
  /** Fills `target` from `position` on and returns how many bytes there were. */
  readInto(target: Uint8Array, position: number): Promise<number>;
}

export interface OpenFile extends ByteSource {
  close(): Promise<void>;
}

/** The part of `source` from `start` on, `size` bytes long, as a source of its own. */
export function partOf(source: ByteSource, start: number, size: number): ByteSource {
  const partSize = Math.max(0, Math.min(size, source.size - start));
  return {
    size: partSize,
    read: (position, length) => source.read(start + position, Math.max(0, Math.min(length, partSize - position))),
    readInto: (target, position) =>
      source.readInto(target.subarray(0, Math.max(0, Math.min(target.length, partSize - position))), start + position),
  };
}

/** Bytes already in memory, as a source. */
export function bytesInMemory(bytes: Uint8Array): ByteSource {
  return {
    size: bytes.length,
    read: async (position, length) => bytes.slice(position, position + Math.max(0, length)),
    readInto: async (target, position) => {
      const found = bytes.subarray(position, position + target.length);
      target.set(found);
      return found.length;
    },
  };
}
