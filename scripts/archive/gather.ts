/**
 * From what each file gave to the list of sounds: names, sessions, tags, the same audio in several places as one sound,
 * and everything there is to report. What a person decided in the catalogue goes before what a file says.
 */
import { basename, dirname } from 'node:path/posix';
import type {
  BuildReport,
  DuplicateAudio,
  FileProblem,
  FileWarning,
  SlateBefore,
  SoundFault,
} from '../../shared/report.ts';
import type { Severity, Sound } from '../../shared/sound.ts';
import { findNearDuplicates } from '../place/near-duplicates.ts';
import type { EmbeddedText } from './audio-stream.ts';
import type { BuildCache } from './cache.ts';
import type { Catalogue, Decision } from './catalogue.ts';
import { nameWarning } from './decode/open.ts';
import type { MachineFailure } from './failures.ts';
import type { MeasuredTake, ProcessedFile } from './process-file.ts';
import type { ScannedFile } from './scan.ts';
import { correctionProblem } from './split-corrections.ts';

export interface Gathered {
  /** In order of folder, file and time; positions are not known yet. */
  sounds: Sound[];
  report: BuildReport;
  /** What is wrong with takes that a person set; among the report's warnings, too. */
  wrongSplits: FileWarning[];
  /** Where takes are set for audio that no file has. */
  unmetSplits: string[];
}

/** `takesKeys`: under which the cache holds what a file gave; `failures`: why there is nothing of a file, through no fault of its own. */
export async function gatherSounds(
  files: readonly ScannedFile[],
  cache: BuildCache,
  takesKeys: ReadonlyMap<ScannedFile, string>,
  failures: ReadonlyMap<ScannedFile, MachineFailure>,
  catalogue: Catalogue,
): Promise<Gathered> {
  const byId = new Map<string, Sound>();
  const problems: FileProblem[] = [];
  const warnings: FileWarning[] = [];
  const wrongSplits: FileWarning[] = [];
  const unmet = new Map(catalogue.corrections);
  let filesRead = 0;
  const ordered = [...files].sort((a, b) => compare(a.folder, b.folder) || compare(a.file, b.file));
  for (const file of ordered) {
    const { folder } = file;
    const key = takesKeys.get(file);
    const outcome = key === undefined ? null : await cache.outcome(key);
    if (outcome === null) {
      const { found, expected, remedy } = failures.get(file) ?? RESULT_LOST;
      problems.push({ folder, file: file.file, found, expected, remedy, passing: true });
    } else if (!outcome.ok) {
      const { found, expected, remedy } = outcome;
      problems.push({ folder, file: file.file, found, expected, remedy });
    } else {
      if (!file.away) filesRead++;
      const { result } = outcome;
      const correction = catalogue.corrections.get(result.audio);
      const wrong = correction && correctionProblem(correction, result.frames / result.format.sampleRateHz);
      unmet.delete(result.audio);
      if (wrong) wrongSplits.push({ folder, file: file.file, message: wrong });
      const odd = nameWarning(file.file, result.kind);
      for (const message of odd === null ? result.warnings : [odd, ...result.warnings])
        warnings.push({ folder, file: file.file, message });
      for (const sound of soundsOf(file, result, catalogue)) {
        const known = byId.get(sound.id);
        if (known) known.places.push(...sound.places);
        else byId.set(sound.id, sound);
      }
    }
  }
  const sounds = [...byId.values()];
  return {
    sounds,
    wrongSplits,
    unmetSplits: [...unmet.values()].map(({ places }) => places[0]),
    report: {
      folders: [...new Set(files.map(({ folder }) => folder))],
      filesFound: files.filter(({ away }) => !away).length,
      filesRead,
      sounds: sounds.length,
      seconds: sounds.reduce((sum, { durationSeconds }) => sum + durationSeconds, 0),
      problems,
      warnings: [...warnings, ...wrongSplits],
      faults: faultsOf(sounds),
      slates: sounds.flatMap(slateBefore),
      duplicates: sounds.filter(({ places }) => places.length > 1).map(asDuplicate),
      nearDuplicates: findNearDuplicates(sounds),
      untagged: sounds.filter(({ tags }) => tags.length === 0).map(({ id }) => id),
      rightsMissing: sounds.filter(({ rights }) => rights === null).map(({ id }) => id),
    },
  };
}

/** The cache was emptied or damaged while the build ran. */
const RESULT_LOST = {
  found: 'What was measured of the file is not in the cache any more.',
  expected: 'A cache that nothing else writes to during a build.',
  remedy: 'Build again.',
};

const compare = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

