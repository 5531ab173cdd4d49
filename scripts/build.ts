/**
 * The whole path from an archive to a site, one stage after the other:
 *
 *   scan -> (decode -> describe -> split -> measure -> preview, file by file, in worker threads) -> gather -> place -> publish
 *
 * What a file gave is kept under the digest of its content and of the program's source; nothing is computed twice.
 */
import { existsSync } from 'node:fs';
import { stat } from 'node:fs/promises';
import { join } from 'node:path';
import { awaySentence } from '../shared/away-words.ts';
import { exportWordIndex } from '../shared/query/word-file.ts';
import { buildWordIndex } from '../shared/query/words.ts';
import type { AwayPlace, BuildReport, FileProblem } from '../shared/report.ts';
import { packSounds, Shelf } from '../shared/shelf.ts';
import type { Place, Sound } from '../shared/sound.ts';
import { likenessRows, VECTOR_SIZE } from '../shared/vectors.ts';
import { awayFiles, SeenFiles, today } from './archive/away.ts';
import { BuildCache } from './archive/cache.ts';
import type { Catalogue, CataloguedFolder } from './archive/catalogue.ts';
import type { MachineFailure } from './archive/failures.ts';
import { gatherSounds } from './archive/gather.ts';
import { parametersDigest } from './archive/identity.ts';
import { type ScannedFile, scanArchive, type Unreachable } from './archive/scan.ts';
import { splitSettingsFor, unusedForms } from './archive/split-settings.ts';
import { writeWhole } from './atomic-file.ts';
import { lockBuild } from './build-lock.ts';
import type { MeasureTask } from './measure-worker.ts';
import { cannotWrite, count, shown, spokenTime, WrongUsage } from './messages.ts';
import { assertApart, locate } from './own/apart.ts';
import { assertCache } from './own/cache-folder.ts';
import { readSealed, sealed } from './own/seal.ts';
import { LAYOUT, layoutMap, type Position } from './place/layout.ts';
import { namePlaces } from './place/region-names.ts';
import { showProgress } from './progress.ts';
import { reportScript, shelfScript, wordsScript } from './publish/data-scripts.ts';
import { pageFiles } from './publish/page-shell.ts';
import { assertReplaceable, besides, publishSite, removeSiteLeftOvers, restoreSite } from './publish/site.ts';
import { closureDigest } from './source-closure.ts';
import { measureFiles } from './worker-pool.ts';

export interface BuildOptions {
  folders: readonly CataloguedFolder[];
  out: string;
  cacheFolder: string;
  catalogue: Catalogue;
  /** Where the catalogue was read from. */
  catalogueFolder?: string;
  threads?: number;
  signal?: AbortSignal;
  say: (line: string) => void;
}

export interface BuildSummary {
  report: BuildReport;
  /** Files whose audio was decoded in this build; the others were known. */
  decoded: number;
  interrupted: boolean;
}

