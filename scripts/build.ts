/**
 * The whole path from an archive to a site, one stage after the other:
 *
 *   scan -> (decode -> describe -> split -> measure -> preview, file by file, in worker threads) -> gather -> place -> publish
 *
 * What a file gave is kept under the digest of its content and of the program's source; nothing is computed twice.
 */
import { existsSync } from 'node:fs';
import { readFile, realpath, stat } from 'node:fs/promises';
import { basename, dirname, join, relative } from 'node:path';
import { exportWordIndex } from '../shared/query/word-file.ts';
import { buildWordIndex } from '../shared/query/words.ts';
import type { BuildReport } from '../shared/report.ts';
import { packSounds, Shelf } from '../shared/shelf.ts';
import type { Sound } from '../shared/sound.ts';
import { fitStandardisation, VECTOR_SIZE, vectorOf } from '../shared/vectors.ts';
import { BuildCache } from './archive/cache.ts';
import type { Catalogue, CataloguedFolder } from './archive/catalogue.ts';
import { gatherSounds } from './archive/gather.ts';
import { parametersDigest } from './archive/identity.ts';
import { type ArchiveFolder, type ScannedFile, scanArchive } from './archive/scan.ts';
import { splitSettingsFor, unusedForms } from './archive/split-settings.ts';
import { writeWhole } from './atomic-file.ts';
import { lockBuild } from './build-lock.ts';
import type { MeasureTask } from './measure-worker.ts';
import { count, shown, spokenTime, WrongUsage } from './messages.ts';
import { LAYOUT, layoutMap, type Position } from './place/layout.ts';
import { namePlaces } from './place/region-names.ts';
import { showProgress } from './progress.ts';
import { reportScript, shelfScript, wordsScript } from './publish/data-scripts.ts';
import { assertReplaceable, publishSite, restoreSite } from './publish/site.ts';
import { sourceDigest } from './source-digest.ts';
import { measureFiles } from './worker-pool.ts';

