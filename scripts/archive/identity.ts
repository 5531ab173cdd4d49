/**
 * What makes a sound the same sound: its decoded audio. A lossless file is identified by its samples, sample rate and
 * channel count; a lossy one by its coded payload without tags, since two decoders need not agree to the last bit.
 */
import { createHash, type Hash } from 'node:crypto';
import type { AudioBlock, FrameRange } from './audio-stream.ts';
import type { ByteSource } from './decode/byte-source.ts';

const BASE_32 = '0123456789abcdefghjkmnpqrstvwxyz';
/** 16 characters of 5 bits: among a million sounds the chance that two share an id is below 1 in 10^12. */
const ID_CHARACTERS = 16;

function toId(hash: Hash): string {
  const bytes = hash.digest();
  let bits = 0n;
  for (let i = 0; i < (ID_CHARACTERS * 5) / 8; i++) bits = (bits << 8n) | BigInt(bytes[i]);
  let id = '';
  for (let i = ID_CHARACTERS - 1; i >= 0; i--) id += BASE_32[Number((bits >> BigInt(i * 5)) & 31n)];
  return id;
}

/** Identity of lossless audio, fed block by block; how the blocks are cut makes no difference. */
export class SampleIdentity {
  private readonly hash = createHash('sha256');
  private interleaved = new Float32Array(0);

  constructor(sampleRateHz: number, channels: number) {
    this.hash.update(`samples ${sampleRateHz} ${channels}\n`);
  }

  push(block: AudioBlock): void {
    const channels = block.length;
    const frames = block[0]?.length ?? 0;
    if (this.interleaved.length < frames * channels) this.interleaved = new Float32Array(frames * channels);
    const out = this.interleaved;
    for (let channel = 0; channel < channels; channel++) {
      const samples = block[channel];
      // Adding zero turns -0 into 0: they sound the same.
      for (let i = 0, at = channel; i < frames; i++, at += channels) out[at] = samples[i] + 0;
    }
    this.hash.update(new Uint8Array(out.buffer, 0, frames * channels * 4));
  }

  id(): string {
    return toId(this.hash);
  }
}

/** Identity of a part of a lossy file, from the digest of its payload. */
export function payloadIdentity(payloadDigest: string, range: FrameRange): string {
  return toId(createHash('sha256').update(`payload ${payloadDigest} ${range.startFrame} ${range.endFrame}\n`));
}

const READ_BYTES = 1 << 20;

/** SHA-256 of all bytes, as hexadecimal text. */
export async function contentDigest(source: ByteSource): Promise<string> {
  const hash = createHash('sha256');
  const bytes = new Uint8Array(Math.min(READ_BYTES, source.size));
  for (let position = 0; position < source.size; ) {
    const count = await source.readInto(bytes.subarray(0, source.size - position), position);
    if (count === 0) break;
    hash.update(bytes.subarray(0, count));
    position += count;
  }
  return hash.digest('hex');
}

/** A short digest of anything that can be written as JSON: the key under which a stage's results are kept. */
export function parametersDigest(parameters: unknown): string {
  return createHash('sha256').update(JSON.stringify(parameters)).digest('hex').slice(0, 12);
}
