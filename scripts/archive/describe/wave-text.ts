/** All that the chunks of a WAV file say beside the audio. */
import type { ByteSource } from '../decode/byte-source.ts';
import { type Chunk, findChunk, identifierAt, readChunks } from '../decode/chunks.ts';
import { readBext } from './bext.ts';
import { type CueLabels, cueMarkers, readCueLabels, readCuePoints } from './cue.ts';
import type { Findings } from './findings.ts';
import { readId3v2 } from './id3.ts';
import { readInfoList } from './info-list.ts';
import { readIxml } from './ixml.ts';
import { readInst, readSmpl } from './sampler.ts';

/** Chunks of text are read up to this size, and all of them together up to TOTAL_BYTES. */
export const CHUNK_BYTES = 1 << 20;
export const ID3_BYTES = 1 << 24;
export const TOTAL_BYTES = 1 << 25;

export async function describeWav(source: ByteSource): Promise<Findings[]> {
  const riff = await readChunks(source);
  if (!riff) return [];
  const text = new WaveText();
  const leftOut: string[] = [];
  let budget = TOTAL_BYTES;
  for (const chunk of riff.chunks) {
    if (!WaveText.reads(chunk.id)) continue;
    const there = Math.min(chunk.size, source.size - chunk.start);
    const bytes = await source.read(chunk.start, Math.min(there, longest(chunk), budget));
    if (bytes.length < there) leftOut.push(cutChunk(chunk.id, there, bytes.length));
    budget -= bytes.length;
    text.add(chunk.id, bytes);
  }
  return [...text.findings(await framesOf(source, findChunk(riff, 'fmt '), findChunk(riff, 'data'))), { leftOut }];
}

/** What the report says where a chunk of text is too long to be read whole. */
export function cutChunk(id: string, there: number, read: number): string {
  const inWords = (number: number): string => number.toLocaleString('en');
  return `Its chunk "${id.trim()}" is ${inWords(there)} bytes long: the first ${inWords(read)} are read, what it says after them is left out.`;
}

function longest(chunk: Chunk): number {
  return /^id3 $/i.test(chunk.id) ? ID3_BYTES : CHUNK_BYTES;
}

/** Gathers the chunks one by one, for cue points and their names stand in different ones. */
export class WaveText {
  readonly #found = new Map<string, Findings>();
  readonly #points = new Map<number, number>();
  readonly #labels = new Map<number, CueLabels>();

  static reads(id: string): boolean {
    return ['bext', 'iXML', 'LIST', 'cue ', 'smpl', 'inst', 'id3 ', 'ID3 '].includes(id);
  }

  add(id: string, bytes: Uint8Array): void {
    if (id === 'cue ') {
      for (const [cue, frame] of readCuePoints(bytes)) if (!this.#points.has(cue)) this.#points.set(cue, frame);
      return;
    }
    if (id === 'LIST') {
      const type = bytes.length >= 4 ? identifierAt(bytes, 0) : '';
      if (type === 'adtl') readCueLabels(bytes.subarray(4), this.#labels);
      if (type === 'INFO') this.#keep('INFO', readInfoList(bytes.subarray(4)));
      return;
    }
    if (id === 'bext') this.#keep(id, readBext(bytes));
    if (id === 'iXML') this.#keep(id, readIxml(bytes));
    if (id === 'smpl') this.#keep(id, readSmpl(bytes));
    if (id === 'inst') this.#keep(id, readInst(bytes));
    if (id === 'id3 ' || id === 'ID3 ') this.#keep('id3 ', readId3v2(bytes));
  }

  /** In order of trust. Markers beyond the last frame, where that is known, are left out. */
  findings(frames: number | null): Findings[] {
    const markers = cueMarkers(this.#points, this.#labels).filter(
      ({ startFrame }) => frames === null || startFrame < frames,
    );
    const ordered = ['bext', 'iXML', 'INFO', 'id3 ', 'smpl', 'inst'].map((id) => this.#found.get(id) ?? {});
    return [{ markers }, ...ordered];
  }

  #keep(id: string, findings: Findings): void {
    if (!this.#found.has(id)) this.#found.set(id, findings);
  }
}

async function framesOf(source: ByteSource, format?: Chunk, data?: Chunk): Promise<number | null> {
  if (!format || !data || format.size < 16) return null;
  const bytes = await source.read(format.start, 16);
  if (bytes.length < 16) return null;
  const view = new DataView(bytes.buffer, bytes.byteOffset, 16);
  const tag = view.getUint16(0, true);
  const blockAlign = view.getUint16(12, true);
  const isUncompressed = [1, 3, 6, 7, 0xfffe].includes(tag);
  return isUncompressed && blockAlign > 0 ? Math.floor(data.size / blockAlign) : null;
}
