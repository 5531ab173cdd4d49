/** The plan of an archive: plain data, so that it can be read as a list, made by hand or by chance, and sent to a worker. */
import type { FaultKind } from '../../../shared/sound.ts';
import type { SoundSource } from '../sources/source.ts';
import type { Division, FileFormat } from '../truth.ts';
import type { RoomName } from './places.ts';

export interface SoundPlan {
  name: string;
  keywords: string[];
  source: SoundSource;
  /** Peak of the sound with its room. */
  peakDbfs: number;
}

/** Text the file carries; left out = the recorder wrote none. */
export interface EmbeddedPlan {
  description?: string;
  originator?: string;
  date?: string;
  time?: string;
  /** Written as INFO keywords, `;` between them. */
  keywords?: boolean;
  title?: string;
  comment?: string;
  /** Scene and project in an iXML chunk. */
  scene?: string;
  /** Root note from the sound's pitch, as a sampler's chunk. */
  rootNote?: boolean;
  /** Loops over the whole file. */
  loop?: boolean;
}

export interface FilePlan {
  path: string;
  format: FileFormat;
  /** How a WAV file is wrapped. */
  container?: 'plain' | 'extensible' | 'rf64';
  sampleRateHz: number;
  bitDepth: 16 | 24 | 32;
  channels: 1 | 2 | 4;
  room: RoomName;
  /** RMS of room tone and microphone noise; null = none (an edited, cleaned file). */
  floorDbfs: number | null;
  division: Division;
  embedded: EmbeddedPlan;
  faults?: FaultKind[];
  sounds: SoundPlan[];
}
