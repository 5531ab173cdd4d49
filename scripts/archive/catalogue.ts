/**
 * What people decided, read from the catalogue's text files. Never written here.
 *
 *   archive.yaml       folders: [{ name, path, split }]       where the recordings are, and how they are cut into takes
 *   vocabulary.yaml    alike, kinds, tags                     words that mean the same in this house; its tags
 *   sessions/*.yaml    sounds: { ID: { name, session, tags, rights, owner, notes } }
 *   splits/*.yaml      files: { ID: { takes: [{ start, end, name }] } }       takes that a person set
 */
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { homedir } from 'node:os';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { z } from 'zod';
import { NO_VOCABULARY, readVocabulary, type Vocabulary } from '../../shared/query/vocabulary.ts';
import { messageOf, WrongUsage } from '../messages.ts';
import { yamlFilesIn } from './catalogue-files.ts';
import { readCorrections } from './read-corrections.ts';
import type { ArchiveFolder } from './scan.ts';
import type { Corrections } from './split-corrections.ts';
import { type FolderSplit, folderSplitSchema } from './split-schema.ts';
import { type SplitSettings, splitSettingsFor } from './split-settings.ts';
import { readYamlText } from './yaml-text.ts';

const decisionSchema = z
  .object({
    name: z.string().optional(),
    session: z.string().optional(),
    tags: z.array(z.string()).optional(),
    rights: z.string().optional(),
    owner: z.string().optional(),
    notes: z.string().optional(),
  })
  .strict();
const sessionSchema = z.object({ sounds: z.record(z.string(), decisionSchema).nullable().default({}) }).strict();
const folderSchema = z
  .object({ name: z.string().min(1), path: z.string().min(1), split: folderSplitSchema.optional() })
  .strict();
const archiveSchema = z
  .object({
    folders: z
      .array(folderSchema)
      .refine((folders) => new Set(folders.map(({ name }) => name)).size === folders.length, 'two have the same name')
      .nullable(),
  })
  .strict();

const vocabularySchema = z.unknown().transform((data, context): Vocabulary => {
  try {
    return readVocabulary(data);
  } catch (error) {
    context.addIssue({ code: 'custom', message: messageOf(error) });
    return z.NEVER;
  }
});

/** What a person decided about one sound. */
export type Decision = z.infer<typeof decisionSchema>;

export interface CataloguedFolder extends ArchiveFolder {
  split?: FolderSplit | undefined;
}

export interface Catalogue {
  folders: CataloguedFolder[];
  vocabulary: Vocabulary;
  decisions: Map<string, Decision>;
  corrections: Corrections;
}

/** Reads a catalogue folder; missing files are empty decisions, wrong ones a WrongUsage that names file and place. */
export async function readCatalogue(folder: string): Promise<Catalogue> {
  const archivePath = join(folder, 'archive.yaml');
  const archive = await readYaml(archivePath, archiveSchema);
  const vocabulary = await readYaml(join(folder, 'vocabulary.yaml'), vocabularySchema);
  const decisions = new Map<string, Decision>();
  for (const path of await yamlFilesIn(join(folder, 'sessions'))) {
    const session = await readYaml(path, sessionSchema);
    for (const [id, decision] of Object.entries(session?.sounds ?? {})) {
      decisions.set(id, { ...decisions.get(id), ...decision });
    }
  }
  return {
    folders: (archive?.folders ?? []).map((entry) => ({ ...entry, path: fromHome(entry.path, dirname(archivePath)) })),
    vocabulary: vocabulary ?? NO_VOCABULARY,
    decisions,
    corrections: await readCorrections(join(folder, 'splits')),
  };
}

/** How a file is cut by the innermost folder of the catalogue it lies in; as usual where it lies in none. */
export function splitSettingsOf(path: string, folders: readonly CataloguedFolder[]): SplitSettings {
  const around = folders.filter((folder) =>
    path.startsWith(folder.path.endsWith(sep) ? folder.path : folder.path + sep),
  );
  const innermost = around.sort((a, b) => b.path.length - a.path.length)[0];
  if (innermost === undefined) return splitSettingsFor(path, undefined);
  return splitSettingsFor(relative(innermost.path, path).split(sep).join('/'), innermost.split);
}

/** Paths in the catalogue count from the catalogue's own folder; `~` is the person's home. */
function fromHome(path: string, base: string): string {
  return path.startsWith('~/') ? join(homedir(), path.slice(2)) : resolve(base, path);
}

async function readYaml<T>(path: string, schema: z.ZodType<T, unknown>): Promise<T | null> {
  if (!existsSync(path)) return null;
  const text = await readFile(path, 'utf8');
  let value: unknown;
  try {
    ({ value } = readYamlText(text));
  } catch (error) {
    // The lines after the first quote the file.
    const what = messageOf(error).split('\n')[0].replace(/:$/, '');
    throw new WrongUsage(`${path}: this is not readable YAML (${what}). Correct it and build again.`);
  }
  const result = schema.safeParse(value ?? {});
  if (result.success) return result.data;
  const issue = result.error.issues[0];
  const where = issue.path.length > 0 ? ` at "${issue.path.join(' > ')}"` : '';
  throw new WrongUsage(`${path}: ${issue.message}${where}. Correct it and build again.`);
}
