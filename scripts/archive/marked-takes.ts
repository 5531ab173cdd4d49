/** Which takes the markers in a file mark. */
import type { FrameRange, Marker } from './audio-stream.ts';

export interface MarkedTake extends FrameRange {
  label: string | null;
  note: string | null;
}

/** A point this close to where a sound begins is meant for that sound: pressed in time before it, or a little late. */
const EARLY_SECONDS = 3;
const LATE_SECONDS = 1;
/** Markers this close to both ends of a loop, or to one where they are points, mark the loop. */
const LOOP_TOLERANCE_FRAMES = 2;

/**
 * Regions with a length as they are, cut to the file. A point marks the sound at it or after it: from the point (or
 * from the sound's own beginning, where the point came late) to where that sound ends or the next marker stands.
 * Markers outside the file, on the ends of a loop, or alone within a sound (a sync point) mark no take.
 */
export function markedTakes(
  markers: readonly Marker[],
  loops: readonly FrameRange[],
  sounds: readonly FrameRange[],
  totalFrames: number,
  sampleRateHz: number,
): MarkedTake[] {
  const inside = markers.filter(
    (marker) => marker.startFrame >= 0 && marker.startFrame < totalFrames && !marksLoop(marker, loops),
  );
  const regions: MarkedTake[] = [];
  const points: Marker[] = [];
  for (const marker of [...inside].sort((a, b) => a.startFrame - b.startFrame)) {
    const { startFrame, lengthFrames, label, note } = marker;
    if (lengthFrames === null || lengthFrames <= 0) points.push(marker);
    else regions.push({ startFrame, endFrame: Math.min(totalFrames, startFrame + lengthFrames), label, note });
  }
  const uncovered = points.filter(({ startFrame }) => !regions.some((region) => contains(region, startFrame)));
  const starts = [...regions, ...uncovered].map(({ startFrame }) => startFrame).sort((a, b) => a - b);
  const early = EARLY_SECONDS * sampleRateHz;
  const taken = uncovered.flatMap((point): MarkedTake[] => {
    const next = starts.find((start) => start > point.startFrame) ?? totalFrames;
    const previous = starts.findLast((start) => start < point.startFrame) ?? 0;
    const { startFrame, label, note } = point;
    const sound = sounds.find(({ endFrame }) => endFrame > startFrame);
    if (sound === undefined) return [];
    const late = startFrame - sound.startFrame;
    if (late <= 0) {
      if (sound.startFrame >= next || -late > early) return [];
      return [{ startFrame, endFrame: Math.min(next, sound.endFrame), label, note }];
    }
    const marks = (start: number): boolean =>
      start !== startFrame && start >= sound.startFrame - early && start < sound.endFrame;
    const alone = !starts.some(marks);
    if (late <= LATE_SECONDS * sampleRateHz && previous <= sound.startFrame && sounds.length > 1) {
      return [{ startFrame: sound.startFrame, endFrame: Math.min(next, sound.endFrame), label, note }];
    }
    return alone ? [] : [{ startFrame, endFrame: Math.min(next, sound.endFrame), label, note }];
  });
  return distinct([...regions, ...taken]);
}

function marksLoop({ startFrame, lengthFrames, label }: Marker, loops: readonly FrameRange[]): boolean {
  if (/^\W*loop(\W*(start|end|begin|in|out|\d+))?\W*$/i.test(label ?? '')) return true;
  const near = (a: number, b: number): boolean => Math.abs(a - b) <= LOOP_TOLERANCE_FRAMES;
  return loops.some((loop) =>
    lengthFrames === null || lengthFrames <= 0
      ? near(startFrame, loop.startFrame) || near(startFrame, loop.endFrame)
      : near(startFrame, loop.startFrame) && near(startFrame + lengthFrames, loop.endFrame),
  );
}

function contains(range: FrameRange, frame: number): boolean {
  return frame >= range.startFrame && frame < range.endFrame;
}

function distinct(takes: readonly MarkedTake[]): MarkedTake[] {
  const seen = new Set<string>();
  return takes.filter(({ startFrame, endFrame }) => {
    const key = `${startFrame}-${endFrame}`;
    if (seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}
