/** One build at a time over one cache: two would do the same work twice and replace each other's site. */

import { mkdirSync, rmSync } from 'node:fs';
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
      await file.writeFile(String(process.pid));
      await file.close();
      return () => rmSync(path, { force: true });
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
      const owner = Number(await readFile(path, 'utf8').catch(() => ''));
      if (owner > 0 && owner !== process.pid && isRunning(owner)) {
        throw new WrongUsage(`Another build is running (process ${owner}). Wait for it, or stop it, then build again.`);
      }
      await rm(path, { force: true });
    }
  }
  throw new WrongUsage(`${path} cannot be taken. Delete it, then build again.`);
}

function isRunning(process_: number): boolean {
  try {
    process.kill(process_, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}
