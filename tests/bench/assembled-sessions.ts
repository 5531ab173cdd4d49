/**
 * Assembles sessions of 25 takes from a folder of short sounds, over a room's noise, splits them and counts what came of
 * it, with the truth known by construction.
 *
 *   npx node tests/bench/assembled-sessions.ts FOLDER [SLATES_FOLDER] [ROOMS_FOLDER] [--sessions 20]
 *
 * FOLDER: short sounds, anywhere below it. SLATES_FOLDER: a folder a voice, each with spoken slates; without it voices are
 * synthesised. ROOMS_FOLDER: sounds that are repeated as the room; without it the room is noise.
 *
 * Counted fairly: a sound is drawn only where it is heard for 50 ms or more above the room, and rests there for less
 * than 0.3 s at a time (a longer rest within a sound may part takes). A take is right where it lies in one region, alone,
 * and its start is found within 50 ms.
 */
import { readdirSync } from 'node:fs';
import { join, relative } from 'node:path';
import { parseArgs } from 'node:util';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { createRandom } from '../../scripts/demo/synth/random.ts';
import { type Speaker, speak } from '../../scripts/demo/synth/voice.ts';
import { Resampler } from '../../shared/measure/resample.ts';
import {
  type AssembledSession,
  assembleSession,
  regionsOf,
  type SessionScore,
  type ShortSound,
  scoreSession,
} from '../archive/assembled-session.ts';
import { Random } from '../measure/random.ts';

const RATE = 44_100;
const TAKES = 25;
const SHORTEST_SECONDS = 0.08;
const LONGEST_SECONDS = 8;
const AUDIO = /\.(wav|ogg|oga|flac|mp3|aiff?|opus)$/i;

const { positionals, values } = parseArgs({
  allowPositionals: true,
  options: { sessions: { type: 'string', default: '20' }, seed: { type: 'string', default: '1' } },
});
const [folder, slatesFolder, roomsFolder] = positionals;
if (folder === undefined) {
  console.error('Name a folder of short sounds: npx node tests/bench/assembled-sessions.ts FOLDER [SLATES] [ROOMS]');
  process.exit(2);
}

const sounds = await readSounds(folder, LONGEST_SECONDS);
const voices = slatesFolder === undefined ? madeVoices() : await readVoices(slatesFolder);
const rooms = roomsFolder === undefined ? [null] : await readSounds(roomsFolder, 60);
console.log(
  `${sounds.length} sounds, ${voices.length} voices, ${rooms[0] === null ? 'rooms of noise' : `${rooms.length} rooms`}.`,
);
await run('nobody speaks', () => null);
await run('a slate before every take', (session) => voices[session % voices.length]);

async function run(title: string, voiceOf: (session: number) => ShortSound[] | null): Promise<void> {
  const scores: SessionScore[] = [];
  let milliseconds = 0;
  let seconds = 0;
  for (let session = 0; session < Number(values.sessions); session++) {
    const random = new Random(Number(values.seed) * 1000 + session);
    const assembled: AssembledSession = assembleSession(random, {
      rate: RATE,
      takes: TAKES,
      sounds,
      voices: voiceOf(session),
      room: rooms[session % rooms.length],
      roomDbfs: random.between(-75, -50),
      takePeakDbfs: [-14, -1],
      pauseSeconds: [1.2, 3],
      slatePauseSeconds: [0.4, 2],
    });
    seconds += assembled.samples.length / RATE;
    const started = performance.now();
    const regions = await regionsOf(assembled);
    milliseconds += performance.now() - started;
    scores.push(scoreSession(assembled, regions));
  }
  const sum = (of: (score: SessionScore) => number): number => scores.reduce((total, score) => total + of(score), 0);
  const takes = sum((score) => score.takes);
  const slates = sum((score) => score.slates);
  console.log(`\n${title}: ${scores.length} sessions, ${takes} takes, ${Math.round(seconds)} s`);
  console.log(
    `  takes right      ${sum(({ right }) => right)} (${share(
      sum(({ right }) => right),
      takes,
    )})`,
  );
  for (const what of ['cut', 'joined', 'missed', 'late', 'falseSlates'] as const) {
    const names = scores.flatMap((score) => score[what]);
    console.log(`  ${what.padEnd(16)} ${names.length}${names.length > 0 ? `: ${names.slice(0, 30).join(', ')}` : ''}`);
  }
  if (slates > 0) {
    const found = sum(({ slatesFound }) => slatesFound);
    console.log(`  slates found     ${found} of ${slates} (${share(found, slates)})`);
    console.log(`  by session       ${scores.map(({ slatesFound }) => slatesFound).join(' ')}`);
  }
  console.log(`  level, split and slates: ${((1000 * seconds) / milliseconds).toFixed(0)} times real time`);
}

function share(part: number, whole: number): string {
  return `${((100 * part) / whole).toFixed(1)} %`;
}

async function readSounds(path: string, longestSeconds: number): Promise<ShortSound[]> {
  const files = readdirSync(path, { recursive: true, encoding: 'utf8' })
    .filter((file) => AUDIO.test(file))
    .sort();
  const all: ShortSound[] = [];
  for (const file of files) {
    try {
      const samples = await readMono(join(path, file));
      const seconds = samples.length / RATE;
      const peak = samples.reduce((most, x) => Math.max(most, Math.abs(x)), 0);
      if (seconds >= SHORTEST_SECONDS && seconds <= longestSeconds && peak > 0.003) all.push({ name: file, samples });
    } catch (error) {
      console.error(`${relative('.', join(path, file))}: left out (${error instanceof Error ? error.message : error})`);
    }
  }
  return all;
}

/** The first channel at RATE. */
async function readMono(path: string): Promise<Float32Array> {
  const stream = await openAudio(path);
  try {
    const resampler = new Resampler(1, stream.format.sampleRateHz, RATE);
    const parts: Float32Array[] = [];
    for await (const [first] of stream.blocks()) parts.push(...resampler.push([first]));
    parts.push(...resampler.finish());
    const samples = new Float32Array(parts.reduce((frames, part) => frames + part.length, 0));
    let at = 0;
    for (const part of parts) {
      samples.set(part, at);
      at += part.length;
    }
    return samples;
  } finally {
    await stream.close();
  }
}

async function readVoices(path: string): Promise<ShortSound[][]> {
  const inside = readdirSync(path, { withFileTypes: true }).filter((entry) => entry.isDirectory());
  const folders = inside.length > 0 ? inside.map(({ name }) => join(path, name)) : [path];
  return Promise.all(folders.sort().map((voice) => readSounds(voice, LONGEST_SECONDS)));
}

function madeVoices(): ShortSound[][] {
  return (['man', 'woman'] satisfies Speaker[]).map((speaker) =>
    Array.from({ length: TAKES }, (_, i): ShortSound => {
      const words = createRandom(`${speaker} ${i}`);
      return {
        name: `${speaker} ${i}`,
        samples: speak(speaker, words.pick([[2, 2], [3], [1, 2], [2, 3]]), RATE, words),
      };
    }),
  );
}
