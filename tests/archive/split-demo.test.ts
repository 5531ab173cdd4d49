/**
 * The demo archive's sessions, synthesised with known takes: how many there are in a file and where each begins is true by
 * construction (scripts/demo/truth.ts), and nothing the splitter sees comes from there.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { describeAudio } from '../../scripts/archive/describe/describe.ts';
import { type Region, splitTakes } from '../../scripts/archive/split.ts';
import { planArchive } from '../../scripts/demo/plan/plan-archive.ts';
import { renderFiles } from '../../scripts/demo/render-pool.ts';
import type { FileTruth } from '../../scripts/demo/truth.ts';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';

const SEED = 1;
/** A take may begin this much before its first energy (pre-roll), and this much after it is heard over the floor. */
const TOLERANCE_SECONDS = 0.05;

let folder: string;
let truths: FileTruth[];
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'takeshelf-sessions-'));
  // Sessions with marked regions are cut as marked (split-markers.test.ts).
  const sessions = planArchive(undefined, SEED).filter(
    (plan) => plan.kind === 'audio' && plan.sounds.length > 1 && plan.division !== 'regions',
  );
  truths = await renderFiles(sessions, { folder, seed: SEED, workers: 2, onFile: () => {} });
}, 120_000);
afterAll(() => rm(folder, { recursive: true, force: true }));

async function cut({ path }: FileTruth): Promise<{ regions: Region[]; sampleRateHz: number }> {
  const stream = await openAudio(join(folder, path));
  try {
    const { sampleRateHz, channels } = stream.format;
    const follower = new EnvelopeFollower(sampleRateHz, channels);
    let frames = 0;
    for await (const block of stream.blocks()) {
      follower.push(block);
      frames += block[0].length;
    }
    const { markers, loops } = await describeAudio(join(folder, path));
    return { regions: splitTakes(follower.finish(), markers, frames, { loops }), sampleRateHz };
  } finally {
    await stream.close();
  }
}

it('every session gives exactly its takes, each from where it is heard', async () => {
  expect(truths.length).toBeGreaterThanOrEqual(20);
  expect(new Set(truths.map(({ division }) => division))).toEqual(new Set(['gaps', 'points']));
  for (const truth of truths) {
    const { regions, sampleRateHz } = await cut(truth);
    expect(regions.length, truth.path).toBe(truth.sounds.length);
    for (const [i, { name, startSeconds, heardFromSeconds }] of truth.sounds.entries()) {
      const late = regions[i].startFrame / sampleRateHz - startSeconds;
      expect(late, name).toBeGreaterThanOrEqual(-TOLERANCE_SECONDS);
      expect(late, name).toBeLessThanOrEqual(heardFromSeconds + TOLERANCE_SECONDS);
    }
  }
});
