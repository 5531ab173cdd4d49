/** What a header may say before it is called a lie. */
import { UnreadableAudio } from '../audio-stream.ts';

export const MOST_CHANNELS = 64;
export const LOWEST_RATE_HZ = 1000;
export const HIGHEST_RATE_HZ = 1_536_000;

/** Throws where the number of channels or the sample rate cannot be true. */
export function checkHeader(container: string, channels: number, sampleRateHz: number): void {
  if (!(Number.isInteger(channels) && channels >= 1 && channels <= MOST_CHANNELS)) {
    throw new UnreadableAudio(
      `The ${container} header says ${channels} channels.`,
      `1 to ${MOST_CHANNELS} channels.`,
      'The header is damaged: write the file again from the session it came from.',
    );
  }
  if (!(sampleRateHz >= LOWEST_RATE_HZ && sampleRateHz <= HIGHEST_RATE_HZ)) {
    const said = Number.isFinite(sampleRateHz) ? `${Math.round(sampleRateHz)} Hz` : 'no number';
    throw new UnreadableAudio(
      `The ${container} header gives a sample rate of ${said}.`,
      `a rate between ${LOWEST_RATE_HZ} and ${HIGHEST_RATE_HZ} Hz.`,
      'The header is damaged: write the file again from the session it came from.',
    );
  }
}

/** For files that are sound formats but hold no sound. */
export function noAudio(found: string): UnreadableAudio {
  return new UnreadableAudio(found, 'at least one frame of audio.', 'Nothing can be recovered from this file.');
}
