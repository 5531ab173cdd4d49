/**
 * Real recordings (supersonic-scsynth-samples, CC0): what their makers' names and their exact musical lengths say. Loop lengths in
 * beats were worked out from the published lengths in frames; see each.
 */
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { type Movement, measureMovement } from '../../shared/measure/movement.ts';

const FOLDER = 'node_modules/supersonic-scsynth-samples/samples';

async function moved(name: string): Promise<Movement & { durationSeconds: number }> {
  const stream = await openAudio(join(FOLDER, `${name}.flac`));
  const follower = new EnvelopeFollower(stream.format.sampleRateHz, stream.format.channels);
  for await (const block of stream.blocks()) follower.push(block);
  await stream.close();
  const envelope = follower.finish();
  const durationSeconds = envelope.audioFrames / envelope.sampleRateHz;
  return { ...measureMovement(envelope, durationSeconds), durationSeconds };
}

describe('real recordings', () => {
  it('struck drums, cymbals, tabla and bells are hits that strike at once', async () => {
    const names = [
      ...[
        'bass_hard',
        'bass_soft',
        'cowbell',
        'cymbal_closed',
        'cymbal_hard',
        'cymbal_open',
        'snare_hard',
        'snare_soft',
      ],
      ...['tom_hi_hard', 'tom_hi_soft', 'tom_lo_hard', 'tom_lo_soft', 'tom_mid_hard', 'splash_hard', 'splash_soft'],
    ].map((drum) => `drum_${drum}`);
    for (const name of [
      ...names,
      'tabla_na',
      'tabla_ghe2',
      'tabla_tun1',
      'perc_bell',
      'elec_chime',
      'ride_tri',
      'bd_808',
    ]) {
      const { gesture, climaxSeconds } = await moved(name);
      expect(gesture, name).toBe('hit');
      expect(climaxSeconds, name).toBeLessThan(0.03);
    }
  });

  it('pads and drones hold', async () => {
    for (const name of ['ambi_drone', 'tbd_pad_1', 'tbd_pad_2', 'tbd_pad_3', 'loop_drone_g_97', 'bass_trance_c']) {
      expect((await moved(name)).gesture, name).toBe('drone');
    }
  });

  it('swooshes swell', async () => {
    for (const name of ['ambi_swoosh', 'ambi_dark_woosh']) expect((await moved(name)).gesture, name).toBe('swell');
  });

  it.each([
    // 302 400 frames = 16 beats at 140, 8.000 s = 16 beats at 120, 1.753311 s = 4 beats at 136.88.
    ['loop_amen_full', 16],
    ['loop_garzul', 16],
    ['loop_mika', 16],
    ['loop_amen', 4],
  ])('%s keeps the beat of its length: %i beats', async (name, beats) => {
    const { pulseBpm, durationSeconds } = await moved(name);
    expect(pulseBpm).toBeCloseTo((60 * beats) / durationSeconds, 0);
  });
});
