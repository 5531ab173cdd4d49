/** What a build has to say beside the sounds: shown by `report`, by the report page and counted at the build's end. */
import type { FaultKind, Place, Seconds, Severity } from './sound.ts';

/** A file that gave no sound. The three sentences say what is there, what was expected and what to do. */
export interface FileProblem {
  folder: string;
  file: string;
  found: string;
  expected: string;
  remedy: string;
  /** Set where the machine failed and not the file: nothing of it is kept, and the next build tries again. */
  passing?: true;
}

export interface FileWarning {
  folder: string;
  file: string;
  message: string;
}

export interface SoundFault {
  id: string;
  name: string;
  place: Place;
  kind: FaultKind;
  severity: Severity;
  seconds: Seconds | null;
  message: string;
}

/** The same audio in several places: one sound. */
export interface DuplicateAudio {
  id: string;
  name: string;
  places: Place[];
}

/** Sounds so alike that they are likely one take in several versions; see scripts/place/near-duplicates.ts. */
export interface NearDuplicates {
  sounds: { id: string; name: string; place: Place }[];
}

/** A folder, or a part of one, that could not be looked into, though earlier builds found files there. */
export interface AwayPlace {
  folder: string;
  /** Path below the folder; "" for the folder itself. */
  file: string;
  path: string;
  /** `empty`: the folder is there, but holds no file at all, as where a drive is not mounted. */
  why: 'missing' | 'empty' | 'unreadable';
  files: number;
  /** Files among them that no kept result can stand for: the program, or what is asked of their split, has changed since. */
  notShown: number;
  /** Sounds on the page that lie there and nowhere else. */
  sounds: number;
  /** yyyy-mm-dd of the last build that met them. */
  lastSeen: string;
}

/** A voice before a take that was taken for a spoken slate: kept with the take, left out of what is measured. */
export interface SlateBefore {
  /** The take after it. */
  id: string;
  name: string;
  /** Where take and slate begin. */
  place: Place;
  /** In the file: where the last word ends. */
  endSeconds: Seconds;
}

export interface BuildReport {
  folders: string[];
  filesFound: number;
  filesRead: number;
  sounds: number;
  seconds: Seconds;
  problems: FileProblem[];
  warnings: FileWarning[];
  /** Most severe first, then by name and time. */
  faults: SoundFault[];
  /** In order of folder, file and time. */
  slates: SlateBefore[];
  duplicates: DuplicateAudio[];
  nearDuplicates: NearDuplicates[];
  /** Ids. */
  untagged: string[];
  rightsMissing: string[];
  /** Absent in reports of older builds. */
  away?: AwayPlace[];
}
