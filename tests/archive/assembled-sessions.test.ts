/**
 * Sessions of 25 takes with cries among them, put together so that all is known by construction. Takes are real one-shots of
 * supersonic-scsynth-samples (CC0); cries are single words of synthesised voices, shouted at any pitch. The same is done
 * with any folder of sounds, and counted, by tests/bench/assembled-sessions.ts.
 */
import { readdir } from 'node:fs/promises';
import { join } from 'node:path';
import { beforeAll, expect, test } from 'vitest';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { createRandom } from '../../scripts/demo/synth/random.ts';
import { type Speaker, speak } from '../../scripts/demo/synth/voice.ts';
import { Random } from '../measure/random.ts';
import { SAMPLES } from '../measure/recordings.ts';
import {
  type Assembly,
  assembleSession,
  regionsOf,
  type SessionScore,
  type ShortSound,
  scoreSession,
} from './assembled-session.ts';

const RATE = 44_100;
const TAKES = 25;
const CRIES = 10;
const LONGEST_SECONDS = 4;
const isBed = (name: string): boolean => /^(loop|arovane|vinyl_hiss|tbd_fxbed|ambi_)/.test(name);

let oneShots: ShortSound[];
beforeAll(async () => {
  oneShots = [];
  for (const name of (await readdir(SAMPLES)).filter((file) => file.endsWith('.flac') && !isBed(file)).sort()) {
    const stream = await openAudio(join(SAMPLES, name));
    const { sampleRateHz, frames } = stream.format;
    if (sampleRateHz === RATE && (frames ?? 0) < LONGEST_SECONDS * RATE) {
      const parts: Float32Array[] = [];
      for await (const [left] of stream.blocks()) parts.push(left);
      const samples = new Float32Array(parts.reduce((length, part) => length + part.length, 0));
      let at = 0;
      for (const part of parts) {
        samples.set(part, at);
        at += part.length;
      }
      oneShots.push({ name, samples });
    }
    await stream.close();
  }
}, 60_000);

/** Two words in one breath, played at a rate of 0.8 to 1.3. */
function cry(random: Random, seed: string): ShortSound {
  const rate = RATE / random.logBetween(0.8, 1.3);
  const speaker: Speaker = random.chance(0.5) ? 'man' : 'woman';
  return { name: seed, samples: speak(speaker, [random.whole(1, 2)], Math.round(rate), createRandom(seed)) };
}

function voicesOf(speaker: Speaker, seed: string): ShortSound[] {
  return Array.from({ length: TAKES }, (_, i) => {
    const words = createRandom(`${seed} ${i}`);
    return { name: `slate ${i}`, samples: speak(speaker, words.pick([[2, 2], [3], [1, 2], [2, 3]]), RATE, words) };
  });
}

async function scoreOf(session: number, cries: number, voices: Assembly['voices']): Promise<SessionScore> {
  const random = new Random(70 + session);
  const others = [...oneShots].sort(() => random.next() - 0.5).slice(0, TAKES - cries);
  const assembled = assembleSession(random, {
    rate: RATE,
    takes: TAKES,
    sounds: [...others, ...Array.from({ length: cries }, (_, i) => cry(random, `cry ${session} ${i}`))],
    voices,
    room: null,
    roomDbfs: random.between(-70, -50),
    takePeakDbfs: [-14, -1],
    pauseSeconds: [1.2, 3],
    slatePauseSeconds: [0.5, 1.8],
  });
  return scoreSession(assembled, await regionsOf(assembled));
}

const total = (scores: readonly SessionScore[], of: (score: SessionScore) => number): number =>
  scores.reduce((sum, score) => sum + of(score), 0);

test('no cry is taken for a slate, and 97 of 100 takes are right', async () => {
  const scores: SessionScore[] = [];
  for (let session = 0; session < 4; session++) scores.push(await scoreOf(session, CRIES, null));
  expect(scores.flatMap(({ falseSlates }) => falseSlates)).toEqual([]);
  const takes = total(scores, (score) => score.takes);
  expect(takes).toBeGreaterThan(80);
  expect(total(scores, ({ right }) => right) / takes).toBeGreaterThanOrEqual(0.97);
});

test('of slates that recur 8 of 10 are found, and nothing beside them', async () => {
  const scores: SessionScore[] = [];
  for (const [session, speaker] of (['man', 'woman'] as const).entries()) {
    scores.push(await scoreOf(10 + session, 0, voicesOf(speaker, `session ${session}`)));
  }
  expect(scores.flatMap(({ falseSlates }) => falseSlates)).toEqual([]);
  expect(
    total(scores, ({ slatesFound }) => slatesFound) / total(scores, ({ slates }) => slates),
  ).toBeGreaterThanOrEqual(0.8);
});
