/**
 * Names of places on the map: the words that set a region's sounds apart from the rest of the archive.
 *
 * Regions are found by k-means on the positions (Lloyd's algorithm, started at far-apart points). A word scores by how
 * much more often it stands in the region than elsewhere, weighed by how much of the region it covers; tags count
 * twice, because a person chose them. Words of the session's name, numbering and small words say nothing about a sound.
 */

import { tokenise } from '../../shared/query/tokens.ts';
import type { MapPlace } from '../../shared/shelf.ts';
import type { Position } from './layout.ts';

export interface NamedSound {
  position: Position;
  tags: readonly string[];
  name: string;
  session: string;
}

/** About this many sounds stand behind one name, within the bounds below. */
const SOUNDS_PER_PLACE = 16;
const MOST_PLACES = 24;
/** A word must hold for this share of a region's sounds to name it. */
const LEAST_COVER = 0.25;
const TAG_WEIGHT = 2;
const WORDS_IN_NAME = 2;

export function namePlaces(sounds: readonly NamedSound[]): MapPlace[] {
  const wanted = Math.min(MOST_PLACES, Math.round(sounds.length / SOUNDS_PER_PLACE));
  if (wanted < 2) return [];
  const regions = kMeans(
    sounds.map((sound) => sound.position),
    wanted,
  );
  const terms = sounds.map(termsOf);
  const everywhere = new Map<string, number>();
  for (const own of terms) for (const term of own.keys()) everywhere.set(term, (everywhere.get(term) ?? 0) + 1);
  const used = new Set<string>();
  const places: MapPlace[] = [];
  for (const members of regions.sort((a, b) => b.length - a.length)) {
    const label = labelOf(members, terms, everywhere, sounds.length);
    if (label === null || used.has(label)) continue;
    used.add(label);
    const mean = (axis: 'x' | 'y'): number =>
      members.reduce((sum, index) => sum + sounds[index].position[axis], 0) / members.length;
    places.push({ label, x: mean('x'), y: mean('y'), sounds: members.length });
  }
  return places;
}

const EMPTY_WORDS = new Set(
  'the and with without into onto from for one two three four five six take takes bar bars beat beats rec audio track copy new recording loop'.split(
    ' ',
  ),
);

function termsOf({ tags, name, session }: NamedSound): Map<string, number> {
  const terms = new Map<string, number>();
  const ofSession = new Set(tokenise(session));
  for (const word of tokenise(name)) {
    if (word.length > 2 && !/\d/.test(word) && !EMPTY_WORDS.has(word) && !ofSession.has(word)) terms.set(word, 1);
  }
  for (const tag of tags) terms.set(tag.toLowerCase(), TAG_WEIGHT);
  return terms;
}

function labelOf(
  members: readonly number[],
  terms: readonly Map<string, number>[],
  everywhere: ReadonlyMap<string, number>,
  total: number,
): string | null {
  const here = new Map<string, { count: number; weight: number }>();
  for (const index of members) {
    for (const [term, weight] of terms[index]) {
      const entry = here.get(term) ?? { count: 0, weight };
      entry.count++;
      entry.weight = Math.max(entry.weight, weight);
      here.set(term, entry);
    }
  }
  const scored = [...here]
    .map(([term, { count, weight }]) => {
      const cover = count / members.length;
      const elsewhere = ((everywhere.get(term) ?? 0) - count + 0.5) / (total - members.length + 1);
      return { term, cover, score: weight * cover * Math.log(cover / elsewhere) };
    })
    .filter(({ cover, score }) => cover >= LEAST_COVER && score > 0)
    .sort((a, b) => b.score - a.score || (a.term < b.term ? -1 : 1));
  if (scored.length === 0) return null;
  return scored
    .slice(0, WORDS_IN_NAME)
    .map(({ term }) => term)
    .join(', ');
}

/** Members of each region, by index; regions without members are left out. */
function kMeans(points: readonly Position[], wanted: number): number[][] {
  const squared = (a: Position, b: Position): number => (a.x - b.x) ** 2 + (a.y - b.y) ** 2;
  const centres: Position[] = [points[0]];
  const reach = points.map((point) => squared(point, centres[0]));
  while (centres.length < wanted) {
    const furthest = reach.reduce((best, value, index) => (value > reach[best] ? index : best), 0);
    centres.push(points[furthest]);
    for (let i = 0; i < points.length; i++) reach[i] = Math.min(reach[i], squared(points[i], points[furthest]));
  }
  let regions: number[][] = [];
  for (let round = 0; round < 40; round++) {
    regions = centres.map(() => []);
    for (let i = 0; i < points.length; i++) {
      let best = 0;
      for (let c = 1; c < centres.length; c++) {
        if (squared(points[i], centres[c]) < squared(points[i], centres[best])) best = c;
      }
      regions[best].push(i);
    }
    for (let c = 0; c < centres.length; c++) {
      const size = regions[c].length;
      if (size === 0) continue;
      centres[c] = {
        x: regions[c].reduce((sum, i) => sum + points[i].x, 0) / size,
        y: regions[c].reduce((sum, i) => sum + points[i].y, 0) / size,
      };
    }
  }
  return regions.filter((members) => members.length > 0);
}