function soundsOf(file: ScannedFile, result: ProcessedFile, catalogue: Catalogue): Sound[] {
  const { format, embedded } = result;
  return result.takes.map((take, index) => {
    const decision = catalogue.decisions.get(take.id) ?? {};
    return {
      ...take.measurements,
      id: take.id,
      name: decision.name ?? nameOf(file, embedded, take, result.takes.length > 1 ? index + 1 : null),
      session: decision.session ?? sessionOf(file),
      places: [
        {
          folder: file.folder,
          file: file.file,
          startSeconds: take.startFrame / format.sampleRateHz,
          ...(file.away ? { away: true } : {}),
        },
      ],
      tags: tagsOf(embedded, decision),
      description: descriptionOf(embedded, take, decision),
      rights: decision.rights ?? null,
      owner: decision.owner ?? null,
      recordedOn: embedded.date,
      format: format.name,
      mapX: null,
      mapY: null,
      previewParts: take.previewParts,
    };
  });
}

/** Names a recorder or an editor gives by itself; they say nothing about the sound. */
const GENERIC_NAME =
  /^(new |untitled |my )?(audio|track|take|rec(ording)?|untitled|memo|file|clip|bounce|region|sound|mix)?[\s\d.,()-]*(copy)?[\s\d.,()-]*$/i;
const LONGEST_NAME = 90;

function nameOf(file: ScannedFile, embedded: EmbeddedText, take: MeasuredTake, number: number | null): string {
  if (take.label) return shortened(take.label);
  const stem = spaced(basename(file.file).replace(/\.[^.]*$/, ''));
  const said = embedded.title ?? (GENERIC_NAME.test(stem) ? firstLine(embedded.description ?? embedded.note) : null);
  const name = shortened(said ?? (stem === '' ? basename(file.file) : stem));
  return number === null ? name : `${name}, take ${number}`;
}

const spaced = (stem: string): string => stem.replaceAll('_', ' ').replace(/\s+/g, ' ').trim();

function firstLine(text: string | null): string | null {
  const line = text?.split(/\r?\n/)[0].trim() ?? '';
  return line === '' ? null : line;
}

function shortened(name: string): string {
  const line = name.replace(/\s+/g, ' ').trim();
  const characters = [...line];
  return characters.length <= LONGEST_NAME
    ? line
    : `${characters
        .slice(0, LONGEST_NAME - 1)
        .join('')
        .trimEnd()}…`;
}

/** Folder names that need the one above to mean something. */
const GENERIC_FOLDER = /^(audio|takes?|wavs?|aiffs?|files?|recordings?|raw|day|disc|card|\d+)([\s_-]*(files|\d+))?$/i;

function sessionOf({ folder, file }: ScannedFile): string {
  const parts = dirname(file) === '.' ? [] : dirname(file).split('/');
  const last = parts.at(-1);
  if (last === undefined) return folder;
  const above = parts.at(-2);
  return GENERIC_FOLDER.test(last) && above !== undefined ? `${spaced(above)}, ${spaced(last)}` : spaced(last);
}

function tagsOf(embedded: EmbeddedText, decision: Decision): string[] {
  const tags = [...embedded.keywords, ...(decision.tags ?? [])].map((tag) => tag.trim().toLowerCase());
  return [...new Set(tags.filter((tag) => tag !== ''))].sort();
}

function descriptionOf(embedded: EmbeddedText, take: MeasuredTake, decision: Decision): string {
  const texts = [decision.notes, take.note, embedded.description, embedded.comment, embedded.note];
  const lines = texts.map((text) => text?.trim() ?? '').filter((text) => text !== '');
  return [...new Set(lines)].join('\n');
}

function slateBefore({ id, name, places: [place], slateEndSeconds }: Sound): SlateBefore[] {
  return slateEndSeconds === null ? [] : [{ id, name, place, endSeconds: place.startSeconds + slateEndSeconds }];
}

const SEVERITY_ORDER: Record<Severity, number> = { serious: 0, warning: 1, note: 2 };

function faultsOf(sounds: readonly Sound[]): SoundFault[] {
  const faults = sounds.flatMap(({ id, name, places, faultDetails }) =>
    faultDetails
      // These have a part of the report to themselves.
      .filter(({ kind }) => kind !== 'spoken-slate')
      .map((fault): SoundFault => ({ id, name, place: places[0], ...fault })),
  );
  return faults.sort(
    (a, b) =>
      SEVERITY_ORDER[a.severity] - SEVERITY_ORDER[b.severity] ||
      compare(a.name, b.name) ||
      (a.seconds ?? 0) - (b.seconds ?? 0),
  );
}

const asDuplicate = ({ id, name, places }: Sound): DuplicateAudio => ({ id, name, places });
