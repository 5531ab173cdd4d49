/**
 * A built site with invented sounds, to try the page without an archive: the Astro shell is built once, each site is a
 * copy of it with data and previews written by the project's own packers. `node tests/browser/fixture-site.ts FOLDER 60`
 * leaves one to look at.
 */
import { cp, mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { build } from 'astro';
import { previewScript, reportScript, shelfScript, wordsScript } from '../../scripts/publish/data-scripts.ts';
import { NO_VOCABULARY } from '../../shared/query/vocabulary.ts';
import { exportWordIndex } from '../../shared/query/word-file.ts';
import { buildWordIndex } from '../../shared/query/words.ts';
import type { BuildReport } from '../../shared/report.ts';
import { packSounds, Shelf } from '../../shared/shelf.ts';
import type { Sound } from '../../shared/sound.ts';
import { fitStandardisation, VECTOR_SIZE, vectorOf } from '../../shared/vectors.ts';
import { inventSounds, MAP_PLACES, type Master, masters } from './fixture-sounds.ts';

export const PROJECT = fileURLToPath(new URL('../..', import.meta.url));

export interface FixtureSite {
  folder: string;
  sounds: Sound[];
}

export async function buildShell(): Promise<string> {
  const folder = await mkdtemp(join(tmpdir(), 'takeshelf-shell-'));
  process.env.ASTRO_TELEMETRY_DISABLED = '1';
  await build({ root: PROJECT, outDir: folder, logLevel: 'error' });
  return folder;
}

export async function makeMasters(): Promise<Master[]> {
  return masters();
}

export interface SiteOptions {
  count: number;
  /** How many sounds, from the first, have a preview. */
  withAudio: number;
  report?: Partial<BuildReport>;
}

export async function writeSite(
  shell: string,
  from: readonly Master[],
  folder: string,
  { count, withAudio, report }: SiteOptions,
): Promise<FixtureSite> {
  await cp(shell, folder, { recursive: true });
  const sounds = inventSounds(count, from, withAudio);
  const { centre, scale } = fitStandardisation(sounds);
  const vectors = new Float32Array(sounds.length * VECTOR_SIZE);
  for (const [at, sound] of sounds.entries()) vectors.set(vectorOf(sound, { centre, scale }), at * VECTOR_SIZE);
  const pack = packSounds({
    sounds,
    vectors,
    vectorSize: VECTOR_SIZE,
    parameters: {
      folders: ['archive'],
      seconds: sounds.reduce((sum, sound) => sum + sound.durationSeconds, 0),
      unreadableFiles: 0,
      mapPlaces: count > 20 ? MAP_PLACES : [],
      vectorCentre: centre,
      vectorScale: scale,
    },
  });
  await mkdir(join(folder, 'data'), { recursive: true });
  await writeFile(join(folder, 'data/shelf.js'), shelfScript(pack));
  await writeFile(
    join(folder, 'data/words.js'),
    wordsScript(exportWordIndex(buildWordIndex(new Shelf(pack), NO_VOCABULARY))),
  );
  await writeFile(join(folder, 'data/report.js'), reportScript({ ...reportOf(sounds), ...report }));
  for (const [at, sound] of sounds.slice(0, withAudio).entries())
    await writePreview(folder, sound, from[at % from.length]);
  return { folder, sounds };
}

async function writePreview(folder: string, { id }: Sound, master: Master): Promise<void> {
  const below = join(folder, 'previews', id.slice(0, 2));
  await mkdir(below, { recursive: true });
  for (const part of master.parts) {
    await writeFile(
      join(below, `${id}.${part.part}.js`),
      previewScript({ id, gainDb: master.gainDb, parts: master.parts, waveform: master.waveform }, part),
    );
  }
}

function reportOf(sounds: readonly Sound[]): BuildReport {
  return {
    folders: ['archive'],
    filesFound: sounds.length + 2,
    filesRead: sounds.length,
    sounds: sounds.length,
    seconds: sounds.reduce((sum, sound) => sum + sound.durationSeconds, 0),
    problems: [
      {
        folder: 'archive',
        file: 'Quay/Take 4/broken.wav',
        found: 'It begins with 44 zero bytes.',
        expected: 'A WAV file begins with RIFF.',
        remedy: 'Copy the file again from the recorder’s card.',
      },
      {
        folder: 'archive',
        file: 'Quay/notes.wav',
        found: 'The file is empty (0 bytes).',
        expected: 'Audio of at least one sample.',
        remedy: 'Delete it, or copy it again.',
      },
    ],
    warnings: [
      {
        folder: 'archive',
        file: 'Slipway/Take 2/11.wav',
        message: 'The data chunk claims 2.1 GB, the file holds 2.6 kB; what is there was read.',
      },
    ],
    faults: sounds.flatMap(({ id, name, places, faultDetails }) =>
      faultDetails.map((detail) => ({ id, name, place: places[0], ...detail })),
    ),
    slates: sounds
      .slice(0, 1)
      .map(({ id, name, places }) => ({ id, name, place: places[0], endSeconds: places[0].startSeconds + 1.5 })),
    duplicates: sounds
      .slice(0, 1)
      .map(({ id, name, places }) => ({ id, name, places: [...places, { ...places[0], file: 'Copies/again.wav' }] })),
    nearDuplicates: [{ sounds: sounds.slice(1, 3).map(({ id, name, places }) => ({ id, name, place: places[0] })) }],
    untagged: sounds.filter(({ tags }) => tags.length === 0).map(({ id }) => id),
    rightsMissing: sounds.filter(({ rights }) => rights === null).map(({ id }) => id),
    away: [
      {
        folder: 'archive',
        file: '',
        path: '/media/drive/archive',
        why: 'missing',
        files: 1,
        notShown: 0,
        sounds: 1,
        lastSeen: '2026-03-02',
      },
    ],
  };
}

export const NOTHING_WRONG: Partial<BuildReport> = {
  problems: [],
  warnings: [],
  faults: [],
  slates: [],
  duplicates: [],
  nearDuplicates: [],
  untagged: [],
  rightsMissing: [],
  away: [],
};

if (import.meta.main) {
  const [folder, count = '60'] = process.argv.slice(2);
  if (!folder) throw new Error('Say where: node tests/browser/fixture-site.ts FOLDER [SOUNDS]');
  const shell = await buildShell();
  await writeSite(shell, await masters(), folder, { count: Number(count), withAudio: Math.min(60, Number(count)) });
  await rm(shell, { recursive: true });
  console.log(folder);
}
