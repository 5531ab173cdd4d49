import { basename } from 'node:path';
import { Command } from 'commander';
import type { Measurements } from '../../shared/sound.ts';
import { UnreadableAudio } from '../archive/audio-stream.ts';
import { readCatalogue, splitSettingsOf } from '../archive/catalogue.ts';
import { nameWarning } from '../archive/decode/open.ts';
import { type MeasuredTake, processFile } from '../archive/process-file.ts';
import { splitEntry } from '../archive/split-corrections.ts';
import { reasonOf, shown } from '../messages.ts';
import { catalogueFolder, fromCaller } from '../paths.ts';
import { roundedJson } from '../rounded-json.ts';
import { answer, answerJson, tell } from '../terminal.ts';

export function measureCommand(): Command {
  return new Command('measure')
    .description('prints the measurements of every sound in the files')
    .argument('<files...>', 'audio files')
    .option('--json', 'one JSON object a sound and line')
    .option('--takes', 'prints how a build cuts the files instead, as a file for catalogue/splits/')
    .option('--catalogue <folder>', 'with --takes: folder with archive.yaml', 'catalogue in the project')
    .action(run);
}

interface Options {
  json?: boolean;
  takes?: boolean;
  catalogue: string;
}

async function run(files: string[], options: Options, command: Command): Promise<void> {
  const { json, takes: asSplits } = options;
  const catalogue =
    command.getOptionValueSource('catalogue') === 'default' ? catalogueFolder : fromCaller(options.catalogue);
  const folders = asSplits ? (await readCatalogue(catalogue)).folders : [];
  if (asSplits) answer('files:');
  for (const file of files) {
    try {
      const path = fromCaller(file);
      const processed = await processFile(path, { split: splitSettingsOf(path, folders) });
      const { takes, format } = processed;
      const odd = nameWarning(file, processed.kind);
      const warnings = odd === null ? processed.warnings : [odd, ...processed.warnings];
      for (const warning of warnings) tell(`${shown(file)}: ${warning}`);
      if (asSplits) {
        answerJson(splitEntry(file, processed));
        continue;
      }
      for (const take of takes) {
        const startSeconds = take.startFrame / format.sampleRateHz;
        if (json) answerJson(jsonLine(file, startSeconds, take));
        else answer(asText(file, startSeconds, take));
      }
    } catch (error) {
      process.exitCode = 1;
      const message =
        error instanceof UnreadableAudio
          ? `${error.found} Expected: ${error.expected} ${error.remedy}`
          : `${reasonOf(error)}.`;
      tell(`${shown(file)}: ${message}`);
    }
  }
}

function jsonLine(file: string, startSeconds: number, { id, measurements }: MeasuredTake): string {
  return `${roundedJson({ id, file, startSeconds, ...measurements })}\n`;
}

/** A short table a person reads: what has no meaning is left out. */
function asText(file: string, startSeconds: number, { id, label, measurements: m }: MeasuredTake): string {
  const rows: [string, string | null][] = [
    [
      'length',
      `${m.durationSeconds.toFixed(3)} s, active ${fixed(m.activeSeconds, 3, 's')} from ${fixed(m.activeStartSeconds, 3, 's')}`,
    ],
    ['slate', m.slateEndSeconds === null ? null : `spoken, until ${m.slateEndSeconds.toFixed(3)} s`],
    ['gesture', m.gesture],
    ['main accent', fixed(m.climaxSeconds, 3, 's')],
    ['accents', accents(m)],
    [
      'loudness',
      fixed(m.integratedLufs ?? m.momentaryMaxLufs, 1, m.integratedLufs === null ? 'LUFS (momentary)' : 'LUFS'),
    ],
    ['true peak', fixed(m.truePeakDbtp, 1, 'dBTP')],
    ['noise floor', fixed(m.noiseFloorDbfs, 1, 'dBFS')],
    ['brightness', fixed(m.centroidHz, 0, 'Hz centroid')],
    ['note', m.note === null ? null : `${m.note} ${signed(m.centsOff)} cents, ${fixed(m.pitchHz, 1, 'Hz')}`],
    ['root note', m.rootNote === null ? null : `${m.rootNote}, said by the file`],
    ['faults', m.faultDetails.map(({ message }) => message).join(' ') || null],
  ];
  const lines = rows.filter(([, value]) => value !== null).map(([name, value]) => `  ${name.padEnd(12)} ${value}`);
  const title = `${shown(basename(file))}${startSeconds > 0 ? ` at ${startSeconds.toFixed(3)} s` : ''}${label ? `: ${shown(label)}` : ''}`;
  return `${title}  [${id}]\n${lines.join('\n')}\n`;
}

const fixed = (value: number | null, digits: number, unit: string): string | null =>
  value === null ? null : `${value.toFixed(digits)} ${unit}`;
const signed = (value: number | null): string => (value === null ? '' : `${value >= 0 ? '+' : ''}${value.toFixed(0)}`);

function accents({ accents: all }: Measurements): string | null {
  if (all.length === 0) return null;
  const first = all
    .slice(0, 8)
    .map(({ seconds, strengthDb }) => `${seconds.toFixed(3)} s (+${strengthDb.toFixed(0)} dB)`);
  return first.join(', ') + (all.length > first.length ? `, and ${all.length - first.length} more` : '');
}
