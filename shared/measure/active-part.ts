import type { Seconds } from '../sound.ts';

/** The part of a sound that stands out of its background (see Measurements.activeStartSeconds). */
export interface ActivePart {
  startSeconds: Seconds;
  endSeconds: Seconds;
}

export function activePart(startSeconds: Seconds | null, activeSeconds: Seconds | null): ActivePart | null {
  return startSeconds === null || activeSeconds === null
    ? null
    : { startSeconds, endSeconds: startSeconds + activeSeconds };
}
