/** Reads the takes that a person set. By itself, so that what only measures need not load a reader of YAML. */
import { readFile } from 'node:fs/promises';
import { LineCounter, parseDocument } from 'yaml';
import { z } from 'zod';
import { WrongUsage } from '../messages.ts';
import { yamlFilesIn } from './catalogue-files.ts';
import type { Correction } from './split-corrections.ts';

const takeSchema = z
  .object({ start: z.number(), end: z.number().optional(), name: z.string().min(1).optional() })
  .strict();
const schema = z
  .object({ files: z.record(z.string(), z.object({ takes: z.array(takeSchema).min(1) }).strict()).nullable() })
  .strict();

/** A wrong word in a file is a WrongUsage that names file and line; times that make no sense are `correctionProblem`s. */
export async function readCorrections(folder: string): Promise<Map<string, Correction>> {
  const corrections = new Map<string, Correction>();
  for (const path of await yamlFilesIn(folder)) {
    for (const [audio, correction] of readOne(await readFile(path, 'utf8'), path)) {
      const other = corrections.get(audio);
      if (other) throw new WrongUsage(`${correction.places[0]}: "${audio}" has takes already (${other.places[0]}).`);
      corrections.set(audio, correction);
    }
  }
  return corrections;
}

function readOne(text: string, path: string): Map<string, Correction> {
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, logLevel: 'error' });
  const at = (offset: number): string => `${path}, line ${lines.linePos(offset).line}`;
  const [error] = document.errors;
  if (error) throw new WrongUsage(`${at(error.pos[0])}: this is not readable YAML (${error.message.split('\n')[0]}).`);
  /** The line of the innermost node on the way that is there. */
  const placeOf = (way: readonly PropertyKey[]): string => {
    for (let length = way.length; length > 0; length--) {
      const node: unknown = document.getIn(way.slice(0, length), true);
      if (isPlaced(node)) return at(node.range[0]);
    }
    return at(0);
  };
  const result = schema.safeParse(document.toJS() ?? { files: null });
  if (!result.success) {
    const [issue] = result.error.issues;
    const where = issue.path.length > 0 ? ` at "${issue.path.join(' > ')}"` : '';
    throw new WrongUsage(`${placeOf(issue.path)}: ${issue.message}${where}. Correct it and build again.`);
  }
  const corrections = new Map<string, Correction>();
  for (const [audio, { takes }] of Object.entries(result.data.files ?? {})) {
    const placed = takes.map(({ start, end, name }, i) => ({
      take: { start, end: end ?? null, name: name ?? null },
      place: placeOf(['files', audio, 'takes', i]),
    }));
    placed.sort((a, b) => a.take.start - b.take.start);
    corrections.set(audio, { takes: placed.map(({ take }) => take), places: placed.map(({ place }) => place) });
  }
  return corrections;
}

function isPlaced(node: unknown): node is { range: [number, number, number] } {
  return typeof node === 'object' && node !== null && 'range' in node && Array.isArray(node.range);
}
