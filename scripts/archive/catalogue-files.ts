/** The files of a catalogue's folder of many: hidden ones are not of a person's making (a Mac leaves `._a.yaml` beside `a.yaml`). */
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { isSystemError } from '../messages.ts';

/** Paths of the YAML files in a folder, by name; none where there is no such folder. */
export async function yamlFilesIn(folder: string): Promise<string[]> {
  const names = await readdir(folder).catch((error: unknown) => {
    if (isSystemError(error) && error.code === 'ENOENT') return [];
    throw error;
  });
  return names
    .filter((name) => !name.startsWith('.') && /\.ya?ml$/.test(name))
    .sort()
    .map((name) => join(folder, name));
}
