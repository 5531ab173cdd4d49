/** Runs the command line as a person would, in a process of its own. */
import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { cp, mkdir, mkdtemp, readdir, readFile, stat } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join, relative } from 'node:path';

export const project = new URL('../..', import.meta.url).pathname.replace(/\/$/, '');

export interface Ran {
  code: number | null;
  stdout: string;
  stderr: string;
}

export interface RunOptions {
  cwd?: string;
  /** Kills the process without warning after so many milliseconds. */
  killAfter?: number;
  user?: number;
}

export function takeshelf(words: readonly string[], { cwd = project, killAfter, user }: RunOptions = {}): Promise<Ran> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [join(project, 'scripts/takeshelf.ts'), ...words], {
      cwd,
      env: { ...process.env, INIT_CWD: cwd },
      stdio: ['ignore', 'pipe', 'pipe'],
      ...(user === undefined ? {} : { uid: user, gid: user }),
    });
    let stdout = '';
    let stderr = '';
    child.stdout.on('data', (data: Buffer) => {
      stdout += data.toString();
    });
    child.stderr.on('data', (data: Buffer) => {
      stderr += data.toString();
    });
    const timer = killAfter === undefined ? undefined : setTimeout(() => child.kill('SIGKILL'), killAfter);
    child.on('error', reject);
    child.on('close', (code) => {
      clearTimeout(timer);
      resolve({ code, stdout, stderr });
    });
  });
}

export const temporaryFolder = (): Promise<string> => mkdtemp(join(tmpdir(), 'takeshelf-'));

/** Where the page, once bundled, is kept for the tests of one run. */
const readyPages = new Map<string, Promise<string>>();

/** A cache that holds the page already, so that a test of the build does not wait for the page to be bundled again. */
export async function cacheWithPage(folder: string): Promise<string> {
  const ready = readyPages.get(project) ?? bundlePage();
  readyPages.set(project, ready);
  await mkdir(folder, { recursive: true });
  await cp(join(await ready, 'page'), join(folder, 'page'), { recursive: true });
  return folder;
}

async function bundlePage(): Promise<string> {
  const cache = join(project, '.cache');
  const { pageFiles } = await import('../../scripts/publish/page-shell.ts');
  await pageFiles(cache);
  return cache;
}

/** Every file below a folder with the digest of its content. */
export async function treeDigest(folder: string): Promise<Record<string, string>> {
  const names = (await readdir(folder, { recursive: true })).sort();
  const tree: Record<string, string> = {};
  for (const name of names) {
    const path = join(folder, name);
    if (!(await stat(path)).isFile()) continue;
    tree[relative(folder, path)] = createHash('sha256')
      .update(await readFile(path))
      .digest('hex');
  }
  return tree;
}
