/**
 * The iXML chunk of field recorders (root element BWFXML). The specification warns that nothing in it may be relied on,
 * so this reads elements and text and forgives the rest. No document type is read and no entity defined: only the five
 * that XML itself has and numbered characters.
 */
import type { Findings } from './findings.ts';
import { dateFrom, rawText, timeFrom, utf16 } from './text.ts';

interface Element {
  name: string;
  text: string;
  children: Element[];
}

const DEEPEST = 32;
const MOST_ELEMENTS = 50_000;

export function readIxml(bytes: Uint8Array): Findings {
  const root = parse(xmlText(bytes));
  const top = child(root, 'BWFXML') ?? root;
  const text = (name: string, from: Element | undefined = top): string => child(from, name)?.text.trim() ?? '';
  const bext = child(top, 'BEXT');
  const speed = child(top, 'SPEED');
  const high = Number.parseInt(text('TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_HI', speed) || '0', 10);
  const low = Number.parseInt(text('TIMESTAMP_SAMPLES_SINCE_MIDNIGHT_LO', speed), 10);
  const timeReference = high * 4_294_967_296 + low;
  return {
    project: text('PROJECT'),
    scene: text('SCENE'),
    take: text('TAKE'),
    tape: text('TAPE'),
    note: text('NOTE'),
    trackNames: trackNames(child(top, 'TRACK_LIST')),
    description: text('BWF_DESCRIPTION', bext),
    originator: text('BWF_ORIGINATOR', bext),
    date: dateFrom(text('BWF_ORIGINATION_DATE', bext)),
    time: timeFrom(text('BWF_ORIGINATION_TIME', bext)),
    timeReferenceSamples: Number.isSafeInteger(timeReference) && timeReference >= 0 ? timeReference : null,
  };
}

/** Names in the order of the channels in the file, where the tracks say which they are. */
function trackNames(list: Element | undefined): string[] {
  const tracks = (list?.children ?? []).filter((element) => element.name === 'TRACK');
  const named = tracks.map((track, order) => {
    const index = Number.parseInt(child(track, 'INTERLEAVE_INDEX')?.text ?? '', 10);
    return { name: child(track, 'NAME')?.text.trim() ?? '', at: Number.isNaN(index) ? order + 1 : index };
  });
  const inOrder = named.sort((a, b) => a.at - b.at).map(({ name }) => name);
  return inOrder.some((name) => name !== '') ? inOrder : [];
}

function child(element: Element | undefined, name: string): Element | undefined {
  return element?.children.find((candidate) => candidate.name === name);
}

/** One pass from left to right; what is not closed ends the reading. */
function parse(xml: string): Element {
  const root: Element = { name: '', text: '', children: [] };
  const open: Element[] = [root];
  let count = 0;
  for (let at = 0; count < MOST_ELEMENTS; ) {
    const current = open.at(-1) ?? root;
    const start = xml.indexOf('<', at);
    current.text += withoutEntities(xml.slice(at, start < 0 ? undefined : start));
    if (start < 0) break;
    const section = ['<!--', '<![CDATA['].find((mark) => xml.startsWith(mark, start));
    const ending = section === '<!--' ? '-->' : section === '<![CDATA[' ? ']]>' : '>';
    const end = xml.indexOf(ending, start);
    if (end < 0) break;
    at = end + ending.length;
    if (section === '<![CDATA[') current.text += xml.slice(start + section.length, end);
    const tag = section ? null : /^(\/?)([A-Za-z_][\w:.-]*)/.exec(xml.slice(start + 1, end));
    if (!tag) continue;
    const name = tag[2].toUpperCase();
    if (tag[1]) {
      const opened = open.findLastIndex((element) => element.name === name);
      if (opened > 0) open.length = opened;
    } else {
      count++;
      const element: Element = { name, text: '', children: [] };
      current.children.push(element);
      if (xml[end - 1] !== '/' && open.length < DEEPEST) open.push(element);
    }
  }
  return root;
}

const ENTITIES: Record<string, string> = { lt: '<', gt: '>', amp: '&', quot: '"', apos: "'" };

function withoutEntities(text: string): string {
  return text.replace(/&(#x[0-9a-f]{1,6}|#\d{1,7}|lt|gt|amp|quot|apos);/gi, (whole, name: string) => {
    if (!name.startsWith('#')) return ENTITIES[name.toLowerCase()] ?? whole;
    const isHex = name[1] === 'x' || name[1] === 'X';
    const code = Number.parseInt(name.slice(isHex ? 2 : 1), isHex ? 16 : 10);
    return code <= 0x10ffff ? String.fromCodePoint(code) : '';
  });
}

/** UTF-16 may come without its mark: then every other byte of "<BWFXML" or "<?xml" is zero. */
function xmlText(bytes: Uint8Array): string {
  if (bytes[0] === 0x3c && bytes[1] === 0) return utf16(bytes, 'utf-16le');
  if (bytes[0] === 0 && bytes[1] === 0x3c) return utf16(bytes, 'utf-16be');
  return rawText(bytes);
}
