/**
 * Forty briefs and some hundred machine-made ones over the demo archive of 2,000 sounds as it was really synthesised,
 * measured and built: how often the sound meant comes first or among the first five, and how many keys it takes.
 *
 * Run: npx node scripts/takeshelf.ts demo --to ARCHIVE --sounds 2000 --seed 1
 *      npx node scripts/takeshelf.ts build ARCHIVE --out SITE
 *      npx node tests/bench/briefs.ts ARCHIVE SITE
 */
import { readFile } from 'node:fs/promises';
import path from 'node:path';
import { parse } from 'yaml';
import { planArchive } from '../../scripts/demo/plan/plan-archive.ts';
import type { ArchiveTruth } from '../../scripts/demo/truth.ts';
import { valueOfScript } from '../../scripts/publish/data-scripts.ts';
import { readSiteData } from '../../scripts/publish/site.ts';
import { readVocabulary } from '../../shared/query/vocabulary.ts';
import { buildWordIndex } from '../../shared/query/words.ts';
import { Shelf } from '../../shared/shelf.ts';
import { trueSounds } from '../query/brief-truth.ts';
import { BRIEFS } from '../query/briefs.ts';
import { answer, drawn, placeOf, placesInShelf, soundsMeant } from '../query/briefs-judged.ts';
import { makeBriefs } from '../query/made-briefs.ts';

const [archive, site] = process.argv.slice(2);
const truth = JSON.parse(await readFile(path.join(archive, 'truth.json'), 'utf8')) as ArchiveTruth;
const script = await readSiteData(site, 'shelf.js');
const shelf = new Shelf(Buffer.from(valueOfScript(script, 'shelf') as string, 'base64'));
const words = new URL('../../catalogue/vocabulary.yaml', import.meta.url);
const index = buildWordIndex(shelf, readVocabulary(parse(await readFile(words, 'utf8')) as unknown));
const sounds = trueSounds(truth);
const places = placesInShelf(sounds, shelf);
const written = new Set(planArchive(undefined, truth.seed).map((file) => file.path));
const chosen = drawn(sounds, written, 'briefs/1');

const median = (values: readonly number[]) => [...values].sort((a, b) => a - b)[values.length >> 1];
const share = (part: number, whole: number) => `${part} of ${whole} (${((100 * part) / whole).toFixed(0)} %)`;

let first = 0;
let firstFive = 0;
const keystrokes: number[] = [];
for (const brief of BRIEFS) {
  try {
    const meant = soundsMeant(brief, sounds);
    if (!chosen.includes(meant[0])) throw new Error(`${brief.name} was not drawn`);
    const takes = meant.map((sound) => places.get(sound) ?? -1);
    const { place, shortest, keystrokes: keys } = answer(brief.asks, takes, shelf, index);
    first += Number(place === 1);
    firstFive += Number(place >= 1 && place <= 5);
    keystrokes.push(keys);
    console.log(`${place === 0 ? 'none' : String(place).padStart(4)}  ${brief.asks}  [${shortest}: ${keys}]`);
  } catch (error) {
    console.log(`  !!  ${error instanceof Error ? error.message : error}`);
  }
}
console.log(
  `first ${share(first, BRIEFS.length)}, first five ${share(firstFive, BRIEFS.length)}, keystrokes median ${median(keystrokes)}`,
);

const [, , ...flags] = process.argv.slice(2);
for (const seed of ['made/work', 'made/count']) {
  const made = makeBriefs(sounds, 200, seed);
  const results = made.map(({ asks, meant }) => ({
    asks,
    meant,
    place: placeOf(asks, [places.get(meant) ?? -1], shelf, index),
  }));
  const firsts = results.filter(({ place }) => place === 1).length;
  const fives = results.filter(({ place }) => place >= 1 && place <= 5).length;
  console.log(`${seed}: first ${share(firsts, made.length)}, first five ${share(fives, made.length)}`);
  for (const carried of ['name', 'subject', 'place']) {
    const some = results.filter(({ meant }) => meant.carries === carried);
    console.log(
      `  carries ${carried}: first ${share(some.filter(({ place }) => place === 1).length, some.length)}, first five ${share(some.filter(({ place }) => place >= 1 && place <= 5).length, some.length)}`,
    );
  }
  if (flags.includes('--made') && seed === 'made/work') {
    for (const { asks, meant, place } of results.filter(({ place }) => place !== 1)) {
      console.log(`${place === 0 ? 'none' : String(place).padStart(4)}  ${asks}  <${meant.file}: ${meant.name}>`);
    }
  }
}