export async function buildSite(options: BuildOptions): Promise<BuildSummary> {
  const { folders, out, cacheFolder, say } = options;
  const seen = await SeenFiles.open(cacheFolder);
  await assertFolders(options, seen);
  const unlock = await lockBuild(cacheFolder).catch(cannotWrite(cacheFolder));
  try {
    await restoreSite(out).catch(cannotWrite(out));
    await removeSiteLeftOvers(out).catch(cannotWrite(out));
    const cache = await BuildCache.open(cacheFolder);
    await cache.removeLeftOvers().catch(cannotWrite(cacheFolder));
    const scan = await scanArchive(folders);
    const { files } = scan;
    const away = await awayFiles(scan.unreachable, seen, cache, folders, options.catalogue.corrections);
    if (files.length === 0 && away.files.length === 0) {
      const where = folders.map(({ path }) => path).join(', ');
      const met = scan.problems.map(({ folder, file, found }) => ` ${shown(`${folder}/${file}`)}: ${found}`);
      const more = met.length > 1 ? ` And ${(met.length - 1).toLocaleString('en')} more places gave nothing.` : '';
      throw new WrongUsage(
        `No audio files below ${where}. Expected WAV, AIFF, FLAC, MP3, Ogg Vorbis or Opus files.${met[0] ?? ''}${more}`,
      );
    }
    say(`${count(files.length, 'audio file')} found.`);
    for (const { name, split } of folders) {
      const own = files.filter(({ folder }) => folder === name).map(({ file }) => file);
      for (const form of own.length > 0 ? unusedForms(own, split) : [])
        say(`archive.yaml: in "${name}" no file is ${shown(form)}.`);
    }

    const measured = await measureArchive(files, cache, options);
    if (measured.interrupted) return { report: emptyReport, decoded: measured.decoded, interrupted: true };

    const takesKeys = new Map([...measured.takesKeys, ...away.takesKeys]);
    const all = [...files, ...away.files];
    const gathered = await gatherSounds(all, cache, takesKeys, measured.failures, options.catalogue);
    const { wrongSplits, unmetSplits } = gathered;
    for (const { folder, file, message } of wrongSplits) say(`${shown(`${folder}/${file}`)}: ${message}`);
    if (unmetSplits.length > 0) {
      say(`${count(unmetSplits.length, 'entry', 'entries')} in splits/ for no file of this build: ${unmetSplits[0]}.`);
    }
    const positioned = await place(gathered.sounds, cacheFolder, say);
    const report: BuildReport = {
      ...gathered.report,
      problems: [...scan.problems, ...neverMet(scan.unreachable, seen), ...gathered.report.problems],
      warnings: [...scan.warnings, ...gathered.report.warnings],
      away: withSounds(away.places, gathered.sounds),
    };
    await publish(positioned, report, options, cache).catch(cannotWrite(out));
    await seen.note(folders, scan, (file) => measured.takesKeys.get(file)?.split('-')[0] ?? null, today());
    await cache.forgetOlder();
    return { report, decoded: measured.decoded, interrupted: false };
  } finally {
    await unlock();
  }
}

/** Folders that hold nothing now, and in which no build ever met anything. */
function neverMet(unreachable: readonly Unreachable[], seen: SeenFiles): FileProblem[] {
  return unreachable
    .filter(({ folder, file, why }) => file === '' && why !== 'unreadable' && !seen.knows(folder.path))
    .map(({ folder, why }) => ({
      folder: folder.name,
      file: '.',
      found: why === 'empty' ? 'The folder is empty.' : 'The folder is not there.',
      expected: 'Recordings in it.',
      remedy: 'Connect its drive, or no longer name it.',
    }));
}

function withSounds(places: readonly AwayPlace[], sounds: readonly Sound[]): AwayPlace[] {
  const away = sounds.filter((sound) => sound.places.every((place) => place.away));
  const liesIn = (place: AwayPlace, { folder, file }: Place): boolean =>
    folder === place.folder && (place.file === '' || file === place.file || file.startsWith(`${place.file}/`));
  return places.map((place) => ({
    ...place,
    sounds: away.filter((sound) => sound.places.some((at) => liesIn(place, at))).length,
  }));
}

const emptyReport: BuildReport = {
  folders: [],
  filesFound: 0,
  filesRead: 0,
  sounds: 0,
  seconds: 0,
  problems: [],
  warnings: [],
  faults: [],
  slates: [],
  duplicates: [],
  nearDuplicates: [],
  untagged: [],
  rightsMissing: [],
};

/**
 * Throws WrongUsage when a folder is not what it should be, or meets another. Touches nothing. A folder that is missing is
 * right where an earlier build met files in it: its drive may be away.
 */
