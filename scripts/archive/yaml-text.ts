/**
 * YAML as the catalogue is written in, read in time that grows with its length. (The package's own look for keys that stand
 * twice compares each with all before it: a minute for 100,000 decisions in one file.)
 */
import { type Document, isScalar, LineCounter, type ParsedNode, parseDocument, visit } from 'yaml';
import { messageOf } from '../messages.ts';

export interface YamlText {
  value: unknown;
  /** The line of the innermost node on the way that is there; 1 where none is. */
  lineOf(way: readonly PropertyKey[]): number;
}

/** What is wrong with a text that is no YAML, or says something twice. */
export class UnreadableYaml extends Error {
  readonly line: number;
  constructor(message: string, line: number) {
    super(message);
    this.name = 'UnreadableYaml';
    this.line = line;
  }
}

/** Throws UnreadableYaml. */
export function readYamlText(text: string): YamlText {
  try {
    return read(text);
  } catch (error) {
    // Nested too deeply, or names for names for names: the package says so in errors of its own.
    throw error instanceof UnreadableYaml ? error : new UnreadableYaml(messageOf(error), 1);
  }
}

function read(text: string): YamlText {
  const lines = new LineCounter();
  const document = parseDocument(text, { lineCounter: lines, uniqueKeys: false, logLevel: 'error' });
  const lineAt = (offset: number): number => lines.linePos(offset).line;
  const [error] = document.errors;
  if (error) throw new UnreadableYaml(error.message.split('\n')[0], lineAt(error.pos[0]));
  const members = membersOf(document, lineAt);
  return {
    value: document.toJS(),
    lineOf(way) {
      let node: unknown = document.contents;
      let line = 1;
      for (const step of way) {
        const place = members.get(node)?.get(String(step));
        if (place === undefined) break;
        line = lineAt(place.valueOffset);
        node = place.node;
      }
      return line;
    },
  };
}

interface Member {
  node: unknown;
  /** Of its key; in a list, its own. */
  offset: number;
  valueOffset: number;
}

/** What each map and list holds, by key or number. */
function membersOf(
  document: Document.Parsed<ParsedNode>,
  lineAt: (offset: number) => number,
): Map<unknown, Map<string, Member>> {
  const members = new Map<unknown, Map<string, Member>>();
  visit(document, {
    Map(_, map) {
      const held = new Map<string, Member>();
      for (const { key, value } of map.items) {
        const name = String(isScalar(key) ? key.value : key);
        const offset = startOf(key);
        const twin = held.get(name);
        if (twin) {
          throw new UnreadableYaml(
            `"${name}" stands twice, in lines ${lineAt(twin.offset)} and ${lineAt(offset)}`,
            lineAt(offset),
          );
        }
        held.set(name, { node: value, offset, valueOffset: startOf(value, offset) });
      }
      members.set(map, held);
    },
    Seq(_, list) {
      const offsets = list.items.map((node) => startOf(node));
      members.set(
        list,
        new Map(list.items.map((node, at) => [String(at), { node, offset: offsets[at], valueOffset: offsets[at] }])),
      );
    },
  });
  return members;
}

function startOf(node: unknown, otherwise = 0): number {
  const isPlaced = typeof node === 'object' && node !== null && 'range' in node && Array.isArray(node.range);
  return isPlaced ? Number((node.range as unknown[])[0]) : otherwise;
}
