/** Opens any audio file: looks at its first bytes, never at its name, and picks the decoder. */
import { extname } from 'node:path';
import { type AudioStream, UnreadableAudio } from '../audio-stream.ts';
import { openAiff } from './aiff.ts';
import { type OpenFile, partOf } from './byte-source.ts';
import { openFile } from './file-bytes.ts';
import { openFlac } from './flac.ts';
import { withinReason } from './limits.ts';
import { openMp3 } from './mp3.ts';
import { openOgg } from './ogg.ts';
import { AUDIO_WORDS, type AudioKind, sniff } from './sniff.ts';
import { openWav } from './wav.ts';

/** Extensions worth trying when scanning a folder, with the content they promise. */
const EXTENSIONS: Record<string, AudioKind> = {
  wav: 'wav',
  wave: 'wav',
  bwf: 'wav',
  rf64: 'wav',
  bw64: 'wav',
  aif: 'aiff',
  aiff: 'aiff',
  aifc: 'aiff',
  flac: 'flac',
  mp3: 'mp3',
  mp2: 'mp3',
  ogg: 'ogg',
  oga: 'ogg',
  opus: 'ogg',
};

/** True when the name ends like a format that can be read. Files that a Mac writes beside the real ones are not. */
export function isAudioName(name: string): boolean {
  const base = name.slice(Math.max(name.lastIndexOf('/'), name.lastIndexOf('\\')) + 1);
  return !base.startsWith('._') && promisedKind(base) !== undefined;
}

/** Extensions of sound that is not read here. */
const OTHER_AUDIO_EXTENSIONS =
  /^(m4a|m4b|m4r|aac|adts|caf|w64|au|snd|wv|wma|ape|mpc|amr|awb|3ga|dsf|dff|tta|tak|ac3|ec3|dts|mka|weba|ra|spx|voc|sd2|8svx|mogg|shn|ofr)$/i;

export const isOtherAudioName = (name: string): boolean => OTHER_AUDIO_EXTENSIONS.test(extname(name).slice(1));

/** What is odd in a name that promises another content than a file has; null where it keeps its promise, or makes none. */
export function nameWarning(name: string, kind: AudioKind): string | null {
  if ((promisedKind(name) ?? kind) === kind && !isOtherAudioName(name)) return null;
  return `The name ends in "${extname(name)}" but the content is ${AUDIO_WORDS[kind]}; it was read by its content.`;
}

/**
 * Opens a file for decoding. Throws UnreadableAudio, whose sentences say what was found, what was expected and what to
 * do, for anything that is no audio or cannot be decoded; errors of the system come as they are. Close the stream when done.
 */
export async function openAudio(path: string): Promise<AudioStream & { readonly kind: AudioKind }> {
  return audioIn(await openFile(path));
}

/** As `openAudio`, of a file already open, which the stream closes. */
export async function audioIn(file: OpenFile): Promise<AudioStream & { readonly kind: AudioKind }> {
  try {
    const { kind, words, start } = await sniff(file);
    if (kind === null) {
      throw new UnreadableAudio(
        `This is ${words}.`,
        'WAV, AIFF, FLAC, MP3, Ogg Vorbis or Opus.',
        'Export the sound in one of these formats, or leave the file out of the archive.',
      );
    }
    // MP3 looks after its own tags; in front of other formats they are simply skipped.
    const content = start > 0 && kind !== 'mp3' ? tailOf(file, start) : file;
    const stream = await openKind(content, kind);
    return Object.assign(kind === 'wav' || kind === 'aiff' ? stream : withinReason(stream, file.size), { kind });
  } catch (error) {
    await file.close();
    throw error;
  }
}

function openKind(file: OpenFile, kind: AudioKind): Promise<AudioStream> {
  switch (kind) {
    case 'wav':
      return openWav(file, (inner, wrapped, warnings) =>
        wrapped === 'ogg' ? openOgg(inner, warnings) : openMp3(inner, warnings),
      );
    case 'aiff':
      return openAiff(file);
    case 'flac':
      return openFlac(file);
    case 'ogg':
      return openOgg(file);
    case 'mp3':
      return openMp3(file);
  }
}

function tailOf(file: OpenFile, start: number): OpenFile {
  return { ...partOf(file, start, file.size - start), close: () => file.close() };
}

function promisedKind(path: string): AudioKind | undefined {
  return EXTENSIONS[extname(path).slice(1).toLowerCase()];
}
