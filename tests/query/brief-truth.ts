/**
 * The demo archive as its maker knows it, laid out for judging searches: every sound with its place, its words and its
 * true times. Nothing here is measured.
 */
import type { ArchiveTruth, FileTruth, SoundTruth } from '../../scripts/demo/truth.ts';
import { tokenise } from '../../shared/query/tokens.ts';
import type { Gesture } from '../../shared/sound.ts';

/** What of a sound's description its file carries: its own name, at least what the file is about, or only the place. */
export type Carried = 'name' | 'subject' | 'place';

export interface TrueSound {
  file: string;
  /** Number of the sound within its file, from 0. */
  take: number;
  name: string;
  keywords: readonly string[];
  gesture: Gesture;
  startSeconds: number;
  lengthSeconds: number;
  /** null for what has no accent. */
  accentSeconds: number | null;
  pitchHz: number | null;
  format: string;
  channels: number;
  carries: Carried;
  /** Whether name, keywords or place hold all these words, plurals and beginnings counting. */
  says(...words: string[]): boolean;
  /** Whether folder or file name hold all these words. */
  at(...words: string[]): boolean;
}

const SUBJECT = /metal|glass|skin|wood|strings|breath|water|small things/i;

/** All sounds once: a file that repeats another's audio brings none. */
export function trueSounds({ files }: Pick<ArchiveTruth, 'files'>): TrueSound[] {
  return files
    .filter(({ duplicateOf }) => duplicateOf === null)
    .flatMap((file) => file.sounds.map((sound, take) => trueSound(file, sound, take)));
}

function trueSound(file: FileTruth, sound: SoundTruth, take: number): TrueSound {
  const place = tokenise(file.path, true);
  const said = [...tokenise(sound.name, true), ...sound.keywords.flatMap((word) => tokenise(word, true)), ...place];
  const marked = file.division === 'regions' || file.division === 'points';
  const { path, format, channels } = file;
  return {
    ...sound,
    file: path,
    take,
    pitchHz: sound.pitchHz ?? null,
    accentSeconds: sound.accentSeconds ?? null,
    format: format ?? '',
    channels: channels ?? 0,
    carries: marked ? 'name' : SUBJECT.test(path) ? 'subject' : 'place',
    says: (...words) => words.every((word) => said.some((own) => own.startsWith(word))),
    at: (...words) => words.every((word) => place.some((own) => own.startsWith(word))),
  };
}
