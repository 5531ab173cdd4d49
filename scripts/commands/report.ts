import { Command } from 'commander';
import { awaySentence } from '../../shared/away-words.ts';
import type { BuildReport } from '../../shared/report.ts';
import type { Place } from '../../shared/sound.ts';
import { count, shown } from '../messages.ts';
import { siteOption } from '../paths.ts';
import { valueOfScript } from '../publish/data-scripts.ts';
import { readSiteData } from '../publish/site.ts';
import { answer, answerJson, plain } from '../terminal.ts';

export function reportCommand(): Command {
  return new Command('report')
    .description('lists unreadable files, faults, duplicates, and sounds without tags or rights, as of the last build')
    .option('--site <folder>', 'a built site', 'site in the project')
    .option('--json', 'one JSON object a finding and line')
    .action(run);
}

async function run({ json }: { json?: boolean }, command: Command): Promise<void> {
  const site = siteOption(command);
  const report = valueOfScript(await readSiteData(site, 'report.js'), 'report') as BuildReport;
  if (json) {
    const lines = jsonLines(report);
    if (lines !== '') answerJson(lines);
  } else answer(asText(report));
}

function jsonLines(report: BuildReport): string {
  const { problems, warnings, faults, slates, duplicates, nearDuplicates, untagged, rightsMissing } = report;
  const lines = [
    ...(report.away ?? []).map((place) => ({ finding: 'away', ...place })),
    ...problems.map((problem) => ({ finding: 'unreadable', ...problem })),
    ...warnings.map((warning) => ({ finding: 'warning', ...warning })),
    ...faults.map((fault) => ({ finding: 'fault', ...fault })),
    ...slates.map((slate) => ({ finding: 'slate', ...slate })),
    ...duplicates.map((duplicate) => ({ finding: 'duplicate', ...duplicate })),
    ...nearDuplicates.map((group) => ({ finding: 'near-duplicate', ...group })),
    ...untagged.map((id) => ({ finding: 'untagged', id })),
    ...rightsMissing.map((id) => ({ finding: 'rights-missing', id })),
  ];
  return lines.map((line) => `${JSON.stringify(line)}\n`).join('');
}

const at = ({ folder, file, startSeconds, away }: Place): string =>
  `${shown(`${folder}/${file}`)}${startSeconds > 0 ? ` at ${startSeconds.toFixed(2)} s` : ''}${away ? ' (away)' : ''}`;

function asText(report: BuildReport): string {
  const { problems, warnings, faults, slates, duplicates, nearDuplicates, untagged, rightsMissing } = report;
  const sections: [string, string[]][] = [
    ['Away', (report.away ?? []).map((place) => shown(awaySentence(place)))],
    [
      'Files that gave no sound',
      problems.map((p) => `${shown(`${p.folder}/${p.file}`)}: ${p.found} Expected: ${p.expected} ${p.remedy}`),
    ],
    ['Odd files', warnings.map((w) => `${shown(`${w.folder}/${w.file}`)}: ${w.message}`)],
    [
      'Faults',
      faults.map(
        (f) =>
          `${f.severity}: ${shown(f.name)}${f.seconds === null ? '' : ` at ${f.seconds.toFixed(2)} s`}: ${f.message} (${at(f.place)})`,
      ),
    ],
    [
      'Taken for a spoken slate, and not measured; where it is none: "slates: none" in archive.yaml or splits/',
      slates.map(
        ({ name, place, endSeconds }) =>
          `${place.startSeconds.toFixed(2)} to ${endSeconds.toFixed(2)} s of ${shown(`${place.folder}/${place.file}`)}, before ${shown(name)}`,
      ),
    ],
    [
      'Likely one take in several versions',
      nearDuplicates.map(({ sounds }) => sounds.map(({ name, place }) => `${shown(name)} (${at(place)})`).join(' ~ ')),
    ],
    ['The same audio in several places', duplicates.map((d) => `${shown(d.name)}: ${d.places.map(at).join(' = ')}`)],
  ];
  const head = `${count(report.sounds, 'sound')} from ${count(report.filesRead, 'file')} of ${report.filesFound}.\n`;
  const body = sections
    .filter(([, lines]) => lines.length > 0)
    .map(([title, lines]) => `\n${title} (${lines.length})\n${lines.map((line) => `  ${plain(line)}\n`).join('')}`)
    .join('');
  const curating = `\n${count(untagged.length, 'sound')} without tags, ${rightsMissing.length} without rights.\n`;
  return head + body + curating;
}
