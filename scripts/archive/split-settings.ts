/**
 * How a person wants the files of a folder cut into takes: `split` of a folder in the catalogue's archive.yaml.
 *
 *   split: whole                                            one word, or
 *   split:
 *     by: silence                                           rules for the folder, and
 *     longestPauseSeconds: 3
 *     within:                                               others for some of its files:
 *       - { files: Loops, by: whole }                       a sub-folder,
 *       - { files: 'Drips/*.wav', leastPauseSeconds: 2 }    or all whose path or name has this form
 *
 * What stands further down goes before what stands above it, value by value.
 */
import { posix } from 'node:path';
import type { Seconds } from '../../shared/sound.ts';
import type { FolderSplit } from './split-schema.ts';

/** What tells the takes of a file apart; `whole`: nothing, the file is one take. */
export const SPLIT_MEANS = ['markers and silence', 'markers', 'silence', 'whole'] as const;

/**
 * Which voices before a take are spoken slates, kept with it but left out of what is measured: those that recur in their
 * file (see slate-evidence.ts), whatever sounds like one, or none.
 */
export const SLATE_MEANS = ['recurring', 'any', 'none'] as const;
export type SlateMeans = (typeof SLATE_MEANS)[number];

export interface SplitSettings {
  by: (typeof SPLIT_MEANS)[number];
  slates: SlateMeans;
  /** A pause in the room's noise shorter than this stays inside a take: double hits, phrases, the gaps of a loop. */
  leastPauseSeconds: Seconds;
  /** So does one up to this long where the pauses between the takes are clearly longer. */
  longestPauseSeconds: Seconds;
  /** Sounds that are alike and come at even intervals no longer than this are one take, however short they are. */
  longestBeatSeconds: Seconds;
  /** What is heard for less than this, and carries no marker, is no take. */
  leastTakeSeconds: Seconds;
}

export const USUAL_SPLIT: SplitSettings = {
  by: 'markers and silence',
  slates: 'recurring',
  leastPauseSeconds: 0.4,
  longestPauseSeconds: 1.2,
  longestBeatSeconds: 2.5,
  leastTakeSeconds: 0,
};

/** The settings for one file; `file` is its path below the folder, with forward slashes. */
export function splitSettingsFor(file: string, split: FolderSplit | undefined): SplitSettings {
  const settings = { ...USUAL_SPLIT };
  if (split === undefined) return settings;
  for (const rule of [split, ...(split.within ?? []).filter(({ files }) => isOneOf(file, files))]) {
    settings.by = rule.by ?? settings.by;
    settings.slates = rule.slates ?? settings.slates;
    settings.leastPauseSeconds = rule.leastPauseSeconds ?? settings.leastPauseSeconds;
    settings.longestPauseSeconds = rule.longestPauseSeconds ?? settings.longestPauseSeconds;
    settings.longestBeatSeconds = rule.longestBeatSeconds ?? settings.longestBeatSeconds;
    settings.leastTakeSeconds = rule.leastTakeSeconds ?? settings.leastTakeSeconds;
    // Who raises only one of the two means it.
    if (rule.longestPauseSeconds === undefined) {
      settings.longestPauseSeconds = Math.max(settings.longestPauseSeconds, settings.leastPauseSeconds);
    } else settings.leastPauseSeconds = Math.min(settings.leastPauseSeconds, settings.longestPauseSeconds);
  }
  return settings;
}

/** Forms under `within` that no file has: most likely misspelt. */
export function unusedForms(files: readonly string[], split: FolderSplit | undefined): string[] {
  return (split?.within ?? []).map((part) => part.files).filter((form) => !files.some((file) => isOneOf(file, form)));
}

/** Whether a form names the file, its name alone, or a folder it lies in: "Loops", "Day 1/*.wav", "*.mp3". */
function isOneOf(file: string, form: string): boolean {
  const wanted = form.replace(/^\.?\/+|\/+$/g, '');
  const parts = file.split('/');
  const paths = parts.map((_, i) => parts.slice(0, i + 1).join('/'));
  return [...paths, posix.basename(file)].some((path) => path === wanted || posix.matchesGlob(path, wanted));
}
