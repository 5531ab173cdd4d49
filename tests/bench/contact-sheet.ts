/**
 * Draws what the measurements of movement say about real sounds, to be looked at: one blade a sound (its contour mirrored
 * about a line) over its level in dB, a wedge at each accent, a line at the climax, a bar under the active part,
 * gesture and figures in words.
 *
 *   npx node tests/bench/contact-sheet.ts [FOLDER or FILE...]     default: the sample package among the devDependencies
 *
 * Writes SVG pages into the ignored folder .look/.
 */
import { mkdirSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { type Envelope, EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { type Movement, measureMovement } from '../../shared/measure/movement.ts';

const CELL = { width: 300, height: 118, columns: 5, rows: 11 };

const asked = process.argv.slice(2);
const files = (asked.length > 0 ? asked : ['node_modules/supersonic-scsynth-samples/samples']).flatMap((path) =>
  statSync(path).isDirectory()
    ? readdirSync(path)
        .sort()
        .map((name) => join(path, name))
    : [path],
);

const cells: string[] = [];
for (const file of files) {
  const { envelope, durationSeconds } = await followed(file);
  const started = performance.now();
  const movement = measureMovement(envelope, durationSeconds);
  const took = performance.now() - started;
  cells.push(cell(basename(file).replace(/\.\w+$/, ''), envelope, movement, durationSeconds));
  console.log(line(basename(file), movement, durationSeconds, took));
}
mkdirSync('.look', { recursive: true });
const perPage = CELL.columns * CELL.rows;
for (let page = 0; page * perPage < cells.length; page++) {
  const path = `.look/blades-${page + 1}.svg`;
  writeFileSync(path, sheet(cells.slice(page * perPage, (page + 1) * perPage)));
  console.error(path);
}

async function followed(file: string): Promise<{ envelope: Envelope; durationSeconds: number }> {
  const stream = await openAudio(file);
  const follower = new EnvelopeFollower(stream.format.sampleRateHz, stream.format.channels);
  for await (const block of stream.blocks()) follower.push(block);
  await stream.close();
  const envelope = follower.finish();
  return { envelope, durationSeconds: envelope.audioFrames / envelope.sampleRateHz };
}

function line(name: string, m: Movement, seconds: number, milliseconds: number): string {
  const figure = (value: number | null, digits = 2): string => (value === null ? '-' : value.toFixed(digits));
  return [
    name.padEnd(26),
    (m.gesture ?? '-').padEnd(7),
    `${figure(seconds)}s`.padStart(7),
    `active ${figure(m.activeStartSeconds)}+${figure(m.activeSeconds)}`,
    `floor ${figure(m.noiseFloorDbfs, 0)}`,
    `attack ${figure(m.attackSeconds, 3)} decay ${figure(m.decaySeconds)}`,
    `centroid ${figure(m.temporalCentroid)}`,
    `climax ${figure(m.climaxSeconds, 3)}`,
    `accents ${m.accents.length}`,
    `bpm ${figure(m.pulseBpm, 1)} tremolo ${figure(m.tremoloHz, 1)}`,
    `${milliseconds.toFixed(0)}ms`,
  ].join('  ');
}

function cell(name: string, envelope: Envelope, m: Movement, seconds: number): string {
  const { width, height } = CELL;
  const left = 8;
  const span = width - 16;
  const middle = 62;
  const x = (at: number): string => (left + (at / Math.max(seconds, 1e-9)) * span).toFixed(1);
  const half = m.contour.map((value) => value * 26);
  const step = span / (half.length - 1);
  const upper = half.map((h, i) => `${(left + i * step).toFixed(1)},${(middle - h).toFixed(1)}`);
  const lower = half.map((h, i) => `${(left + i * step).toFixed(1)},${(middle + h).toFixed(1)}`).reverse();
  const loudest = envelope.levelDb.reduce((a, b) => Math.max(a, b), -120);
  const levels = Array.from({ length: span }, (_, column) => {
    const from = Math.floor((column / span) * envelope.frames);
    const to = Math.max(from + 1, Math.floor(((column + 1) / span) * envelope.frames));
    const level = envelope.levelDb.subarray(from, to).reduce((a, b) => Math.max(a, b), -120);
    return `${left + column},${(middle + 28 - 56 * Math.max(0, 1 + (level - loudest) / 72)).toFixed(1)}`;
  });
  const wedges = m.accents.map(({ seconds: at, strengthDb }) => {
    const tall = 4 + Math.min(30, strengthDb) / 4;
    return `<path d="M${x(at)} ${middle - 28} l-3 -${tall} h6 z" fill="#b3261e"/>`;
  });
  const climax =
    m.climaxSeconds === null
      ? ''
      : `<path d="M${x(m.climaxSeconds)} ${middle - 29} v58" stroke="#b3261e" fill="none"/>`;
  const active =
    m.activeStartSeconds === null || m.activeSeconds === null
      ? ''
      : `<path d="M${x(m.activeStartSeconds)} ${middle + 31} H${x(m.activeStartSeconds + m.activeSeconds)}" stroke="#222" stroke-width="3"/>`;
  const figures = `${seconds.toFixed(2)} s  att ${m.attackSeconds?.toFixed(3) ?? '-'}  dec ${m.decaySeconds?.toFixed(2) ?? '-'}  ${m.pulseBpm === null ? '' : `${m.pulseBpm.toFixed(1)} bpm`} ${m.tremoloHz === null ? '' : `${m.tremoloHz.toFixed(1)} Hz`}`;
  return `<rect width="${width - 4}" height="${height - 4}" fill="#faf6ec"/>
<text x="${left}" y="14" font-size="12">${name}</text><text x="${width - 12}" y="14" font-size="12" font-weight="bold" text-anchor="end">${m.gesture ?? 'silent'}</text>
<polygon points="${[...upper, ...lower].join(' ')}" fill="#444"/><polyline points="${levels.join(' ')}" fill="none" stroke="#3a7ca5" stroke-width="0.7"/>
${wedges.join('')}${climax}${active}<text x="${left}" y="${height - 9}" font-size="10">${figures}</text>`;
}

function sheet(drawn: readonly string[]): string {
  const { width, height, columns } = CELL;
  const placed = drawn.map(
    (content, i) =>
      `<g transform="translate(${(i % columns) * width} ${Math.floor(i / columns) * height})">${content}</g>`,
  );
  const tall = Math.ceil(drawn.length / columns) * height;
  return `<svg xmlns="http://www.w3.org/2000/svg" width="${columns * width}" height="${tall}" font-family="sans-serif"><rect width="100%" height="100%" fill="#ddd"/>${placed.join('\n')}</svg>`;
}
