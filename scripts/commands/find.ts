import { Command, InvalidArgumentError } from 'commander';
import { describeChip, formatSeconds } from '../../shared/query/describe.ts';
import { heardSecondsOf } from '../../shared/query/heard.ts';
import { parseQuery } from '../../shared/query/parse.ts';
import { rankSounds } from '../../shared/query/rank.ts';
import { MOST_SEMITONES, MOST_SHIFTS, parseShifts } from '../../shared/query/varispeed.ts';
import { importWordIndex } from '../../shared/query/word-file.ts';
import { Shelf } from '../../shared/shelf.ts';
import type { Semitones } from '../../shared/sound.ts';
import { count, shown } from '../messages.ts';
import { siteOption } from '../paths.ts';
import { valueOfScript } from '../publish/data-scripts.ts';
import { readSiteData } from '../publish/site.ts';
import { roundedJson } from '../rounded-json.ts';
import { answer, answerJson, plain, tell } from '../terminal.ts';
import { positiveWhole } from './build.ts';

const USUAL_LIMIT = 20;

export function findCommand(): Command {
  return new Command('find')
    .description('finds sounds in the last build, with the words and numbers the page understands')
    .argument('<words...>', 'such as: metal swipe 2 bars at 84 accent at end')
    .option('--limit <number>', 'most sounds shown', positiveWhole, USUAL_LIMIT)
    .option('--also-at <semitones>', 'also as it would sound at these speeds, such as -24,-12,12', shifts, [])
    .option('--site <folder>', 'a built site', 'site in the project')
    .option('--json', 'one JSON object a sound and line')
    .action(run);
}

async function run(
  words: string[],
  { limit, json, alsoAt }: { limit: number; json?: boolean; alsoAt: Semitones[] },
  command: Command,
): Promise<void> {
  const site = siteOption(command);
  const shelf = new Shelf(bytesOf(await readSiteData(site, 'shelf.js'), 'shelf'));
  const index = importWordIndex(bytesOf(await readSiteData(site, 'words.js'), 'words'));
  const query = parseQuery(words.join(' '));
  const ranking = rankSounds(shelf, index, query, { alsoAtSemitones: alsoAt });
  const { order, found, reasons, weak } = ranking;
  const heard = heardSecondsOf(shelf);
  const rows = [...order.subarray(0, limit)].map((at) => ({
    id: shelf.text('id', at),
    name: shelf.text('name', at),
    session: shelf.text('session', at),
    heardSeconds: heard(at),
    durationSeconds: shelf.value('durationSeconds', at),
    gesture: shelf.gestureOf(at),
    climaxSeconds: shelf.value('climaxSeconds', at),
    places: shelf.places(at),
    semitones: ranking.semitonesOf(at),
    why: reasons(at).map(({ text }) => text),
  }));
  if (json) {
    for (const row of rows) answerJson(roundedJson(row));
    return;
  }
  const understood = query.chips.map((chip) => {
    const { label, detail } = describeChip(chip, chip.negated);
    return detail ? `${label} (${detail})` : label;
  });
  tell(`Understood: ${understood.join(' · ') || 'nothing; all sounds'}`);
  if (query.leftOffAt !== null) {
    const rest = query.text.slice(query.leftOffAt, query.leftOffAt + 20);
    tell(`Only the first ${query.chips.length} pieces were asked; left out from "${shown(rest)}" on.`);
  }
  tell(`${count(found, 'sound')} of ${shelf.count} found${weak && found > 0 ? '; none fits fully' : ''}.`);
  for (const { name, session, heardSeconds, gesture, places, why } of rows) {
    const place = places.find(({ away }) => !away) ?? places[0];
    const at = `${place.startSeconds > 0 ? ` at ${place.startSeconds.toFixed(2)} s` : ''}${place.away ? ' (away)' : ''}`;
    answer(
      `${shown(name)}  ${formatSeconds(heardSeconds)}${gesture ? `, ${gesture}` : ''}  (${shown(session)})\n` +
        `    ${plain(why.join(' · '))}\n    ${shown(`${place.folder}/${place.file}`)}${at}\n`,
    );
  }
}

function shifts(text: string): Semitones[] {
  const parsed = parseShifts(text);
  if (parsed && parsed.length > 0) return parsed;
  throw new InvalidArgumentError(
    `Semitones were expected, up to ${MOST_SHIFTS} of them within ${MOST_SEMITONES} either way, such as -24,-12,12.`,
  );
}

function bytesOf(script: string, name: string): Uint8Array {
  return Buffer.from(valueOfScript(script, name) as string, 'base64');
}
