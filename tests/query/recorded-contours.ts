/** Contours of real recordings (supersonic-scsynth-samples, CC0: drums, loops, bells, voices, hums), by the build's own measuring. */
import { readdir } from 'node:fs/promises';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { measureMovement } from '../../shared/measure/movement.ts';
import type { Sound } from '../../shared/sound.ts';
import { SAMPLES } from '../measure/recordings.ts';

export type RecordedContour = Pick<Sound, 'contour' | 'durationSeconds' | 'activeStartSeconds' | 'activeSeconds'>;

/** Of the first `count` recordings by name that sound at all. */
export async function recordedContours(count: number): Promise<RecordedContour[]> {
  const out: RecordedContour[] = [];
  for (const name of (await readdir(SAMPLES)).filter((file) => file.endsWith('.flac')).sort()) {
    if (out.length === count) break;
    const stream = await openAudio(SAMPLES + name);
    const follower = new EnvelopeFollower(stream.format.sampleRateHz, stream.format.channels);
    for await (const block of stream.blocks()) follower.push(block);
    await stream.close();
    const envelope = follower.finish();
    const durationSeconds = envelope.audioFrames / envelope.sampleRateHz;
    const { contour, activeStartSeconds, activeSeconds } = measureMovement(envelope, durationSeconds);
    if (Math.max(...contour) > 0) out.push({ contour, durationSeconds, activeStartSeconds, activeSeconds });
  }
  return out;
}
