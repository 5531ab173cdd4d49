/**
 * WAV, Broadcast Wave, RF64 and BW64. The `fmt ` chunk follows WAVEFORMATEX and WAVEFORMATEXTENSIBLE (Multimedia
 * Programming Interface and Data Specifications 1.0, 1991; Microsoft, "Multiple channel audio data and WAVE files").
 */
import { type AudioStream, UnreadableAudio } from '../audio-stream.ts';
import { type OpenFile, partOf } from './byte-source.ts';
import { type ChunkedFile, findChunk, readChunks } from './chunks.ts';
import { checkHeader, noAudio } from './limits.ts';
import { PcmStream, type SampleKind, type SampleLayout } from './pcm.ts';

/** Opens compressed audio that was wrapped into the data chunk. */
export type WrappedOpener = (file: OpenFile, kind: 'mp3' | 'ogg', warnings: string[]) => Promise<AudioStream>;

interface WaveFormat {
  tag: number;
  channels: number;
  sampleRateHz: number;
  blockAlign: number;
  bits: number;
  validBits: number;
  channelMask: number | null;
}

const TAG_PCM = 1;
const TAG_FLOAT = 3;
const TAG_A_LAW = 6;
const TAG_MU_LAW = 7;
const TAG_EXTENSIBLE = 0xfffe;
const MPEG_TAGS = [0x50, 0x55];
/** Ogg Vorbis in WAV, in the three modes and their variants; the first and fourth hold a whole Ogg stream. */
const OGG_STREAM_TAGS = [0x674f, 0x676f];

const OTHER_CODECS: Record<number, string> = {
  2: 'Microsoft ADPCM',
  17: 'IMA ADPCM',
  49: 'GSM 6.10',
  353: 'Windows Media Audio',
  146: 'Dolby AC-3',
  255: 'AAC',
  8192: 'Dolby AC-3',
  8193: 'DTS',
  26448: 'Ogg Vorbis packets',
  26449: 'Ogg Vorbis packets',
  26480: 'Ogg Vorbis packets',
  26481: 'Ogg Vorbis packets',
  61868: 'FLAC',
};

export async function openWav(file: OpenFile, openWrapped: WrappedOpener): Promise<AudioStream> {
  const riff = await readChunks(file);
  const formatChunk = riff && findChunk(riff, 'fmt ');
  if (!riff || !formatChunk || formatChunk.size < 14) {
    throw new UnreadableAudio(
      'A WAV file without a usable "fmt " chunk, which would say how to read it.',
      'a "fmt " chunk of at least 14 bytes before the audio.',
      'The header is damaged: write the file again from the session it came from.',
    );
  }
  const format = readFormat(await file.read(formatChunk.start, Math.min(formatChunk.size, 64)), riff.littleEndian);
  const data = findChunk(riff, 'data');
  const warnings = [...riff.warnings];
  if (!data) {
    throw noAudio('A WAV file without a "data" chunk: a header and no audio.');
  }
  if (MPEG_TAGS.includes(format.tag) || OGG_STREAM_TAGS.includes(format.tag)) {
    const kind = OGG_STREAM_TAGS.includes(format.tag) ? 'ogg' : 'mp3';
    const inner = partOf(file, data.start, data.size);
    return openWrapped({ ...inner, close: () => file.close() }, kind, warnings);
  }
  checkHeader('WAV', format.channels, format.sampleRateHz);
  const layout = sampleLayout(format, riff, warnings);
  const frameBytes = layout.bytes * format.channels;
  const frames = Math.floor(data.size / frameBytes);
  if (frames === 0) throw noAudio('A WAV file with a header and no audio.');
  if (data.size % frameBytes !== 0) {
    warnings.push(`The audio ends in the middle of a frame; the last ${data.size % frameBytes} bytes were left out.`);
  }
  return new PcmStream(
    file,
    {
      name: 'WAV',
      codec: codecWords(layout, format),
      sampleRateHz: format.sampleRateHz,
      channels: format.channels,
      bitDepth: bitDepth(layout, format),
      lossless: layout.kind !== 'A-law' && layout.kind !== 'mu-law',
      channelMask: format.channelMask,
      frames,
    },
    { layout, start: data.start, bytes: frames * frameBytes },
    warnings,
  );
}

