/** Damaged sound files: real headers with a little audio, cut or with bits flipped, and what must hold when they are read. */
import { readFileSync } from 'node:fs';
import { BLOCK_FRAMES, UnreadableAudio } from '../../scripts/archive/audio-stream.ts';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { describeAudio } from '../../scripts/archive/describe/describe.ts';
import { bytes, chunk, extensible, lena, riff, waveFormat } from '../archive/bytes.ts';

/** Real headers, each with about a second of audio, so that hundreds of rounds stay quick. */
export const SEEDS: [name: string, content: Uint8Array][] = [
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
/** No header of these may make more of the audio than a few minutes: that would be memory out of nothing. */
const MOST_FRAMES = 48_000 * 60 * 11;

/** Cut somewhere, or bits flipped in the first bytes, or anywhere, or whole bytes made up in the header. */
export function damage(original: Uint8Array, random: () => number, round: number): Uint8Array {
  const kind = round % 4;
  const damaged = bytes(kind === 0 ? original.subarray(0, Math.floor(random() * original.length)) : original);
  const reach = kind === 2 ? damaged.length : Math.min(200, damaged.length);
  for (let count = 0; count < 1 + (round % 6) && reach > 0 && kind > 0; count++) {
    const at = Math.floor(random() * reach);
    damaged[at] = kind === 3 ? Math.floor(random() * 256) : damaged[at] ^ (1 << Math.floor(random() * 8));
  }
  return damaged;
}

export async function readWhole(path: string): Promise<string> {
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
