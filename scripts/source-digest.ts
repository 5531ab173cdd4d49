/** Digest of the program's own source: results kept under it are never those of an older program. */
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { projectFolder } from './paths.ts';

/** Twelve hexadecimal characters over every file below the given paths (relative to the project), in name order. */
export function sourceDigest(paths: readonly string[]): string {
  const hash = createHash('sha256');
  for (const path of paths) add(path);
  return hash.digest('hex').slice(0, 12);

  function add(path: string): void {
    const full = join(projectFolder, path);
    if (statSync(full).isDirectory()) {
      for (const name of readdirSync(full).sort()) add(`${path}/${name}`);
    } else {
      hash.update(`${path}\n`).update(readFileSync(full));
    }
  }
}
