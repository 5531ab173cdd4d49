/** Reads the takes that a person set. By itself, so that what only measures need not load a reader of YAML. */
import { readFile } from 'node:fs/promises';
import { z } from 'zod';
import { WrongUsage } from '../messages.ts';
import { yamlFilesIn } from './catalogue-files.ts';
import type { Correction } from './split-corrections.ts';
import { SLATE_MEANS } from './split-settings.ts';
import { readYamlText, UnreadableYaml, type YamlText } from './yaml-text.ts';

const takeSchema = z
  .object({ start: z.number(), end: z.number().optional(), name: z.string().min(1).optional() })
  .strict();
const fileSchema = z
  .object({ takes: z.array(takeSchema).min(1).optional(), slates: z.enum(SLATE_MEANS).optional() })
  .strict()
  .refine(({ takes, slates }) => takes !== undefined || slates !== undefined, 'expected "takes", "slates" or both');
const schema = z.object({ files: z.record(z.string(), fileSchema).nullable() }).strict();

/** A wrong word in a file is a WrongUsage that names file and line; times that make no sense are `correctionProblem`s. */
export async function readCorrections(folder: string): Promise<Map<string, Correction>> {
  const corrections = new Map<string, Correction>();
  for (const path of await yamlFilesIn(folder)) {
    for (const [audio, correction] of readOne(await readFile(path, 'utf8'), path)) {
      const other = corrections.get(audio);
      if (other) throw new WrongUsage(`${correction.places[0]}: "${audio}" stands there already (${other.places[0]}).`);
      corrections.set(audio, correction);
    }
  }
  return corrections;
}

function readOne(text: string, path: string): Map<string, Correction> {
  let yaml: YamlText;
  try {
    yaml = readYamlText(text);
  } catch (error) {
    if (!(error instanceof UnreadableYaml)) throw error;
    throw new WrongUsage(`${path}, line ${error.line}: this is not readable YAML (${error.message}).`);
  }
  const placeOf = (way: readonly PropertyKey[]): string => `${path}, line ${yaml.lineOf(way)}`;
  const result = schema.safeParse(yaml.value ?? { files: null });
  if (!result.success) {
    const [issue] = result.error.issues;
    const where = issue.path.length > 0 ? ` at "${issue.path.join(' > ')}"` : '';
    throw new WrongUsage(`${placeOf(issue.path)}: ${issue.message}${where}. Correct it and build again.`);
  }
  const corrections = new Map<string, Correction>();
  for (const [audio, { takes = [], slates }] of Object.entries(result.data.files ?? {})) {
    const placed = takes.map(({ start, end, name }, i) => ({
      take: { start, end: end ?? null, name: name ?? null },
      place: placeOf(['files', audio, 'takes', i]),
    }));
    placed.sort((a, b) => a.take.start - b.take.start);
    const places = placed.length > 0 ? placed.map(({ place }) => place) : [placeOf(['files', audio])];
    corrections.set(audio, { takes: placed.map(({ take }) => take), places, slates });
  }
  return corrections;
}
