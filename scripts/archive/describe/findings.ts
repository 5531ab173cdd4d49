/** What one chunk or tag says, and how several of them become one description. */
import type { EmbeddedText } from '../audio-stream.ts';
import { tidy } from './text.ts';

/** Any part of a description; what is absent was not said. */
export type Findings = Partial<EmbeddedText>;

/** What a file without a word in it says. */
export const NOTHING: EmbeddedText = {
  title: null,
  description: null,
  originator: null,
  artist: null,
  comment: null,
  keywords: [],
  date: null,
  time: null,
  timeReferenceSamples: null,
  project: null,
  scene: null,
  take: null,
  tape: null,
  note: null,
  trackNames: [],
  rootNote: null,
  rootCents: null,
  loops: [],
  markers: [],
  claimedIntegratedLufs: null,
  claimedTruePeakDbtp: null,
  leftOut: [],
};

/** No recordist sets more; beyond it a list is cut, and the report says by how much. */
export const MOST_LIST_ENTRIES = 10_000;

/** One description from several findings: the first that says something wins; lists are joined without repetition. */
export function merged(all: Findings[]): EmbeddedText {
  const result: EmbeddedText = { ...NOTHING };
  for (const key of TEXT_KEYS) result[key] = firstSaid(all, (part) => tidy(part[key] ?? '') || null);
  for (const key of NUMBER_KEYS) {
    result[key] = firstSaid(all, (part) => (Number.isFinite(part[key]) ? (part[key] ?? null) : null));
  }
  // Fine tuning belongs to the note it was given with.
  const withNote = all.find((part) => typeof part.rootNote === 'number');
  result.rootCents = withNote?.rootCents ?? null;
  const leftOut = all.flatMap((part) => part.leftOut ?? []);
  const kept = <Entry>(what: string, list: Entry[]): Entry[] => {
    const over = list.length - MOST_LIST_ENTRIES;
    if (over > 0) leftOut.push(cutSentence(what, list.length, over));
    return list.slice(0, MOST_LIST_ENTRIES);
  };
  result.keywords = kept('keywords', unique(all.flatMap((part) => part.keywords ?? []).map(tidy)));
  result.trackNames = kept('track names', firstList(all.map((part) => part.trackNames ?? []))).map(tidy);
  result.loops = kept('loops', firstList(all.map((part) => part.loops ?? [])));
  const inTime = firstList(all.map((part) => part.markers ?? [])).sort((a, b) => a.startFrame - b.startFrame);
  result.markers = kept('markers', inTime).map((marker) => ({
    ...marker,
    label: tidy(marker.label ?? '') || null,
    note: tidy(marker.note ?? '') || null,
  }));
  result.leftOut = leftOut;
  return result;
}

const TEXT_KEYS = [
  'title',
  'description',
  'originator',
  'artist',
  'comment',
  'date',
  'time',
  'project',
  'scene',
  'take',
  'tape',
  'note',
] as const;

const NUMBER_KEYS = ['timeReferenceSamples', 'rootNote', 'claimedIntegratedLufs', 'claimedTruePeakDbtp'] as const;

function firstSaid<Value>(all: Findings[], read: (part: Findings) => Value | null): Value | null {
  for (const part of all) {
    const value = read(part);
    if (value !== null) return value;
  }
  return null;
}

function firstList<Entry>(lists: Entry[][]): Entry[] {
  return [...(lists.find((list) => list.length > 0) ?? [])];
}

const inWords = (number: number): string => number.toLocaleString('en');

function cutSentence(what: string, found: number, over: number): string {
  return `The file holds ${inWords(found)} ${what}: the first ${inWords(found - over)} are used, ${inWords(over)} are left out.`;
}

function unique(words: string[]): string[] {
  const seen = new Set<string>();
  return words.filter((word) => {
    const key = word.toLowerCase();
    if (word === '' || seen.has(key)) return false;
    seen.add(key);
    return true;
  });
}
