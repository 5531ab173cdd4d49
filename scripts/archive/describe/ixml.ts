/**
 * The iXML chunk of field recorders (root element BWFXML). The specification warns that nothing in it may be relied on,
 * so this reads elements and text and forgives the rest. No document type is read and no entity defined: only the five
 * that XML itself has and numbered characters.
 */
import type { Findings } from './findings.ts';
import { dateFrom, decodeText, timeFrom, utf16 } from './text.ts';

interface Element {
  name: string;
  text: string;
  children: Element[];
}

const DEEPEST = 32;
const MOST_ELEMENTS = 50_000;
const TOKEN = /<!--[\s\S]*?-->|<!\[CDATA\[([\s\S]*?)\]\]>|<[?!][^>]*>|<(\/?)([A-Za-z_][\w:.-]*)[^>]*?(\/?)>|([^<]+)|</g;

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

function parse(xml: string): Element {
  const root: Element = { name: '', text: '', children: [] };
  const open: Element[] = [root];
  let count = 0;
  for (const [, cdata, closing, rawName, selfClosing, plain] of xml.matchAll(TOKEN)) {
    const current = open.at(-1) ?? root;
    if (cdata !== undefined) current.text += cdata;
    else if (plain !== undefined) current.text += withoutEntities(plain);
    if (rawName === undefined) continue;
    const name = rawName.toUpperCase();
    if (closing) {
      const at = open.findLastIndex((element) => element.name === name);
      if (at > 0) open.length = at;
    } else {
      if (++count > MOST_ELEMENTS) break;
      const element: Element = { name, text: '', children: [] };
      current.children.push(element);
      if (!selfClosing && open.length < DEEPEST) open.push(element);
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
  return decodeText(bytes);
}
