import { existsSync } from 'node:fs';
import { chmod, copyFile, mkdir, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import wavefile from 'wavefile';
import { valueOfScript } from '../../scripts/publish/data-scripts.ts';
import type { BuildReport } from '../../shared/report.ts';
import { Shelf } from '../../shared/shelf.ts';
import { cacheWithPage, takeshelf, temporaryFolder, treeDigest } from './command.ts';
import { tone, wav, writeBadArchive, writeSmallArchive } from './small-archive.ts';

const MINUTES = 60_000;
/** More of them for a thorough look: TAKESHELF_KILLS=10 npx vitest ... */
const KILLS = Number(process.env.TAKESHELF_KILLS ?? 4);
let home: string;
beforeAll(async () => {
  home = await temporaryFolder();
});
afterAll(() => rm(home, { recursive: true, force: true }));

async function shelfOf(site: string): Promise<Shelf> {
  const script = await readFile(join(site, 'data/shelf.js'), 'utf8');
  return new Shelf(Buffer.from(valueOfScript(script, 'shelf') as string, 'base64'));
}

const ids = (shelf: Shelf): string[] => Array.from({ length: shelf.count }, (_, i) => shelf.text('id', i)).sort();
const decodedIn = (stderr: string): number => Number(/\((\d+) decoded now\)/.exec(stderr)?.[1]);

describe('a build', () => {
  test(
    'decodes only what is new, and a sound keeps its id through renaming, moving and retagging',
    async () => {
      const archive = await writeSmallArchive(join(home, 'growing/archive'), 5);
      const out = join(home, 'growing/site');
      const cache = await cacheWithPage(join(home, 'growing/cache'));
      const build = async (): Promise<{ decoded: number; ids: string[] }> => {
        const { code, stderr } = await takeshelf(['build', archive, '--out', out, '--cache', cache]);
        expect(stderr).toContain('The site:');
        expect(code).toBe(0);
        return { decoded: decodedIn(stderr), ids: ids(await shelfOf(out)) };
      };
      const first = await build();
      expect(first.decoded).toBe(5);
      expect(first.ids.length).toBe(5);
      expect(await build()).toEqual({ decoded: 0, ids: first.ids });

      // What another version of the program kept is cleared away.
      const older = ['takes/ab/abcdef-0123456789ab.json', 'previews/0123456789ab/ab/abc.0.js'].map((name) =>
        join(cache, name),
      );
      for (const path of older) {
        await mkdir(join(path, '..'), { recursive: true });
        await writeFile(path, '');
      }
      expect((await build()).decoded).toBe(0);
      for (const path of older) expect(existsSync(path), path).toBe(false);

      await writeFile(join(archive, 'Boathouse/new.wav'), wav(tone(40)));
      const grown = await build();
      expect(grown.decoded).toBe(1);
      expect(grown.ids.length).toBe(6);

      await mkdir(join(archive, 'Net loft'));
      await rename(join(archive, 'Boathouse/plate_00.wav'), join(archive, 'Net loft/anchor.wav'));
      expect(await build()).toEqual({ decoded: 0, ids: grown.ids });

      // Other bytes, same audio: metadata edited by an independent writer.
      const edited = new wavefile.WaveFile(await readFile(join(archive, 'Boathouse/plate_01.wav')));
      edited.setTag('ICMT', 'a comment added later');
      await writeFile(join(archive, 'Boathouse/plate_01.wav'), edited.toBuffer());
      expect(await build()).toEqual({ decoded: 1, ids: grown.ids });

      // The same audio twice is one sound with two places.
      await copyFile(join(archive, 'Boathouse/plate_02.wav'), join(archive, 'Net loft/copy.wav'));
      expect((await build()).ids).toEqual(grown.ids);
      const report = valueOfScript(await readFile(join(out, 'data/report.js'), 'utf8'), 'report') as BuildReport;
      expect(report.duplicates.map(({ places }) => places.map(({ file }) => file))).toEqual([
        ['Boathouse/plate_02.wav', 'Net loft/copy.wav'],
      ]);
    },
    MINUTES,
  );

  test(
    'gives the same site byte for byte, whatever the number of threads, and leaves the archive as it is',
    async () => {
      const archive = await writeSmallArchive(join(home, 'same/archive'), 9);
      const before = await treeDigest(archive);
      await chmod(join(archive, 'Boathouse'), 0o555);
      const trees: Record<string, string>[] = [];
      for (const threads of ['1', '3']) {
        const out = join(home, `same/site ${threads}`);
        const cache = await cacheWithPage(join(home, `same/cache ${threads}`));
        const { code } = await takeshelf(['build', archive, '--out', out, '--cache', cache, '--threads', threads]);
        expect(code).toBe(0);
        trees.push(await treeDigest(out));
      }
      expect(trees[1]).toEqual(trees[0]);
      expect(Object.keys(trees[0])).toContain('index.html');
      expect(await treeDigest(archive)).toEqual(before);
    },
    MINUTES,
  );

  test(
    'killed at random moments goes on from there to the same site',
    async () => {
      const archive = await writeSmallArchive(join(home, 'killed/archive'), 12);
      const quiet = join(home, 'killed/undisturbed');
      await takeshelf(['build', archive, '--out', quiet, '--cache', await cacheWithPage(join(home, 'killed/cache 1'))]);
      const out = join(home, 'killed/site');
      const cache = await cacheWithPage(join(home, 'killed/cache 2'));
      for (let i = 0; i < KILLS; i++) {
        await takeshelf(['build', archive, '--out', out, '--cache', cache], { killAfter: 250 + Math.random() * 1500 });
      }
      const { code, stderr } = await takeshelf(['build', archive, '--out', out, '--cache', cache]);
      expect(code, stderr).toBe(0);
      expect(await treeDigest(out)).toEqual(await treeDigest(quiet));
    },
    MINUTES,
  );

  test(
    'reports every bad file in one line with a remedy and builds the rest',
    async () => {
      const archive = join(home, 'bad/archive');
      const expected = await writeBadArchive(archive);
      const out = join(home, 'bad/site');
      const { code, stderr } = await takeshelf([
        'build',
        archive,
        '--out',
        out,
        '--cache',
        await cacheWithPage(join(home, 'bad/cache')),
      ]);
      expect(code, stderr).toBe(0);
      const report = valueOfScript(await readFile(join(out, 'data/report.js'), 'utf8'), 'report') as BuildReport;
      const shelf = await shelfOf(out);
      const onPage = new Set(
        Array.from({ length: shelf.count }, (_, i) => shelf.places(i).map(({ file }) => file)).flat(),
      );
      for (const [file, says] of Object.entries(expected)) {
        const problems = report.problems.filter((problem) => problem.file === file);
        if (says === null) {
          expect(problems, file).toEqual([]);
          expect(onPage, file).toContain(file);
        } else {
          expect(problems.length, file).toBe(1);
          expect(`${problems[0].found} ${problems[0].expected}`, file).toMatch(says);
          expect(problems[0].remedy.length, file).toBeGreaterThan(10);
          expect(stderr).toContain(`archive/${file}: `);
        }
      }
      expect(report.problems.length).toBe(Object.values(expected).filter((says) => says !== null).length);
      for (const file of ['cut.wav', 'four gigabytes.wav']) {
        expect(
          report.warnings.map((warning) => warning.file),
          file,
        ).toContain(file);
      }
      expect(report.faults.filter(({ kind }) => kind === 'silent').map(({ place }) => place.file)).toContain(
        'quiet/half an hour.wav',
      );
      // Silence alone has no place on the map and no row to be compared by.
      for (let sound = 0; sound < shelf.count; sound++) {
        const isSilent = shelf.faults(sound).includes('silent');
        const row = [shelf.number('mapX')[sound], shelf.number('mapY')[sound], ...shelf.vector(sound)];
        expect(row.every(isSilent ? Number.isNaN : Number.isFinite), shelf.text('file', sound)).toBe(true);
      }
    },
    MINUTES,
  );

  test(
    'refuses what cannot work, with exit code 2 and nothing written',
    async () => {
      const folder = join(home, 'wrong');
      const archive = await writeSmallArchive(join(folder, 'archive'), 1);
      await mkdir(join(folder, 'empty'));
      await mkdir(join(folder, 'papers'));
      await writeFile(join(folder, 'papers/notes.txt'), 'no audio here');
      const before = await treeDigest(folder);
      const out = join(home, 'wrong site');
      const cases: [string[], RegExp][] = [
        [[join(folder, 'missing'), '--out', out], /does not exist/],
        [[join(folder, 'empty'), '--out', out], /No audio files/],
        [[join(folder, 'papers'), '--out', out], /No audio files/],
        [[join(folder, 'papers/notes.txt'), '--out', out], /is a file/],
        [[archive, '--out', join(archive, 'site')], /inside the archive/],
        [[archive, '--out', folder], /inside|not a site/],
        [[archive, '--out', join(folder, 'papers')], /not a site built here/],
        [[archive, '--unknown'], /unknown option/],
      ];
      for (const [words, says] of cases) {
        const { code, stderr, stdout } = await takeshelf(['build', ...words, '--cache', join(home, 'wrong cache')]);
        expect(stderr).toMatch(says);
        expect(code, stderr).toBe(2);
        expect(stdout).toBe('');
      }
      expect(await treeDigest(folder)).toEqual(before);
      expect(existsSync(out)).toBe(false);
    },
    MINUTES,
  );
});

/** The user who owns nothing. Root reads everything, so for root the build runs as that user. */
const NOBODY = 65_534;
const user = process.getuid?.() === 0 ? { user: NOBODY } : {};
const nobodyMayRun = (await takeshelf(['--help'], user)).code === 0;

// Where the project lies in a folder that only root may enter, this cannot be tried.
describe.skipIf(!nobodyMayRun)('a file nobody may read', () => {
  test(
    'is reported, and the rest builds',
    async () => {
      const archive = await writeSmallArchive(join(home, 'locked/archive'), 2);
      await chmod(join(archive, 'Boathouse/plate_00.wav'), 0);
      const cache = await cacheWithPage(join(home, 'locked/cache'));
      for (const folder of [home, join(home, 'locked'), cache]) await chmod(folder, 0o777);
      const words = ['build', archive, '--out', join(home, 'locked/site'), '--cache', cache];
      const { code, stderr } = await takeshelf(words, user);
      expect(code, stderr).toBe(1);
      expect(stderr).toMatch(/plate_00\.wav: The file cannot be read: no permission to read it\./);
      expect(stderr).toMatch(/the next build tries again/);
      expect((await shelfOf(join(home, 'locked/site'))).count).toBe(1);

      await chmod(join(archive, 'Boathouse/plate_00.wav'), 0o644);
      expect((await takeshelf(words, user)).code).toBe(0);
      expect((await shelfOf(join(home, 'locked/site'))).count).toBe(2);
    },
    MINUTES,
  );
});
