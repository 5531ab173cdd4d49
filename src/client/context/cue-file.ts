/** A cue of the person's own: decoded in the page, measured, held while the page is open, never stored or sent. */
import { plural, seconds } from '../format.ts';
import { type CueMeasured, measureCue } from './cue-level.ts';

export interface CueFile extends CueMeasured {
  name: string;
  buffer: AudioBuffer;
  /** Something to know about its size; null where there is nothing. */
  caution: string | null;
}

const DECODE_RATE_HZ = 48_000;
export const CAUTION_SECONDS = 600;
export const LONGEST_SECONDS = 1800;
const BYTES_A_SECOND = DECODE_RATE_HZ * 2 * Float32Array.BYTES_PER_ELEMENT;
/** A file whose length cannot be told beforehand is held to the size of the longest in 32-bit stereo. */
const LARGEST_BYTES = LONGEST_SECONDS * BYTES_A_SECOND;
const METADATA_MILLISECONDS = 4000;

/** Rejects with a sentence for a person. `caution` is told before a long cue is decoded. */
export async function openCue(file: File, caution: (sentence: string) => void): Promise<CueFile> {
  const told = await lengthOf(file);
  if (told === null ? file.size > LARGEST_BYTES : told > LONGEST_SECONDS) throw new Error(tooLong(file.name, told));
  const early = told === null ? null : cautionFor({ duration: told, numberOfChannels: 2 });
  if (early) caution(`Reading ${file.name}. ${early}`);
  const buffer = await decode(file);
  if (buffer.duration > LONGEST_SECONDS) throw new Error(tooLong(file.name, buffer.duration));
  const channels = Array.from({ length: buffer.numberOfChannels }, (_, at) => buffer.getChannelData(at));
  const measured = await measureCue(channels, buffer.sampleRate, breathe);
  return { ...measured, name: file.name, buffer, caution: cautionFor(buffer) };
}

const breathe = (): Promise<void> => new Promise((resolve) => window.setTimeout(resolve));

const tooLong = (name: string, length: number | null): string =>
  `${name} is ${length === null ? 'too large' : `${seconds(length)} long`}. A cue may last ${seconds(LONGEST_SECONDS)}: bounce the part around the bars you need.`;

export function cautionFor({
  duration,
  numberOfChannels,
}: Pick<AudioBuffer, 'duration' | 'numberOfChannels'>): string | null {
  if (duration <= CAUTION_SECONDS) return null;
  const megabytes = Math.round((duration * numberOfChannels * DECODE_RATE_HZ * Float32Array.BYTES_PER_ELEMENT) / 1e6);
  return `A long cue: it takes ${plural(megabytes, 'megabyte')} of memory until it is removed.`;
}

/** From the file's own head, without decoding it; null where the browser cannot tell. */
function lengthOf(file: File): Promise<number | null> {
  return new Promise((resolve) => {
    const address = URL.createObjectURL(file);
    const audio = new Audio();
    const settle = (length: number) => {
      URL.revokeObjectURL(address);
      resolve(Number.isFinite(length) && length > 0 ? length : null);
    };
    const timer = window.setTimeout(() => settle(Number.NaN), METADATA_MILLISECONDS);
    audio.addEventListener('loadedmetadata', () => {
      window.clearTimeout(timer);
      settle(audio.duration);
    });
    audio.addEventListener('error', () => {
      window.clearTimeout(timer);
      settle(Number.NaN);
    });
    audio.preload = 'metadata';
    audio.src = address;
  });
}

async function decode(file: File): Promise<AudioBuffer> {
  try {
    const decoder = new OfflineAudioContext(2, 1, DECODE_RATE_HZ);
    return await decoder.decodeAudioData(await file.arrayBuffer());
  } catch {
    throw new Error(`This browser cannot read ${file.name} as audio. WAV and MP3 are read everywhere.`);
  }
}
