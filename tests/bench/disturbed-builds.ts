/**
 * Builds of a small archive that are killed, run into a full disk, or have files swapped under them, each followed by a build
 * left in peace: its site must be, byte for byte, that of a build never disturbed.
 *
 *   npm run test:disturbed [-- kills full swaps]     only the kinds named; without, all three
 *
 * The full disk is a small file system in memory where this user may mount one; else each file is limited in size
 * (prlimit), which fails writes just so, but with another error. TAKESHELF_SEED draws other moments and sizes.
 */
import { spawnSync } from 'node:child_process';
import { cp, mkdir, readdir, rename, rm, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { cacheWithPage, type Ran, takeshelf, temporaryFolder, treeDigest } from '../build/command.ts';
import { tone, wav, writeSmallArchive } from '../build/small-archive.ts';
import { Random } from '../measure/random.ts';

const KILLS = 20;
const FULL_DISKS = 10;
const SWAPS = 5;
const SOUNDS = 24;
const random = new Random(Number(process.env.TAKESHELF_SEED ?? 1));
const wanted = process.argv.slice(2);
const failures: string[] = [];
const home = await temporaryFolder();

try {
  const archive = await writeSmallArchive(join(home, 'archive'), SOUNDS);
  const page = await cacheWithPage(join(home, 'page'));
  const quiet = await newPlace('quiet', page);
  const started = performance.now();
  await build(archive, quiet);
  const milliseconds = performance.now() - started;
  const undisturbed = await treeDigest(quiet.out);
  const bytes = await sizeOf(quiet.folder);
  say(`A build in peace: ${(milliseconds / 1000).toFixed(1)} s, ${(bytes / 1e6).toFixed(1)} MB.`);
  if (wants('kills')) await killed(archive, page, milliseconds, undisturbed);
  if (wants('full')) await fullDisks(archive, page, bytes, undisturbed);
  if (wants('swaps')) await swapped(archive, page, milliseconds);
} finally {
  await rm(home, { recursive: true, force: true });
}
for (const failure of failures) say(failure);
process.exitCode = failures.length === 0 ? 0 : 1;

interface Place {
  folder: string;
  cache: string;
  out: string;
}

function wants(kind: string): boolean {
  return wanted.length === 0 || wanted.includes(kind);
}

function say(line: string): void {
  process.stdout.write(`${line}\n`);
}

async function newPlace(name: string, page: string, within = home): Promise<Place> {
  const folder = join(within, name);
  await mkdir(folder, { recursive: true });
  await cp(page, join(folder, 'cache'), { recursive: true });
  return { folder, cache: join(folder, 'cache'), out: join(folder, 'site') };
}

function build(archive: string, { cache, out }: Place, killAfter?: number): Promise<Ran> {
  const words = ['build', archive, '--out', out, '--cache', cache, '--threads', '2'];
  return takeshelf(words, killAfter === undefined ? {} : { killAfter });
}

/** A build left in peace, then the comparison; left-overs count as differences. */
async function compare(
  what: string,
  archive: string,
  place: Place,
  undisturbed: Record<string, string>,
): Promise<void> {
  const { code, stderr } = await build(archive, place);
  const site = code === 0 ? await treeDigest(place.out) : {};
  const names = new Set([...Object.keys(site), ...Object.keys(undisturbed)]);
  const different = [...names].filter((name) => site[name] !== undisturbed[name]);
  const left = (await readdir(place.folder, { recursive: true })).filter((name) =>
    /\.(part|building|previous)$/.test(name),
  );
  if (code === 0 && different.length === 0 && left.length === 0) return say(`${what}: the same site`);
  failures.push(
    `${what}: exit ${code}; ${different.length} files differ (${different[0]}); left: ${left.join(', ') || 'nothing'}\n${stderr}`,
  );
  say(`${what}: NOT the same`);
}

async function killed(
  archive: string,
  page: string,
  usual: number,
  undisturbed: Record<string, string>,
): Promise<void> {
  for (let number = 1; number <= KILLS; number++) {
    const place = await newPlace(`killed ${number}`, page);
    // Every third place has a site and a cache already, so that the steps at the end are met too.
    if (number % 3 === 0) await build(archive, place);
    const after = random.between(0.05, 1.1) * usual * (number % 3 === 0 ? 0.6 : 1);
    const { code } = await build(archive, place, after);
    await compare(`kill ${number}, after ${after.toFixed(0)} ms (exit ${code})`, archive, place, undisturbed);
    await rm(place.folder, { recursive: true });
  }
}

async function fullDisks(
  archive: string,
  page: string,
  bytes: number,
  undisturbed: Record<string, string>,
): Promise<void> {
  const disk = join(home, 'disk');
  await mkdir(disk);
  for (let number = 1; number <= FULL_DISKS; number++) {
    const share = number / (FULL_DISKS + 1);
    const size = Math.round(bytes * share) + (await sizeOf(page));
    const mount = (options: string): boolean =>
      spawnSync('mount', ['-t', 'tmpfs', '-o', options, 'takeshelf-full', disk]).status === 0;
    if (mount(`size=${size}`)) {
      try {
        const place = await newPlace('place', page, disk);
        const { code } = await build(archive, place);
        mount(`remount,size=${bytes * 10}`);
        await compare(`disk of ${(size / 1e6).toFixed(2)} MB (exit ${code})`, archive, place, undisturbed);
      } finally {
        spawnSync('umount', [disk]);
      }
    } else {
      const place = await newPlace(`limited ${number}`, page);
      // Between the smallest file a build writes and the largest.
      const limit = Math.round(2 ** random.between(9, 20));
      const limited = ['--fsize', `${limit}`, process.execPath, 'scripts/takeshelf.ts', 'build', archive];
      const { status } = spawnSync('prlimit', [...limited, '--out', place.out, '--cache', place.cache]);
      await compare(`files of at most ${limit} bytes (exit ${status})`, archive, place, undisturbed);
      await rm(place.folder, { recursive: true });
    }
  }
}

/** The site after the swap is held against one built in peace from the archive as the swap left it. */
async function swapped(original: string, page: string, usual: number): Promise<void> {
  for (let number = 1; number <= SWAPS; number++) {
    const archive = join(home, `swapped ${number}`, 'archive');
    await cp(original, archive, { recursive: true, preserveTimestamps: true });
    const place = await newPlace(`place ${number}`, page);
    const running = build(archive, place);
    for (let swap = 0; swap < 6; swap++) {
      await new Promise((resolve) => setTimeout(resolve, (usual / 8) * random.between(0.5, 1.5)));
      const name = `plate_${String(random.whole(0, SOUNDS - 1)).padStart(2, '0')}.wav`;
      const path = join(archive, 'Boathouse', name);
      const other = join(home, 'other.wav');
      await writeFile(other, wav(tone(100 + number * 10 + swap, random.chance(0.5) ? 0.8 : 1.6)));
      if (random.chance(0.5)) await rename(other, path);
      else await cp(other, path);
    }
    const { code } = await running;
    const peace = await newPlace(`peace ${number}`, page);
    await build(archive, peace);
    await compare(`swap ${number} (exit ${code})`, archive, place, await treeDigest(peace.out));
  }
}

async function sizeOf(folder: string): Promise<number> {
  let bytes = 0;
  for (const name of await readdir(folder, { recursive: true })) bytes += (await stat(join(folder, name))).blocks * 512;
  return bytes;
}
