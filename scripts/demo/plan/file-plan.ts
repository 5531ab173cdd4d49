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
  /** yyyy-mm-dd */
  date?: string;
  /** hh:mm:ss */
  time?: string;
  title?: string;
  comment?: string;
  /** True: the keywords that all sounds share are written, `;` between them. */
  keywords?: boolean;
  /** Scene, in an iXML chunk with project and take. */
  scene?: string;
  /** True: root note from the sound's pitch, as a sampler's chunk. */
  rootNote?: boolean;
}

export interface AudioFilePlan {
  kind: 'audio';
  path: string;
  format: FileFormat;
  /** How a WAV file is wrapped; plain when left out. */
  container?: 'plain' | 'extensible' | 'rf64';
  sampleRateHz: number;
  /** 32 = floating point. Of no meaning to lossy formats. */
  bitDepth: 16 | 24 | 32;
  channels: 1 | 2 | 4;
  room: RoomName;
  /** Air when left out. */
  microphone?: 'air' | 'contact';
  /** RMS of room tone and microphone noise; null = none (an edited, cleaned file). */
  floorDbfs: number | null;
  division: Division;
  /** The file is a seamless loop of exactly this length; what rings on is folded back to the start. */
  loopSeconds?: number;
  embedded: EmbeddedPlan;
  faults?: FaultKind[];
  /** Share of the sample data that is really there; the header claims all of it. */
  keptShare?: number;
  /** Path of another file of the plan whose audio this one repeats; both have the same sounds and settings. */
  audioOf?: string;
  sounds: SoundPlan[];
}

/** A file that is no audio, whatever its name says. */
export interface TextFilePlan {
  kind: 'text';
  path: string;
  text: string;
}

export type FilePlan = AudioFilePlan | TextFilePlan;
