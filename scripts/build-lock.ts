/** One build at a time over one cache: two would do the same work twice and replace each other's site. */
import { mkdirSync, readFileSync, rmSync } from 'node:fs';
import { open, readFile, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { WrongUsage } from './messages.ts';

/** Returns the function that gives the lock back. A lock left by a killed build is taken over. */
export async function lockBuild(cacheFolder: string): Promise<() => void> {
  mkdirSync(cacheFolder, { recursive: true });
  const path = join(cacheFolder, 'build.lock');
  for (let attempt = 0; attempt < 3; attempt++) {
    try {
      const file = await open(path, 'wx');
      await file.writeFile(`${process.pid} ${startOf(process.pid)}`);
      await file.close();
      return () => rmSync(path, { force: true });
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
      const [owner, started] = (await readFile(path, 'utf8').catch(() => '')).split(' ');
      if (Number(owner) > 0 && started !== 'gone' && startOf(Number(owner)) === started) {
        throw new WrongUsage(`Another build is running (process ${owner}). Wait for it, or stop it, then build again.`);
      }
      await rm(path, { force: true });
    }
  }
  throw new WrongUsage(`${path} cannot be taken. Delete it, then build again.`);
}

/**
 * When a process started, so that a number used again is not mistaken for the build that had it before; "gone" when there is
 * no such process, or only what is left of a killed one. Where the system does not tell: "running" or "gone".
 */
function startOf(id: number): string {
  try {
    process.kill(id, 0);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EPERM') return 'gone';
  }
  let status: string;
  try {
    status = readFileSync(`/proc/${id}/stat`, 'utf8');
  } catch {
    return process.platform === 'linux' ? 'gone' : 'running';
  }
  // proc(5): the command's name stands in brackets and may hold anything; state is the 3rd field, start time the 22nd.
  const fields = status.slice(status.lastIndexOf(')') + 2).split(' ');
  return 'ZX'.includes(fields[0]) ? 'gone' : fields[19];
}
