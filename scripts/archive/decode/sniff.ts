/** What a file is, told by its first bytes and never by its name. */
import type { ByteSource } from './byte-source.ts';
import { tagsBefore } from './id3-bounds.ts';
import { findFirstFrame } from './mpeg-frames.ts';

export type AudioKind = 'wav' | 'aiff' | 'flac' | 'ogg' | 'mp3';

export interface Sniffed {
  /** null when the content is none of the formats read here. */
  kind: AudioKind | null;
  /** The content in words with its article: "a ZIP archive". */
  words: string;
  /** Where the format begins, after tags put in front of it. */
  start: number;
  /** The content is sound in a format that is not read here. */
  otherAudio: boolean;
}

export const AUDIO_WORDS: Record<AudioKind, string> = {
  wav: 'a WAV file',
  aiff: 'an AIFF file',
  flac: 'a FLAC file',
  ogg: 'an Ogg file',
  mp3: 'an MP3 file',
};

/** Kinds told by fixed bytes: offset, the bytes as Latin-1 text, what they mean, and whether that is sound. */
const OTHER_KINDS: [offset: number, magic: string, words: string, audio?: 'audio'][] = [
  [0, 'PK\x03\x04', 'a ZIP archive (or a document kept in one)'],
  [0, 'PK\x05\x06', 'an empty ZIP archive'],
  [0, 'Rar!', 'a RAR archive'],
  [0, '7z\xbc\xaf\x27\x1c', 'a 7z archive'],
  [0, '\x1f\x8b', 'a gzip archive'],
  [0, '\x89PNG', 'a PNG picture'],
  [0, '\xff\xd8\xff', 'a JPEG picture'],
  [0, 'GIF8', 'a GIF picture'],
  [0, 'BM', 'a BMP picture'],
  [0, '%PDF', 'a PDF document'],
  [0, 'MThd', 'a MIDI file, which holds notes and no sound'],
  [0, 'caff', 'a Core Audio file (CAF)', 'audio'],
  [4, 'ftypM4', 'an MPEG-4 sound file (M4A)', 'audio'],
  [4, 'ftyp', 'an MPEG-4 file (M4A, MP4 or MOV)'],
  [4, 'moov', 'a QuickTime movie'],
  [4, 'mdat', 'a QuickTime movie'],
  [0, '\x1a\x45\xdf\xa3', 'a Matroska or WebM file'],
  [0, '\x30\x26\xb2\x75\x8e\x66\xcf\x11', 'a Windows Media file', 'audio'],
  [0, 'wvpk', 'a WavPack file', 'audio'],
  [0, 'MAC ', "a Monkey's Audio file", 'audio'],
  [0, 'MPCK', 'a Musepack file', 'audio'],
  [0, 'MP+', 'a Musepack file', 'audio'],
  [0, '#!AMR', 'an AMR speech file', 'audio'],
  [0, '.snd', 'a Sun AU file', 'audio'],
  [0, 'riff\x2e\x91\xcf\x11', 'a Wave64 file', 'audio'],
  [0, 'DSD ', 'a DSD file', 'audio'],
  [0, 'FRM8', 'a DSD file', 'audio'],
  [0, 'ADIF', 'an AAC file', 'audio'],
  [0, '\x7fELF', 'a program'],
  [0, 'MZ', 'a program'],
  [0, 'SQLite format 3', 'a database'],
  [0, '\x00\x05\x16\x07', 'a resource file that a Mac left beside the real one'],
  [0, '\x00\x00\x00\x01Bud1', 'a folder settings file'],
  [0, 'SIT!', 'a StuffIt archive'],
];

export async function sniff(source: ByteSource): Promise<Sniffed> {
  if (source.size === 0) return { kind: null, words: 'an empty file (0 bytes)', start: 0, otherAudio: false };
  const { end: start } = await tagsBefore(source);
  const head = await source.read(start, 64);
  const text = String.fromCharCode(...head);
  const found = (kind: AudioKind): Sniffed => ({ kind, words: AUDIO_WORDS[kind], start, otherAudio: false });
  const other = (words: string, otherAudio = false): Sniffed => ({ kind: null, words, start, otherAudio });

  if (/^(RIFF|RIFX|RF64|BW64)/.test(text)) {
    const form = text.slice(8, 12);
    if (form === 'WAVE') return found('wav');
    const words = form === 'AVI ' ? 'an AVI video' : form === 'WEBP' ? 'a WebP picture' : 'a RIFF file without audio';
    return other(words);
  }
  if (text.startsWith('FORM') && /^AIF[FC]/.test(text.slice(8))) return found('aiff');
  if (text.startsWith('fLaC')) return found('flac');
  if (text.startsWith('OggS')) return found('ogg');
  for (const [offset, magic, words, audio] of OTHER_KINDS) {
    if (text.startsWith(magic, offset)) return other(words, audio === 'audio');
  }
  // ADTS: twelve ones, then the layer bits 00 that no MPEG layer uses.
  if (head[0] === 0xff && (head[1] & 0xf6) === 0xf0) return other('an AAC stream', true);
  if (await findFirstFrame(source, start)) return found('mp3');
  if (start > 0) return other('an ID3 tag without audio after it');
  return other(unknownWords(head));
}

function unknownWords(head: Uint8Array): string {
  if (head.every((byte) => byte === 0)) return 'a file that begins with nothing but zero bytes';
  const text = new TextDecoder('utf-8').decode(head.subarray(0, Math.max(1, head.length - 3)));
  const isText = !/[^\P{Cc}\t\n\v\f\r]|\ufffd/u.test(text);
  if (isText && /^\s*<(!doctype|html)/i.test(text)) return 'a web page';
  if (isText) return 'a text file';
  return 'a file of unknown kind';
}
