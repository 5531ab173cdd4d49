/**
 * The chunk structure shared by RIFF (little-endian) and IFF (big-endian) files: identifier, size, content, padded to
 * an even length (Multimedia Programming Interface and Data Specifications 1.0, 1991; EA IFF 85). RF64 and BW64
 * keep sizes above 4 GiB in a `ds64` chunk (EBU Tech 3306, ITU-R BS.2088).
 *
 * Sizes in real files lie. Every chunk is clamped to the bytes that are there, and what was odd is told as a sentence.
 */
import type { ByteSource } from './byte-source.ts';

export interface Chunk {
  id: string;
  /** Where the content begins in the file. */
  start: number;
  /** Bytes of content that are really there. */
  size: number;
  /** Bytes the header promises. */
  claimedSize: number;
}

export interface ChunkedFile {
  /** RIFF, RIFX, RF64, BW64 or FORM. */
  container: string;
  /** WAVE, AIFF, AIFC ... */
  form: string;
  littleEndian: boolean;
  chunks: Chunk[];
  /** Sentences about sizes that could not be true. */
  warnings: string[];
}

const CONTAINERS = ['RIFF', 'RIFX', 'RF64', 'BW64', 'FORM'];
/** A cap against files made of nothing but empty chunks. */
const MOST_CHUNKS = 4096;
const UNKNOWN_SIZE = 0xffff_ffff;

/** Lists the chunks of a RIFF or IFF file; null when it is neither. */
export async function readChunks(source: ByteSource): Promise<ChunkedFile | null> {
  const head = await source.read(0, 12);
  const container = head.length === 12 ? identifierAt(head, 0) : '';
  if (!CONTAINERS.includes(container)) return null;
  const littleEndian = container !== 'RIFX' && container !== 'FORM';
  const file: ChunkedFile = { container, form: identifierAt(head, 8), littleEndian, chunks: [], warnings: [] };
  const longSizes = new Map<string, number>();
  const is64 = container === 'RF64' || container === 'BW64';

  let position = 12;
  while (position + 8 <= source.size && file.chunks.length < MOST_CHUNKS) {
    const header = await source.read(position, 8);
    if (header.length < 8 || !isIdentifier(header, 0)) break;
    const id = identifierAt(header, 0);
    const shortSize = new DataView(header.buffer, header.byteOffset).getUint32(4, littleEndian);
    const start = position + 8;
    const there = source.size - start;
    let claimedSize = shortSize;
    if (is64 && shortSize === UNKNOWN_SIZE) claimedSize = longSizes.get(id) ?? UNKNOWN_SIZE;
    let size = Math.min(claimedSize, there);

    if (id === 'data' || id === 'SSND') {
      const corrected = await audioSize(source, start, claimedSize, file, is64 && longSizes.has(id));
      size = corrected.size;
      if (corrected.warning) file.warnings.push(corrected.warning);
    } else if (claimedSize > there) {
      file.warnings.push(
        `The "${id.trimEnd()}" chunk claims ${claimedSize} bytes but only ${there} are left in the file.`,
      );
    }
    file.chunks.push({ id, start, size, claimedSize });
    if (is64 && id === 'ds64') readLongSizes(await source.read(start, Math.min(size, 65_536)), longSizes);
    position = await nextChunk(source, start + size);
  }
  if (is64 && longSizes.size === 0) {
    file.warnings.push(`The file is marked ${container} but has no usable ds64 chunk with its true sizes.`);
  }
  return file;
}

/** The first chunk with this identifier. */
export function findChunk(file: ChunkedFile, id: string): Chunk | undefined {
  return file.chunks.find((chunk) => chunk.id === id);
}

export function identifierAt(bytes: Uint8Array, offset: number): string {
  return String.fromCharCode(...bytes.subarray(offset, offset + 4));
}

/** True when the four bytes can name a chunk: printable ASCII, as both specifications ask. */
export function isIdentifier(bytes: Uint8Array, offset: number): boolean {
  if (offset + 4 > bytes.length) return false;
  for (let index = offset; index < offset + 4; index++) {
    const code = bytes[index] ?? 0;
    if (code < 0x20 || code > 0x7e) return false;
  }
  return bytes[offset] !== 0x20;
}

/** How many bytes of audio there are, whatever the header says. */
async function audioSize(
  source: ByteSource,
  start: number,
  claimedSize: number,
  file: ChunkedFile,
  sizeIsLong: boolean,
): Promise<{ size: number; warning: string | null }> {
  const there = source.size - start;
  if (claimedSize > there) {
    const unknown = claimedSize === UNKNOWN_SIZE;
    return {
      size: there,
      warning: unknown
        ? 'The header does not say how long the audio is (the recording was not closed properly); all that follows was read as audio.'
        : `The header promises ${claimedSize} bytes of audio but only ${there} are in the file: the end is missing.`,
    };
  }
  const after = await source.read(start + claimedSize + (claimedSize & 1), 8);
  if (claimedSize === 0 && there > 0 && !isIdentifier(after, 0)) {
    return {
      size: there,
      warning:
        'The header says that there is no audio (the recording was not closed properly); all that follows was read as audio.',
    };
  }
  const wrapped = source.size > UNKNOWN_SIZE && !sizeIsLong && file.container === 'RIFF';
  if (wrapped && there - claimedSize > 8 && !isIdentifier(after, 0)) {
    return {
      size: there,
      warning: 'The file is larger than 4 GiB, which its header cannot say; all that follows was read as audio.',
    };
  }
  return { size: claimedSize, warning: null };
}

/** Where the next chunk begins: after the pad byte, or without it where a writer forgot to pad. */
async function nextChunk(source: ByteSource, end: number): Promise<number> {
  if (end % 2 === 0) return end;
  const bytes = await source.read(end, 5);
  return !isIdentifier(bytes, 1) && isIdentifier(bytes, 0) ? end : end + 1;
}

/** `ds64`: riffSize u64, dataSize u64, sampleCount u64, table length u32, then identifier and u64 size of each. */
function readLongSizes(bytes: Uint8Array, sizes: Map<string, number>): void {
  if (bytes.length < 24 || sizes.size > 0) return;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  sizes.set('data', Number(view.getBigUint64(8, true)));
  const entries = bytes.length >= 28 ? view.getUint32(24, true) : 0;
  for (let index = 0, offset = 28; index < entries && offset + 12 <= bytes.length; index++, offset += 12) {
    const id = identifierAt(bytes, offset);
    if (!sizes.has(id)) sizes.set(id, Number(view.getBigUint64(offset + 4, true)));
  }
}