export async function assertFolders(
  {
    folders,
    out,
    cacheFolder,
    catalogueFolder,
  }: Pick<BuildOptions, 'folders' | 'out' | 'cacheFolder' | 'catalogueFolder'>,
  seen: SeenFiles | null = null,
): Promise<void> {
  for (const { path } of folders) {
    const there = existsSync(path);
    if (!there && !seen?.knows(path)) {
      throw new WrongUsage(`${path} does not exist. Name the folder that holds your recordings.`);
    }
    if (there && !(await stat(path)).isDirectory()) {
      throw new WrongUsage(`${path} is a file. Name the folder it lies in (or use "measure" for single files).`);
    }
  }
  const { building, previous } = besides((await locate(out)).real);
  await assertApart([
    { path: out, called: 'the site', option: '--out' },
    { path: cacheFolder, called: 'the cache', option: '--cache' },
    { path: building, called: 'the folder a site is built in', option: '--out' },
    { path: previous, called: 'the folder the former site is kept in', option: '--out' },
    ...folders.map(({ path }) => ({ path, called: 'the archive', option: null })),
    ...(catalogueFolder === undefined ? [] : [{ path: catalogueFolder, called: 'the catalogue', option: null }]),
  ]);
  await assertReplaceable(out);
  await assertCache(cacheFolder);
}

interface MeasuredArchive {
  takesKeys: Map<ScannedFile, string>;
  /** Files of which nothing is known through no fault of their own. */
  failures: Map<ScannedFile, MachineFailure>;
  decoded: number;
  interrupted: boolean;
}

async function measureArchive(
  files: readonly ScannedFile[],
  cache: BuildCache,
  { cacheFolder, catalogue, folders, threads, signal, say }: BuildOptions,
): Promise<MeasuredArchive> {
  const { corrections } = catalogue;
  const splits = new Map(folders.map(({ name, split }) => [name, split]));
  const takesKeys = new Map<ScannedFile, string>();
  const failures = new Map<ScannedFile, MachineFailure>();
  const unknown: ScannedFile[] = [];
  const taskOf = (file: ScannedFile): MeasureTask => ({
    path: file.path,
    split: splitSettingsFor(file.file, splits.get(file.folder)),
  });
  for (const file of files) {
    const digest = cache.digestOf(file);
    const key = digest === null ? null : await cache.takesKeyFor(digest, taskOf(file).split, corrections);
    if (key !== null && (await cache.outcome(key))) takesKeys.set(file, key);
    else unknown.push(file);
  }
  let decoded = 0;
  let done = 0;
  if (unknown.length < files.length) say(`${count(files.length - unknown.length, 'file')} unchanged.`);
  const progress = showProgress('Measuring', unknown.length);
  const nameOf = ({ folder, file }: ScannedFile): string => `${folder}/${file}`;
  const measureAll = (wanted: readonly ScannedFile[]): Promise<void> =>
    measureFiles(wanted.map(taskOf), {
      settings: { cacheFolder, takesKey: cache.takesKey, corrections },
      ...(threads === undefined ? {} : { threads }),
      ...(signal === undefined ? {} : { signal }),
      onStart: (index) => progress.begin(nameOf(wanted[index])),
      onDone(answer, index) {
        // Without a place for results every file would be measured in vain, and a site without them replace the old one.
        if ('unwritten' in answer) throw new Error(`${answer.unwritten} What is done is kept; the site is as it was.`);
        const file = wanted[index];
        progress.end(nameOf(file));
        failures.delete(file);
        if ('failed' in answer) failures.set(file, answer.failed);
        else {
          takesKeys.set(file, answer.known.takesKey);
          cache.remember(file.path, answer.known.facts, answer.known.digest);
          if (answer.known.decoded) decoded++;
        }
        progress.update(Math.min(++done, unknown.length));
      },
    });
  try {
    await measureAll(unknown);
    await measureAll(unknown.filter((file) => failures.get(file)?.worthAnotherTry));
  } finally {
    progress.stop();
    await cache.saveFiles();
  }
  return { takesKeys, failures, decoded, interrupted: signal?.aborted ?? false };
}

interface Positioned {
  sounds: Sound[];
  vectors: Float32Array;
  centre: number[];
  scale: number[];
}

