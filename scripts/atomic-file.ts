/** Files appear whole or not at all: written beside their place, flushed, then renamed. Throws CannotWrite. */
import { randomBytes } from 'node:crypto';
import { mkdir, open, rename, rm } from 'node:fs/promises';
import { dirname } from 'node:path';
import { cannotWrite } from './messages.ts';

export async function writeWhole(path: string, data: string | Uint8Array): Promise<void> {
  await mkdir(dirname(path), { recursive: true }).catch(cannotWrite(path));
  const temporary = `${path}.${process.pid}-${randomBytes(4).toString('hex')}.part`;
  try {
    const file = await open(temporary, 'w');
    try {
      await file.writeFile(data);
    } finally {
      await file.close();
    }
    await rename(temporary, path);
  } catch (error) {
    await rm(temporary, { force: true });
    return cannotWrite(path)(error);
  }
}
