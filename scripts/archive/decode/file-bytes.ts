/** The bytes of a file on the disk. */
import { type FileHandle, open } from 'node:fs/promises';
import { UnreadableAudio } from '../audio-stream.ts';
import type { OpenFile } from './byte-source.ts';

/** Opens a regular file for reading only. */
export async function openFile(path: string): Promise<OpenFile> {
  let handle: FileHandle;
  try {
    handle = await open(path, 'r');
  } catch (error) {
    throw cannotOpen(error);
  }
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

/** Headers are read in many small steps: those are served from one page kept in memory. */
const PAGE_BYTES = 32_768;
const SMALL_READ_BYTES = 4096;

class FileBytes implements OpenFile {
  readonly size: number;
  readonly #handle: FileHandle;
  #page = new Uint8Array(0);
  #pageStart = 0;

  constructor(handle: FileHandle, size: number) {
    this.#handle = handle;
    this.size = size;
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

function cannotOpen(error: unknown): UnreadableAudio {
  const code = error instanceof Error && 'code' in error ? String(error.code) : 'unknown error';
  const reasons: Record<string, string> = {
    ENOENT: 'There is no such file.',
    EACCES: 'The file may not be read by this user.',
    EPERM: 'The file may not be read by this user.',
    EMFILE: 'Too many files are open at once.',
  };
  return new UnreadableAudio(
    reasons[code] ?? `The file could not be opened (${code}).`,
    'an audio file that can be read.',
    'Check the path, the drive and the permissions.',
  );
}