export interface BuildOptions {
  folders: readonly CataloguedFolder[];
  out: string;
  cacheFolder: string;
  catalogue: Catalogue;
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
  await assertFolders(folders, out);
  await assertReplaceable(out);
  const unlock = await lockBuild(cacheFolder);
  try {
    await restoreSite(out);
    const { files, problems } = await scanArchive(folders);
    if (files.length === 0) {
      const where = folders.map(({ path }) => path).join(', ');
      throw new WrongUsage(`No audio files below ${where}. Expected WAV, AIFF, FLAC, MP3, Ogg Vorbis or Opus files.`);
    }
    say(`${count(files.length, 'audio file')} found.`);
    for (const { name, split } of folders) {
      const own = files.filter(({ folder }) => folder === name).map(({ file }) => file);
      for (const form of unusedForms(own, split)) say(`archive.yaml: in "${name}" no file is ${shown(form)}.`);
    }

    const cache = await BuildCache.open(cacheFolder);
    const measured = await measureArchive(files, cache, options);
    if (measured.interrupted) return { report: emptyReport, decoded: measured.decoded, interrupted: true };

    const gathered = await gatherSounds(files, cache, measured.takesKeys, measured.problems, options.catalogue);
    const { wrongSplits, unmetSplits } = gathered;
    for (const { folder, file, message } of wrongSplits) say(`${shown(`${folder}/${file}`)}: ${message}`);
    if (unmetSplits.length > 0) {
      say(`${count(unmetSplits.length, 'entry', 'entries')} in splits/ for no file of this build: ${unmetSplits[0]}.`);
    }
    const positioned = await place(gathered.sounds, cacheFolder, say);
    const report: BuildReport = { ...gathered.report, problems: [...problems, ...gathered.report.problems] };
    await publish(positioned, report, options, cache);
    await cache.forgetOlder();
    return { report, decoded: measured.decoded, interrupted: false };
  } finally {
    unlock();
  }
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

async function assertFolders(folders: readonly ArchiveFolder[], out: string): Promise<void> {
  for (const { path } of folders) {
    if (!existsSync(path)) throw new WrongUsage(`${path} does not exist. Name the folder that holds your recordings.`);
    if (!(await stat(path)).isDirectory()) {
      throw new WrongUsage(`${path} is a file. Name the folder it lies in (or use "measure" for single files).`);
    }
    const archive = await realpath(path);
    const site = await realOrPlanned(out);
    if (contains(archive, site)) {
      throw new WrongUsage(
        `The site would lie inside the archive (${out} in ${path}), which is never written to. Choose another folder with --out.`,
      );
    }
    if (contains(site, archive)) {
      throw new WrongUsage(
        `The archive ${path} lies inside ${out}, which a build replaces. Choose another with --out.`,
      );
    }
  }
}

/** The real path of a folder that may not exist yet. */
async function realOrPlanned(path: string): Promise<string> {
  return existsSync(path) ? realpath(path) : join(await realOrPlanned(dirname(path)), basename(path));
}

function contains(folder: string, path: string): boolean {
  const way = relative(folder, path);
  return way === '' || !(way === '..' || way.startsWith('../') || way.startsWith('..\\') || /^[a-z]:/i.test(way));
}

interface MeasuredArchive {
  takesKeys: Map<ScannedFile, string>;
  /** Why a file could not even be read. */
  problems: Map<ScannedFile, string>;
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
  const problems = new Map<ScannedFile, string>();
  const unknown: ScannedFile[] = [];
  const tasks: MeasureTask[] = [];
  for (const file of files) {
    const digest = cache.digestOf(file);
    const split = splitSettingsFor(file.file, splits.get(file.folder));
    const key = digest === null ? null : await cache.takesKeyFor(digest, split, corrections);
    if (key !== null && (await cache.outcome(key))) takesKeys.set(file, key);
    else {
      unknown.push(file);
      tasks.push({ path: file.path, split });
    }
  }
  let decoded = 0;
  let done = 0;
  if (unknown.length < files.length) say(`${count(files.length - unknown.length, 'file')} unchanged.`);
  const progress = showProgress('Measuring', unknown.length);
  try {
    await measureFiles(tasks, {
      settings: { cacheFolder, takesKey: cache.takesKey, corrections },
      ...(threads === undefined ? {} : { threads }),
      ...(signal === undefined ? {} : { signal }),
      async onDone({ digest, takesKey, problem, ...answer }, index) {
        const file = unknown[index];
        if (problem !== null) problems.set(file, problem);
        else if (digest !== null && takesKey !== null) {
          takesKeys.set(file, takesKey);
          cache.remember(file, digest);
          if (answer.decoded) decoded++;
        }
        progress.update(++done);
      },
    });
  } finally {
    progress.stop();
    await cache.saveFiles();
  }
  return { takesKeys, problems, decoded, interrupted: signal?.aborted ?? false };
}

interface Positioned {
  sounds: Sound[];
  vectors: Float32Array;
  centre: number[];
  scale: number[];
}

async function place(sounds: readonly Sound[], cacheFolder: string, say: (line: string) => void): Promise<Positioned> {
  const { centre, scale } = fitStandardisation(sounds);
  const vectors = new Float32Array(sounds.length * VECTOR_SIZE);
  sounds.forEach((sound, row) => {
    vectors.set(vectorOf(sound, { centre, scale }), row * VECTOR_SIZE);
  });
  const key = parametersDigest({
    LAYOUT,
    source: sourceDigest(['scripts/place']),
    vectors: parametersDigest([...new Uint32Array(vectors.buffer)]),
  });
  const kept = join(cacheFolder, 'layouts', `${key}.json`);
  let positions = await readFile(kept, 'utf8').then(
    (text) => JSON.parse(text) as Position[],
    () => null,
  );
  if (positions === null) {
    say('Drawing the map.');
    positions = await layoutMap(vectors);
    await writeWhole(kept, JSON.stringify(positions));
  }
  const placed = positions;
  return {
    sounds: sounds.map((sound, index) => ({ ...sound, mapX: placed[index].x, mapY: placed[index].y })),
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
        sounds.map((sound) => ({
          position: { x: sound.mapX, y: sound.mapY },
          tags: sound.tags,
          name: sound.name,
          session: sound.session,
        })),
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
  await publishSite({ data, previews }, out, cacheFolder, cache.previewFolder);
}

/** The lines a build ends with. */
export function summaryLines({ report, decoded }: BuildSummary, out: string): string[] {
  const lines = [
    `${count(report.sounds, 'sound')}, ${spokenTime(report.seconds)} of audio, from ${count(report.filesRead, 'file')} (${decoded} decoded now).`,
  ];
  for (const { folder, file, found, expected, remedy } of report.problems) {
    lines.push(`  ${shown(`${folder}/${file}`)}: ${found} Expected: ${expected} ${remedy}`);
  }
  if (report.problems.length > 0) {
    lines.push(`${count(report.problems.length, 'place', 'places')} gave no sound; the rest is on the page.`);
  }
  const serious = report.faults.filter(({ severity }) => severity === 'serious').length;
  if (report.faults.length > 0) {
    lines.push(`${count(report.faults.length, 'fault')} found, ${serious} serious: npm run takeshelf -- report`);
  }
  lines.push(`The site: ${join(out, 'index.html')}`);
  return lines;
}
