/** A time in the cue as a person writes it: seconds, or a timecode. */
import { type FrameRateName, timecodeToSeconds } from '../../../shared/timecode.ts';

/** null for what is neither. */
export function readCueTime(text: string, rate: FrameRateName): number | null {
  const plain = text.trim().replace('−', '-').replace(',', '.').replace(/\s*s$/, '');
  if (/^-?\d+(\.\d+)?$|^-?\.\d+$/.test(plain)) return Number(plain);
  return timecodeToSeconds(plain, rate);
}
