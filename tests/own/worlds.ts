/** Invented drives for the tests of what a build may remove: folders, links, marks real and forged, and files of somebody else. */
import { createHash } from 'node:crypto';
import { existsSync } from 'node:fs';
import { lstat, mkdir, mkdtemp, readdir, readFile, readlink, symlink, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { TRUTH_MAGIC } from '../../scripts/demo/truth.ts';
import { CACHE, CACHE_MARK, DEMO, SITE, siteMark } from '../../scripts/own/kinds.ts';
import type { Random } from '../measure/random.ts';

/** In memory where the system has such a place: hundreds of worlds are made, and each build flushes. */
export const newHome = (): Promise<string> =>
  mkdtemp(join(existsSync('/dev/shm') ? '/dev/shm' : tmpdir(), 'takeshelf-worlds-'));

const NAMES = [
  'rec',
  'rec.building',
  'rec.previous',
  'rec.building.previous',
  'Rec',
  'shelf',
  'shelf.building',
  'shelf.previous',
  'keep',
];

/** Names a recordist, a script or bad luck may give; many have the forms of our own. */
const FOREIGN = [
  'gong.wav',
  'takes/gong.wav',
  'takes/ab/gong.wav',
  'takes/ab/ab12cd34.json.wav',
  'takes/notes.json',
  'previews/gong.wav',
  'previews/0123456789ab/go/gong.0.mp3',
  'previews/go/gong.js',
  'page/gong.wav',
  'page/0123456789ab/site/gong.aiff',
  'page/0123456789ab.77-0123abcd.part/site/gong.wav',
  'layouts/score.pdf',
  'compiled/gong.wav',
  'data/gong.flac',
  'files.json.bak',
  'gong.wav.1-0123abcd.part',
  'gong.wav.part',
  '.git/config',
];

const OWN_IN_SITE = ['index.html', 'report.html', 'data/shelf.js', 'previews/0a/0abcdefghjkmnpqr.0.js'];
const OWN_IN_CACHE = [
  'files.json',
  'build.lock',
  'takes/ab/abcdef0123456789-0123456789ab.json',
  'takes/ab/abcdef0123456789-0123456789ab.json.999999999-0123abcd.part',
  'previews/0123456789ab/0a/0abcdefghjkmnpqr.0.js',
  'page/0123456789ab/site/index.html',
  'page/0123456789ab.999999999-0123abcd.part/site/index.html',
];

const cut = (text: string, random: Random): string => text.slice(0, random.whole(0, text.length - 2));
const FORGED: ((random: Random) => [name: string, text: string])[] = [
  () => [SITE.mark, ''],
  () => [SITE.mark, '{}'],
  () => [SITE.mark, '{"about":"My site. The next build replaces this folder."}'],
  (random) => [SITE.mark, cut(siteMark(['index.html']), random)],
  () => [`${SITE.mark}.bak`, siteMark(['index.html'])],
  () => [CACHE.mark, 'null'],
  (random) => [CACHE.mark, cut(CACHE_MARK, random)],
  () => [SITE.mark, CACHE_MARK],
  () => [CACHE.mark, siteMark([])],
  () => [DEMO.mark, '{"magic":"something else","files":[]}'],
  () => [DEMO.mark, `{"magic":"${TRUTH_MAGIC}"}`],
];

export interface World {
  root: string;
  /** Path -> digest of the content; nothing of these may change. */
  foreign: Map<string, string>;
}

/** Draws a world below `root`. */
export async function drawWorld(root: string, random: Random): Promise<World> {
  const foreign = new Map<string, string>();
  await mkdir(root);
  const free = (path: string): boolean =>
    ![...foreign.keys()].some((known) => path === known || path.startsWith(`${known}/`));
  const put = async (path: string, text: string, isForeign: boolean): Promise<void> => {
    if (existsSync(path) || !free(path)) return;
    await mkdir(dirname(path), { recursive: true });
    await writeFile(path, text);
    if (isForeign) foreign.set(path, digestOf(text));
  };
  const folders = NAMES.filter(() => random.chance(0.45)).map((name) =>
    random.chance(0.25) ? join(root, random.pick(NAMES), name) : join(root, name),
  );
  for (const folder of folders) {
    await mkdir(folder, { recursive: true });
    const kind = random.pick(['site', 'old site', 'cache', 'old cache', 'plain', 'plain', 'forged', 'empty']);
    if (kind === 'site') await put(join(folder, SITE.mark), siteMark(OWN_IN_SITE.slice(0, 3)), false);
    if (kind === 'old site') {
      await put(
        join(folder, SITE.mark),
        '{"about":"A site built by Takeshelf. The next build replaces this folder."}\n',
        false,
      );
    }
    if (kind === 'cache') await put(join(folder, CACHE.mark), CACHE_MARK, false);
    if (kind.endsWith('site')) for (const name of OWN_IN_SITE) await put(join(folder, name), name, false);
    if (kind.endsWith('cache')) {
      for (const name of OWN_IN_CACHE) if (random.chance(0.7)) await put(join(folder, name), name, false);
    }
    if (kind === 'forged') {
      const [name, text] = random.pick(FORGED)(random);
      await put(join(folder, name), text, true);
      await put(join(folder, 'index.html'), 'my own page', true);
    }
    const many = kind === 'plain' || kind === 'forged' ? random.whole(1, 4) : random.chance(0.2) ? 1 : 0;
    for (let i = 0; i < many; i++) await put(join(folder, random.pick(FOREIGN)), `take ${random.next()}`, true);
  }
  for (let i = random.whole(0, 2); i > 0; i--) {
    const from = random.chance(0.7)
      ? join(root, random.pick(NAMES))
      : join(root, random.pick(NAMES), random.pick(['takes', 'previews', 'page']));
    if (existsSync(from) || !existsSync(dirname(from))) continue;
    await symlink(random.chance(0.1) ? join(root, 'nowhere') : join(root, random.pick(NAMES)), from).catch(
      () => undefined,
    );
  }
  return { root, foreign };
}

/** A folder named as people and scripts do: below another, through `..`, with slashes at the end. */
export function drawPath(root: string, random: Random): string {
  const name = random.pick(NAMES);
  const path = random.chance(0.2) ? join(root, random.pick(NAMES), name) : join(root, name);
  return random.pick([
    path,
    path,
    `${path}/`,
    `${path}//`,
    `${dirname(path)}/x/../${name}`,
    `${dirname(path)}/./${name}`,
  ]);
}

/** All that is there: files with digests, links with targets, folders. */
export async function snapshot(root: string): Promise<Map<string, string>> {
  const seen = new Map<string, string>();
  for (const name of await readdir(root, { recursive: true })) {
    const path = join(root, name);
    const info = await lstat(path);
    if (info.isSymbolicLink()) seen.set(path, `link to ${await readlink(path)}`);
    else seen.set(path, info.isFile() ? digestOf(await readFile(path)) : 'folder');
  }
  return seen;
}

const digestOf = (data: string | Uint8Array): string => createHash('sha256').update(data).digest('hex');
