/**
 * Takes as a person set them, in the catalogue's splits/*.yaml. They stand in place of the automatic split.
 *
 *   files:
 *     "0c9y…":                                 the file's audio as a whole (`measure FILE --takes` prints it)
 *       takes:
 *         - { start: 1.25, end: 4.5, name: Low bell }      seconds from the beginning of the file
 *         - { start: 6 }                       without an end: to the next take, or to the end of the file
 *     "1f6w…":
 *       slates: none                           what sounds like a spoken slate in it is none
 */
import type { Seconds } from '../../shared/sound.ts';
import type { ProcessedFile } from './process-file.ts';
import type { Region } from './split.ts';
import type { SlateMeans } from './split-settings.ts';

export interface CorrectedTake {
  start: Seconds;
  end: Seconds | null;
  name: string | null;
}

export interface Correction {
  /** In order of time; none where only `slates` is said, and the automatic split holds. */
  takes: CorrectedTake[];
  /** For each take, where it stands: "…/splits/day 1.yaml, line 7"; without takes, where the file stands. */
  places: string[];
  /** Goes before what the folder's settings say. */
  slates?: SlateMeans | undefined;
}

/** Identity of a file's whole audio -> its takes. */
export type Corrections = ReadonlyMap<string, Correction>;

/** A time written with two digits may lie this much past the end of the file. */
const PAST_END_SECONDS: Seconds = 0.05;
/** Below this a take is a slip of the keyboard. */
const LEAST_TAKE_SECONDS: Seconds = 0.001;

/** What is wrong with the times, as one sentence that names file and line; null where they can be used. */
export function correctionProblem({ takes, places }: Correction, fileSeconds: Seconds): string | null {
  for (const [i, { start, end }] of takes.entries()) {
    const next = takes[i + 1]?.start;
    const wrong = (text: string): string => `${places[i]}: ${text} The automatic split is used.`;
    if (start < 0) return wrong(`a take starts at ${start} s, before the file.`);
    if (start >= fileSeconds) return wrong(`a take starts at ${start} s, but the file ends at ${said(fileSeconds)}.`);
    if (end !== null && end < start + LEAST_TAKE_SECONDS) {
      return wrong(`a take ends at ${end} s, not after its start at ${start} s.`);
    }
    if (end !== null && end > fileSeconds + PAST_END_SECONDS) {
      return wrong(`a take ends at ${end} s, but the file ends at ${said(fileSeconds)}.`);
    }
    if (next !== undefined && next < (end ?? start + LEAST_TAKE_SECONDS)) {
      return wrong(`this take overlaps the one that starts at ${next} s (${places[i + 1]}).`);
    }
  }
  return null;
}

const said = (seconds: Seconds): string => `${Number(seconds.toFixed(3))} s`;

/** The takes as a person set them; null where none are set, or their times cannot be used. */
export function correctedRegions(correction: Correction, totalFrames: number, sampleRateHz: number): Region[] | null {
  if (correction.takes.length === 0 || correctionProblem(correction, totalFrames / sampleRateHz) !== null) return null;
  const frame = (seconds: Seconds): number => Math.min(totalFrames, Math.round(seconds * sampleRateHz));
  return correction.takes.map(({ start, end, name }, i) => ({
    startFrame: Math.min(totalFrames - 1, frame(start)),
    endFrame: frame(end ?? correction.takes[i + 1]?.start ?? totalFrames / sampleRateHz),
    label: name,
    note: null,
    reason: 'person',
  }));
}

/** The takes of a file as an entry below `files:`, for a person to change. */
export function splitEntry(file: string, { audio, format, takes }: ProcessedFile): string {
  const lines = takes.map(({ startFrame, endFrame, label }) => {
    const [start, end] = [startFrame, endFrame].map((frame) => Number((frame / format.sampleRateHz).toFixed(3)));
    return `      - { start: ${start}, end: ${end}${label ? `, name: ${JSON.stringify(label)}` : ''} }\n`;
  });
  return `  # ${JSON.stringify(file)}\n  "${audio}":\n    takes:\n${lines.join('')}`;
}
