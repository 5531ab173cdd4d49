/** What a file may say before it is called a lie, and how much work its bytes may make. */
import { type AudioBlock, type AudioStream, type FrameRange, UnreadableAudio } from '../audio-stream.ts';

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

/**
 * How much may be tried in vain while a stream is searched for its next frame or page. A damaged file costs about its own
 * length; one that is full of marks with nothing behind them would cost its length a thousand times over.
 */
export class SearchBudget {
  /** Bytes or samples looked at in vain. */
  spent = 0;
  #allowed = FREE_SEARCH;

  /** `bytes` of the file were gone past. */
  passed(bytes: number): void {
    this.#allowed += bytes * SEARCH_A_BYTE;
  }

  /** True while there is some left. */
  spend(work: number): boolean {
    this.spent += work;
    return this.spent <= this.#allowed;
  }
}

const FREE_SEARCH = 1 << 22;
const SEARCH_A_BYTE = 4;
export const SEARCH_ENDED =
  'The file is full of marks of frames with no frame behind them; what comes after the first of these was left out.';

/**
 * Samples (of all channels) that a byte may decode to in the mean, beyond FREE_SAMPLES. Digital silence takes FLAC and
 * Opus one byte for 500 to 1,000 samples (common block sizes; RFC 9639, RFC 6716); sound itself takes a byte for ten at most.
 */
export const MOST_SAMPLES_A_BYTE = 1024;
/** Eight minutes of two channels at 48 kHz. */
export const FREE_SAMPLES = 50_000_000;

/** The stream, ended by an UnreadableAudio where `bytes` of file give more audio than that. */
export function withinReason(stream: AudioStream, bytes: number): AudioStream {
  const { channels } = stream.format;
  const most = (FREE_SAMPLES + MOST_SAMPLES_A_BYTE * bytes) / channels;
  return {
    format: stream.format,
    warnings: stream.warnings,
    async *blocks(range?: FrameRange): AsyncGenerator<AudioBlock> {
      let frame = range?.startFrame ?? 0;
      for await (const block of stream.blocks(range)) {
        frame += block[0]?.length ?? 0;
        if (frame > most) throw tooMuchAudio(stream, bytes, frame);
        yield block;
      }
    },
    hashPayload: (hash) => stream.hashPayload(hash),
    close: () => stream.close(),
  };
}

function tooMuchAudio({ format }: AudioStream, bytes: number, frames: number): UnreadableAudio {
  const minutes = Math.floor(frames / format.sampleRateHz / 60);
  return new UnreadableAudio(
    `${Math.ceil(bytes / 1000).toLocaleString('en')} kB of ${format.name} that unfold into more than ${minutes} minutes of ${format.channels} channels.`,
    `at most ${MOST_SAMPLES_A_BYTE} samples a byte: more is nothing but digital silence.`,
    'Where the silence is meant, export the file as WAV; else fetch or export it again.',
  );
}

/** For files that are sound formats but hold no sound. */
export function noAudio(found: string): UnreadableAudio {
  return new UnreadableAudio(found, 'at least one frame of audio.', 'Nothing can be recovered from this file.');
}
