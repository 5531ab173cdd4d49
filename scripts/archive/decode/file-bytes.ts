/** The bytes of a file on the disk, and what tells whether they are still the same. */
import { type FileHandle, open, stat } from 'node:fs/promises';
import { UnreadableAudio } from '../audio-stream.ts';
import type { OpenFile } from './byte-source.ts';

/** What the file system says of a file. A change of content changes one of them. */
export interface FileFacts {
  size: number;
  /** Time of the last change of content, in nanoseconds since 1970, as text (it does not fit a number). */
  modified: string;
  /** Time of the last change of content, name or permissions, in nanoseconds; a program cannot set it back. */
  changed: string;
  inode: string;
}

/** A file open for reading: digest, description and audio all come from these bytes, whatever its name leads to by then. */
export interface DiskFile extends OpenFile {
  facts(): Promise<FileFacts>;
}

/**
 * Opens a regular file for reading only. Errors of the system come as they are: they say nothing of the content.
 * Throws UnreadableAudio for a folder or a device.
 */
export async function openFile(path: string): Promise<DiskFile> {
  const handle = await open(path, 'r');
  try {
    const facts = await handle.stat();
    if (!facts.isFile()) {
      throw new UnreadableAudio(
        facts.isDirectory() ? 'This is a folder.' : 'This is not a regular file.',
        'one audio file.',
        'Name the audio files inside it instead.',
      );
    }
    return new FileBytes(handle, facts.size);
  } catch (error) {
    await handle.close();
    throw error;
  }
}

/** What the file system says of the file that the path leads to now. */
export const factsAt = async (path: string): Promise<FileFacts> => factsOf(await stat(path, { bigint: true }));

export const sameFacts = (a: FileFacts, b: FileFacts): boolean =>
  a.size === b.size && a.modified === b.modified && a.changed === b.changed && a.inode === b.inode;

interface BigFacts {
  size: bigint;
  mtimeNs: bigint;
  ctimeNs: bigint;
  ino: bigint;
}

export function factsOf({ size, mtimeNs, ctimeNs, ino }: BigFacts): FileFacts {
  return { size: Number(size), modified: String(mtimeNs), changed: String(ctimeNs), inode: String(ino) };
}

/** The same bytes, for someone whose `close` must leave the file open. */
export function lent(file: OpenFile): OpenFile {
  return {
    size: file.size,
    read: (position, length) => file.read(position, length),
    readInto: (target, position) => file.readInto(target, position),
    close: async () => undefined,
  };
}

/** Headers are read in many small steps: those are served from one page kept in memory. */
const PAGE_BYTES = 32_768;
const SMALL_READ_BYTES = 4096;

class FileBytes implements DiskFile {
  readonly size: number;
  readonly #handle: FileHandle;
  #page = new Uint8Array(0);
  #pageStart = 0;

  constructor(handle: FileHandle, size: number) {
    this.#handle = handle;
    this.size = size;
  }

  async facts(): Promise<FileFacts> {
    return factsOf(await this.#handle.stat({ bigint: true }));
  }

  async read(position: number, length: number): Promise<Uint8Array> {
    const wanted = Math.max(0, Math.min(length, this.size - position));
    if (wanted === 0 || position < 0) return new Uint8Array(0);
    if (wanted > SMALL_READ_BYTES) {
      const bytes = new Uint8Array(wanted);
      return bytes.subarray(0, await this.readInto(bytes, position));
    }
    const inPage = position >= this.#pageStart && position + wanted <= this.#pageStart + this.#page.length;
    if (!inPage) {
      const page = new Uint8Array(Math.min(PAGE_BYTES, this.size - position));
      this.#page = page.subarray(0, await this.readInto(page, position));
      this.#pageStart = position;
    }
    const offset = position - this.#pageStart;
    return this.#page.slice(offset, offset + wanted);
  }

  async readInto(target: Uint8Array, position: number): Promise<number> {
    let filled = 0;
    while (filled < target.length) {
      const { bytesRead } = await this.#handle.read(target, filled, target.length - filled, position + filled);
      if (bytesRead === 0) break;
      filled += bytesRead;
    }
    return filled;
  }

  async close(): Promise<void> {
    await this.#handle.close();
  }
}
