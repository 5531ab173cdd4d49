import { readFileSync } from 'node:fs';
import { afterAll, describe, expect, it } from 'vitest';
import { BLOCK_FRAMES, UnreadableAudio } from '../../scripts/archive/audio-stream.ts';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { describeAudio } from '../../scripts/archive/describe/describe.ts';
import { bytes, chunk, extensible, lena, riff, scratchFolder, seeded, waveFormat } from './bytes.ts';

const scratch = scratchFolder();
afterAll(() => scratch.remove());

/** Real headers, each with about a second of audio, so that hundreds of rounds stay quick. */
const seeds: [name: string, content: Uint8Array][] = [
  ['16-bit WAV', readFileSync(lena('lena.wav')).subarray(0, 90_000)],
  ['WAV with chunks', readFileSync(lena('logic/lena-24.wav')).subarray(0, 60_000)],
  [
    'extensible WAV',
    riff([
      waveFormat({ tag: 0xfffe, channels: 2, bits: 24, extra: extensible(24, 3, 1) }),
      chunk('data', new Uint8Array(6000)),
    ]),
  ],
  ['AIFF', readFileSync(lena('logic/lena-24.aif')).subarray(0, 60_000)],
  ['float AIFF-C', readFileSync(lena('audacity/lena-64.aiff')).subarray(0, 60_000)],
  ['FLAC', readFileSync(lena('lena.flac')).subarray(0, 50_000)],
  ['MP3', readFileSync(lena('lena.mp3')).subarray(0, 16_000)],
  ['Ogg Vorbis', readFileSync(lena('lena.ogg')).subarray(0, 16_000)],
  ['Opus', readFileSync(lena('lena.opus')).subarray(0, 16_000)],
];
const ROUNDS = 60;
/** Generous for a busy machine: an undamaged file of this length takes a few milliseconds. */
const LONGEST_ROUND_MS = 2000;
/** No header of these may make more of the audio than a few minutes: that would be memory out of nothing. */
const MOST_FRAMES = 48_000 * 60 * 11;

describe('damaged files', () => {
  it.each(seeds)(
    `%s: ${ROUNDS} times cut or with flipped bits, only UnreadableAudio is thrown`,
    async (name, original) => {
      const random = seeded(name.length * 31 + original.length);
      let opened = 0;
      for (let round = 0; round < ROUNDS; round++) {
        const damaged = damage(original, random, round);
        const path = scratch.write('damaged', damaged);
        const started = performance.now();
        const outcome = await tryAll(path);
        expect(outcome === 'read' || outcome === 'refused', `round ${round}: ${outcome}`).toBe(true);
        expect(performance.now() - started, `round ${round}`).toBeLessThan(LONGEST_ROUND_MS);
        if (outcome === 'read') opened++;
      }
      // Were every file refused, nothing behind the first header would have been tried.
      expect(opened).toBeGreaterThan(0);
    },
  );
});

/** Cut somewhere, or bits flipped in the first bytes, or anywhere, or whole bytes made up in the header. */
function damage(original: Uint8Array, random: () => number, round: number): Uint8Array {
  const kind = round % 4;
  const damaged = bytes(kind === 0 ? original.subarray(0, Math.floor(random() * original.length)) : original);
  const reach = kind === 2 ? damaged.length : Math.min(200, damaged.length);
  for (let count = 0; count < 1 + (round % 6) && reach > 0 && kind > 0; count++) {
    const at = Math.floor(random() * reach);
    damaged[at] = kind === 3 ? Math.floor(random() * 256) : damaged[at] ^ (1 << Math.floor(random() * 8));
  }
  return damaged;
}

async function tryAll(path: string): Promise<string> {
  JSON.stringify(await describeAudio(path));
  try {
    const stream = await openAudio(path);
    let frames = 0;
    for await (const block of stream.blocks()) {
      frames += block[0].length;
      if (block.length !== stream.format.channels) return 'a block without all channels';
      if (block.some((samples) => samples.length !== block[0].length || samples.length > BLOCK_FRAMES))
        return 'a ragged block';
      if (block.some((samples) => samples.some((sample) => !Number.isFinite(sample))))
        return 'a sample that is no number';
      if (frames > MOST_FRAMES) return 'too much audio';
    }
    await stream.close();
    return 'read';
  } catch (error) {
    return error instanceof UnreadableAudio ? 'refused' : String(error);
  }
}
