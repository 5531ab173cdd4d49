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
  const uncovered = outside(points, regions);
  const starts = Float64Array.from([...regions, ...uncovered], ({ startFrame }) => startFrame).sort();
  const soundEnds = Float64Array.from(sounds, ({ endFrame }) => endFrame);
  const early = EARLY_SECONDS * sampleRateHz;
  const taken = uncovered.flatMap((point): MarkedTake[] => {
    const { startFrame, label, note } = point;
    const [own, after] = [firstAbove(starts, startFrame - 1), firstAbove(starts, startFrame)];
    const next = starts[after] ?? totalFrames;
    const previous = starts[own - 1] ?? 0;
    const sound = sounds[firstAbove(soundEnds, startFrame)];
    if (sound === undefined) return [];
    const late = startFrame - sound.startFrame;
    if (late <= 0) {
      if (sound.startFrame >= next || -late > early) return [];
      return [{ startFrame, endFrame: Math.min(next, sound.endFrame), label, note }];
    }
    // Other starts from shortly before the sound to its end; those at this very place do not count.
    const within = firstAbove(starts, sound.endFrame - 1) - firstAbove(starts, sound.startFrame - early - 1);
    const alone = within === after - own;
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

/** The points, in order of time as the regions are, that lie in none of them. */
function outside(points: readonly Marker[], regions: readonly MarkedTake[]): Marker[] {
  let next = 0;
  let covered = 0;
  return points.filter(({ startFrame }) => {
    for (; next < regions.length && regions[next].startFrame <= startFrame; next++) {
      covered = Math.max(covered, regions[next].endFrame);
    }
    return startFrame >= covered;
  });
}

/** Number of the first of the rising values above a limit; their length where none is. */
function firstAbove(values: Float64Array, limit: number): number {
  let low = 0;
  let high = values.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (values[middle] > limit) high = middle;
    else low = middle + 1;
  }
  return low;
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
