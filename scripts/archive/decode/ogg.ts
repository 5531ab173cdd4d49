/** Ogg files: finds the stream of audio among those the file may hold, and hands it to its codec. */
import { type AudioStream, UnreadableAudio } from '../audio-stream.ts';
import type { OpenFile } from './byte-source.ts';
import { noAudio } from './limits.ts';
import { openOggFlac } from './ogg-flac.ts';
import { oggEnd, oggPages } from './ogg-pages.ts';
import { openOpus } from './opus.ts';
import { openVorbis } from './vorbis.ts';

export interface OggAudio {
  file: OpenFile;
  serial: number;
  /** The last granule position of the stream, in the codec's own units. */
  endGranule: number;
  /** First packet of the stream, which names the codec. */
  firstPacket: Uint8Array;
  warnings: string[];
}

export type OggCodec = 'vorbis' | 'opus' | 'flac';

const OTHER_CODECS: [magic: string, words: string][] = [
  ['Speex   ', 'Speex'],
  ['\x80theora', 'Theora video'],
  ['fishead\0', 'a skeleton'],
  ['CELT    ', 'CELT'],
];

export async function openOgg(file: OpenFile, warnings: string[] = []): Promise<AudioStream> {
  const { stream, others } = await findOggAudio(file);
  if (!stream) {
    if (others.length === 0) throw noAudio('An Ogg file in which no whole page was found.');
    throw new UnreadableAudio(
      `An Ogg file holding ${others.join(' and ')}.`,
      'Vorbis, Opus or FLAC inside Ogg.',
      'Export it as WAV or FLAC.',
    );
  }
  const { serial, firstPacket } = stream;
  const { granule: endGranule, isMarked, hasFollower } = await oggEnd(file, serial);
  if (!endGranule) throw noAudio('An Ogg file with headers and no audio.');
  if (!isMarked) warnings.push('The stream has no end mark: its end may be missing.');
  if (hasFollower) warnings.push('The file holds several streams one after another; only the first was read.');
  const audio: OggAudio = { file, serial, endGranule, firstPacket, warnings };
  if (stream.codec === 'opus') return openOpus(audio);
  if (stream.codec === 'flac') return openOggFlac(audio);
  return openVorbis(audio);
}

/** Looks at the streams that begin in the file and returns the first with a known audio codec. */
export async function findOggAudio(file: OpenFile | Parameters<typeof oggPages>[0]): Promise<{
  stream: { serial: number; codec: OggCodec; firstPacket: Uint8Array } | null;
  others: string[];
}> {
  // A file may begin any number of streams; the sentence about them must stay one.
  const others = new Set<string>();
  for await (const { page } of oggPages(file)) {
    // All streams begin before any goes on (RFC 3533, section 4).
    if (!page) continue;
    if (!page.isFirst) break;
    const part = page.parts[0];
    if (!part) continue;
    const firstPacket = page.bytes.slice(part.start, part.start + part.size);
    const text = String.fromCharCode(...firstPacket.subarray(0, 8));
    const codec = codecOf(text);
    if (codec) return { stream: { serial: page.serial, codec, firstPacket }, others: [...others] };
    others.add(OTHER_CODECS.find(([magic]) => text.startsWith(magic.slice(0, 8)))?.[1] ?? 'an unknown codec');
  }
  return { stream: null, others: [...others] };
}

function codecOf(text: string): OggCodec | null {
  if (text.startsWith('\x01vorbis')) return 'vorbis';
  if (text.startsWith('OpusHead')) return 'opus';
  if (text.startsWith('\x7fFLAC')) return 'flac';
  return null;
}
