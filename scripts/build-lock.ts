/** One build at a time over one cache: two would do the same work twice and replace each other's site. */
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { writeNew } from './atomic-file.ts';
import { WrongUsage } from './messages.ts';
import { openCacheFolder } from './own/cache-folder.ts';
import { LOCK } from './own/kinds.ts';
import { removeFile } from './own/own-folders.ts';
import { runningOwner, signature } from './own/process-start.ts';

/** Returns the function that gives the lock back. A lock left by a killed build is taken over. */
export async function lockBuild(cacheFolder: string): Promise<() => Promise<void>> {
  await openCacheFolder(cacheFolder);
  const path = join(cacheFolder, LOCK);
  for (let attempt = 0; attempt < 3; attempt++) {
    try {
      await writeNew(path, signature());
      return () => removeFile(path);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error;
      const owner = await lockOwner(path);
      if (owner !== null) {
        throw new WrongUsage(`Another build is running (process ${owner}). Wait for it, or stop it, then build again.`);
      }
      await removeFile(path);
    }
  }
  throw new WrongUsage(`${path} cannot be taken. Delete it, then build again.`);
}

/** The running process that holds a lock; null when it runs no more, or there is no lock. */
export async function lockOwner(path: string): Promise<number | null> {
  return runningOwner(await readFile(path, 'utf8').catch(() => ''));
}