async function place(sounds: readonly Sound[], cacheFolder: string, say: (line: string) => void): Promise<Positioned> {
  const { vectors, heard, centre, scale } = likenessRows(sounds);
  // Silence stands nowhere on the map.
  const heardVectors = new Float32Array(heard.length * VECTOR_SIZE);
  heard.forEach((at, row) => {
    heardVectors.set(vectors.subarray(at * VECTOR_SIZE, (at + 1) * VECTOR_SIZE), row * VECTOR_SIZE);
  });
  const key = parametersDigest({
    LAYOUT,
    source: closureDigest(['scripts/place/layout.ts']),
    vectors: parametersDigest([...new Uint32Array(heardVectors.buffer)]),
  });
  const kept = join(cacheFolder, 'layouts', `${key}.json`);
  const known = await readSealed(kept);
  let positions = known === null ? null : (JSON.parse(known) as Position[]);
  if (positions === null) {
    say('Drawing the map.');
    positions = await layoutMap(heardVectors);
    await writeWhole(kept, sealed(JSON.stringify(positions)));
  }
  const placed: Sound[] = sounds.map((sound) => ({ ...sound, mapX: null, mapY: null }));
  positions.forEach(({ x, y }, row) => {
    placed[heard[row]] = { ...placed[heard[row]], mapX: x, mapY: y };
  });
  return {
    sounds: placed,
    vectors,
    centre,
    scale,
  };
}

async function publish(
  { sounds, vectors, centre, scale }: Positioned,
  report: BuildReport,
  { out, cacheFolder, catalogue, folders, say }: BuildOptions,
  cache: BuildCache,
): Promise<void> {
  say('Writing the site.');
  const pack = packSounds({
    sounds,
    vectors,
    vectorSize: VECTOR_SIZE,
    parameters: {
      folders: folders.map(({ name }) => name),
      seconds: report.seconds,
      unreadableFiles: report.problems.length,
      mapPlaces: namePlaces(
        sounds.flatMap(({ mapX, mapY, tags, name, session }) =>
          mapX === null || mapY === null ? [] : [{ position: { x: mapX, y: mapY }, tags, name, session }],
        ),
      ),
      vectorCentre: centre,
      vectorScale: scale,
    },
  });
  const data = new Map([
    ['data/shelf.js', shelfScript(pack)],
    ['data/report.js', reportScript(report)],
    ['data/words.js', wordsScript(exportWordIndex(buildWordIndex(new Shelf(pack), catalogue.vocabulary)))],
  ]);
  const previews = sounds.map(({ id, previewParts }) => ({ id, parts: previewParts }));
  await publishSite({ page: await pageFiles(cacheFolder), data, previews }, out, cache.previewFolder);
}

/** Places missing on the page that the next build may well bring: a build that leaves some out has failed in part. */
export const passingProblems = ({ problems }: BuildReport): number => problems.filter(({ passing }) => passing).length;
/** A build's last lines name this many places without sound; the report names all. */
const PROBLEMS_SAID = 100;

/** The lines a build ends with. */
export function summaryLines({ report, decoded }: BuildSummary, out: string): string[] {
  const lines = [
    `${count(report.sounds, 'sound')}, ${spokenTime(report.seconds)} of audio, from ${count(report.filesRead, 'file')} (${decoded} decoded now).`,
  ];
  for (const { folder, file, found, expected, remedy } of report.problems.slice(0, PROBLEMS_SAID)) {
    lines.push(`  ${shown(`${folder}/${file}`)}: ${found} Expected: ${expected} ${remedy}`);
  }
  const unsaid = report.problems.length - PROBLEMS_SAID;
  if (unsaid > 0) lines.push(`  and ${unsaid.toLocaleString('en')} more: npm run takeshelf -- report`);
  if (report.problems.length > 0) {
    lines.push(`${count(report.problems.length, 'place', 'places')} gave no sound; the rest is on the page.`);
  }
  for (const place of report.away ?? []) lines.push(awaySentence(place));
  const passing = passingProblems(report);
  if (passing > 0) {
    const failed = passing === 1 ? 'In 1 of them' : `In ${passing.toLocaleString('en')} of them`;
    lines.push(
      `${failed} the machine failed and not the file: nothing of that is kept, and the next build tries again.`,
    );
  }
  const serious = report.faults.filter(({ severity }) => severity === 'serious').length;
  if (report.faults.length > 0) {
    lines.push(`${count(report.faults.length, 'fault')} found, ${serious} serious: npm run takeshelf -- report`);
  }
  lines.push(`The site: ${join(out, 'index.html')}`);
  return lines;
}
