/** The comment header of an Ogg stream: the second packet, or for FLAC the metadata packets after the first. */
import type { ByteSource } from '../decode/byte-source.ts';
import { findOggAudio } from '../decode/ogg.ts';
import { oggPackets } from '../decode/ogg-pages.ts';
import type { Findings } from './findings.ts';
import { readFlacBlock } from './flac-text.ts';
import { readVorbisComment } from './vorbis-comment.ts';
import { WaveText } from './wave-text.ts';

const MOST_HEADERS = 64;
/** Bytes before the comments: "\x03vorbis" and "OpusTags". */
const PREFIX_BYTES = { vorbis: 7, opus: 8 };

export async function describeOgg(source: ByteSource): Promise<Findings[]> {
  const { stream } = await findOggAudio(source);
  if (!stream) return [];
  const wave = new WaveText();
  const found: Findings[] = [];
  let count = 0;
  for await (const { data } of oggPackets(source, stream.serial)) {
    count++;
    if (count === 1) continue;
    if (stream.codec !== 'flac') {
      found.push(readVorbisComment(data.subarray(PREFIX_BYTES[stream.codec])));
      break;
    }
    if (data[0] === 0xff || count > MOST_HEADERS) break;
    found.push(readFlacBlock(data[0] & 0x7f, data.subarray(4), wave));
  }
  return [...found, ...wave.findings(null)];
}
