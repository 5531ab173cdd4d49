/** What is too short to be a sound: files that decode to nothing, and parts between two markers that nobody can hear. */
import type { Seconds } from '../../shared/sound.ts';
import { type AudioFormat, type FrameRange, UnreadableAudio } from './audio-stream.ts';
import type { Region } from './split.ts';

/** A part shorter than this is a slip of the hand that set the marker. Common practice, no source. */
const LEAST_PART_SECONDS: Seconds = 0.001;
/** Of one file so many are told one by one. */
const MOST_SENTENCES = 10;

export interface LongParts {
  /** Never empty: where all parts are too short, the whole file is one. */
  parts: Region[];
  /** Sentences about the others. */
  warnings: string[];
}

/** The parts of a file that are long enough to be takes. A whole file is never too short. */
export function longParts(regions: readonly Region[], frames: number, sampleRateHz: number): LongParts {
  const leastFrames = Math.max(1, Math.floor(LEAST_PART_SECONDS * sampleRateHz));
  const isLong = ({ startFrame, endFrame }: Region): boolean => endFrame - startFrame >= Math.min(leastFrames, frames);
  const parts = regions.filter(isLong);
  const short = regions.filter((region) => !isLong(region));
  const warnings = short.slice(0, MOST_SENTENCES).map(({ startFrame, endFrame, label }) => {
    const name = label === null ? '' : ` (${JSON.stringify(label)})`;
    const length = inFrames(Math.max(0, endFrame - startFrame));
    return (
      `The take${name} marked at ${(startFrame / sampleRateHz).toFixed(3)} s is ${length} long, too short to be heard: ` +
      'it is no sound on the page. Move or remove one of its markers.'
    );
  });
  if (short.length > MOST_SENTENCES) {
    warnings.push(`So are ${short.length - MOST_SENTENCES} more parts between markers, too short to be heard.`);
  }
  const whole: Region = { startFrame: 0, endFrame: frames, label: null, note: null, reason: 'whole' };
  return { parts: parts.length > 0 ? parts : [whole], warnings };
}

export function holdsNothing({ name, frames }: AudioFormat): UnreadableAudio {
  const promised = frames === null || frames === 0 ? '' : ` Its header promises ${inFrames(frames)}.`;
  return new UnreadableAudio(
    `The ${name} file holds no audio: nothing in it can be decoded.${promised}`,
    'at least one frame of audio.',
    'Fetch or export the file again, or take it out of the archive.',
  );
}

/** For a file of a few frames at a rate so high that they fill not one frame of a preview. */
export function tooShortToHear(
  { name, sampleRateHz }: AudioFormat,
  { startFrame, endFrame }: FrameRange,
): UnreadableAudio {
  return new UnreadableAudio(
    `The ${name} file holds ${inFrames(endFrame - startFrame)} of audio at ${sampleRateHz} Hz, too short to be heard.`,
    'a sound of a millisecond or more.',
    'Fetch or export the file again, or take it out of the archive.',
  );
}

const inFrames = (frames: number): string => `${frames} ${frames === 1 ? 'frame' : 'frames'}`;