function readFormat(bytes: Uint8Array, littleEndian: boolean): WaveFormat {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const tag = view.getUint16(0, littleEndian);
  const bits = bytes.length >= 16 ? view.getUint16(14, littleEndian) : 8;
  const format: WaveFormat = {
    tag,
    channels: view.getUint16(2, littleEndian),
    sampleRateHz: view.getUint32(4, littleEndian),
    blockAlign: view.getUint16(12, littleEndian),
    bits,
    validBits: bits,
    channelMask: null,
  };
  if (tag === TAG_EXTENSIBLE && bytes.length >= 40) {
    const validBits = view.getUint16(18, littleEndian);
    const mask = view.getUint32(20, littleEndian);
    // The sub-format is an identifier of 16 bytes whose first two are the plain format tag.
    format.tag = view.getUint16(24, littleEndian);
    if (validBits >= 1 && validBits <= bits) format.validBits = validBits;
    format.channelMask = mask === 0 ? null : mask;
  }
  return format;
}

function sampleLayout(format: WaveFormat, riff: ChunkedFile, warnings: string[]): SampleLayout {
  const { littleEndian } = riff;
  const kind = sampleKind(format);
  if (kind === 'A-law' || kind === 'mu-law') return { kind, bytes: 1, littleEndian };
  const bytes = Math.ceil(format.bits / 8);
  const possible = kind === 'float' ? format.bits === 32 || format.bits === 64 : format.bits >= 8 && format.bits <= 32;
  if (!possible) {
    throw new UnreadableAudio(
      `The WAV header says ${format.bits} bits a sample${kind === 'float' ? ' in floating point' : ''}.`,
      '8 to 32 bits of integer, or 32 or 64 of floating point.',
      'The header is damaged, or the format is one that hardly any program reads: export it again.',
    );
  }
  const container = format.blockAlign / format.channels;
  if (container === bytes) return { kind, bytes, littleEndian };
  if (kind !== 'float' && container === 4 && bytes < 4) {
    warnings.push(`Samples of ${format.bits} bits stand in containers of 32; they were read as left-justified.`);
    return { kind: 'signed', bytes: 4, littleEndian };
  }
  warnings.push(
    `The header says ${format.blockAlign} bytes a frame, which does not fit ${format.channels} channels of ${format.bits} bits; it was ignored.`,
  );
  return { kind, bytes, littleEndian };
}

function sampleKind(format: WaveFormat): SampleKind {
  if (format.tag === TAG_PCM) return format.bits <= 8 ? 'unsigned' : 'signed';
  if (format.tag === TAG_FLOAT) return 'float';
  if (format.tag === TAG_A_LAW) return 'A-law';
  if (format.tag === TAG_MU_LAW) return 'mu-law';
  const number = `0x${format.tag.toString(16).padStart(4, '0')}`;
  const name = OTHER_CODECS[format.tag];
  throw new UnreadableAudio(
    name ? `A WAV file holding ${name} (format ${number}).` : `A WAV file in an unknown format (${number}).`,
    'uncompressed audio, A-law, mu-law, MPEG audio or an Ogg stream inside.',
    'Export it as uncompressed WAV or FLAC.',
  );
}

function codecWords(layout: SampleLayout, format: WaveFormat): string {
  if (layout.kind === 'A-law' || layout.kind === 'mu-law') return layout.kind;
  if (layout.kind === 'float') return `${layout.bytes * 8}-bit float`;
  return `${format.validBits}-bit integer`;
}

function bitDepth(layout: SampleLayout, format: WaveFormat): number | null {
  if (layout.kind === 'A-law' || layout.kind === 'mu-law') return null;
  return layout.kind === 'float' ? layout.bytes * 8 : format.validBits;
}
