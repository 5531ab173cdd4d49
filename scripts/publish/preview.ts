/**
 * The small MP3 the page plays, cut into parts so that a long drone is heard at once.
 *
 * Each part is one classic script that hands its bytes over (a page opened by double click may not fetch files). A
 * part decodes to exactly its own frames: an MP3 encoder adds silence before and after, and the information frame written
 * here tells decoders how much to drop. Layout of that frame: the Xing header (as it is called at variable rates) with the encoder's extension
 * (delay and padding, 12 bits each), from memory, verified by decoding with three independent decoders.
 */
import { createMp3Encoder } from 'wasm-media-encoders';
import { Resampler } from '../../shared/measure/resample.ts';
import type { AudioBlock } from '../archive/audio-stream.ts';

export const PREVIEW = {
  version: 3,
  /** Sample rates that are kept; all others become the last of these. */
  sampleRatesHz: [44_100, 48_000],
  /** Variable bit rate, 0 best to 9 smallest; 5 is about 100 kbit/s in stereo, and encodes faster than a constant rate. */
  variableRateQuality: 5,
  partSeconds: 30,
  /** Each part goes on this long into the next one, for a crossfade. */
  overlapSeconds: 0.05,
  /** Quiet sounds are raised to this sample peak before encoding, or the encoder would drop them as inaudible. */
  peakDbfs: -3,
  /** ... but by no more than this, so that silence stays silence. */
  mostGainDb: 60,
} as const;

export interface PreviewPart {
  part: number;
  startSeconds: number;
  durationSeconds: number;
  mp3: Uint8Array;
}

/** Scaled, resampled and encoded at a time, so that it stays in the processor's cache. */
const PORTION_FRAMES = 8192;

type Encoder = Awaited<ReturnType<typeof createMp3Encoder>>;

/** Encoders are costly to start; each worker keeps those it has. */
const idle: Encoder[] = [];

/** The sample rate a sound's preview has. */
export function previewRateHz(sampleRateHz: number): number {
  const rates: readonly number[] = PREVIEW.sampleRatesHz;
  return rates.includes(sampleRateHz) ? sampleRateHz : rates[rates.length - 1];
}

/** One sound's preview, fed block by block at the sound's own sample rate. */
export class PreviewWriter {
  readonly gainDb: number;
  private readonly gain: number;
  private readonly channels: 1 | 2;
  private readonly sampleRateHz: number;
  private readonly partFrames: number;
  private readonly overlapFrames: number;
  /** null where the rate stays. */
  private readonly resampler: Resampler | null;
  /** The block under way at the preview's level, overwritten by the next. */
  private scaled: AudioBlock;
  private readonly parts: PartEncoder[] = [];
  private readonly done: PreviewPart[] = [];
  private written = 0;

  /** `peak` is the sound's sample peak as a ratio to full scale. */
  constructor(sampleRateHz: number, channels: number, peak: number) {
    this.channels = channels === 1 ? 1 : 2;
    this.gainDb = peak > 0 ? Math.min(PREVIEW.mostGainDb, PREVIEW.peakDbfs - 20 * Math.log10(peak)) : 0;
    this.gain = 10 ** (this.gainDb / 20);
    this.sampleRateHz = previewRateHz(sampleRateHz);
    this.partFrames = PREVIEW.partSeconds * this.sampleRateHz;
    this.overlapFrames = Math.round(PREVIEW.overlapSeconds * this.sampleRateHz);
    this.resampler =
      sampleRateHz === this.sampleRateHz ? null : new Resampler(this.channels, sampleRateHz, this.sampleRateHz);
    this.scaled = Array.from({ length: this.channels }, () => new Float32Array(0));
  }

  async push(block: AudioBlock): Promise<void> {
    for (let from = 0; from < block[0].length; from += PORTION_FRAMES) {
      const scaled = this.toStereo(block.map((samples) => samples.subarray(from, from + PORTION_FRAMES)));
      await this.encode(this.resampler?.push(scaled) ?? scaled);
    }
  }

  /** Two channels at most: more are folded alternately to the left and right, at equal power. */
  private toStereo(block: AudioBlock): AudioBlock {
    const frames = block[0].length;
    if (this.scaled[0].length < frames) this.scaled = this.scaled.map(() => new Float32Array(frames));
    const share = block.length <= 2 ? this.gain : this.gain / Math.sqrt(Math.ceil(block.length / 2));
    return this.scaled.map((side, index) => {
      const first = block[index];
      for (let i = 0; i < frames; i++) side[i] = first[i] * share;
      for (let channel = index + 2; channel < block.length; channel += 2) {
        const more = block[channel];
        for (let i = 0; i < frames; i++) side[i] += more[i] * share;
      }
      return side.subarray(0, frames);
    });
  }

  /** Encodes what is left; one part for every started PREVIEW.partSeconds. */
  async finish(): Promise<PreviewPart[]> {
    if (this.resampler !== null) await this.encode(this.resampler.finish());
    for (const part of this.parts.splice(0)) this.done.push(part.finish());
    return this.done;
  }

  private async encode(block: AudioBlock): Promise<void> {
    const frames = block[0].length;
    let at = 0;
    while (at < frames) {
      if (this.written === (this.done.length + this.parts.length) * this.partFrames) await this.openPart();
      const oldest = this.parts[0];
      const intoPart = this.written % this.partFrames;
      // Up to the next moment at which a part opens or the one before it closes.
      const boundary = this.parts.length > 1 ? this.overlapFrames : this.partFrames;
      const size = Math.min(frames - at, boundary - intoPart);
      const slice = block.map((samples) => samples.subarray(at, at + size));
      for (const part of this.parts) part.push(slice);
      at += size;
      this.written += size;
      if (this.parts.length > 1 && intoPart + size === this.overlapFrames) {
        this.parts.shift();
        this.done.push(oldest.finish());
      }
    }
  }

  private async openPart(): Promise<void> {
    const encoder = idle.pop() ?? (await createMp3Encoder());
    this.parts.push(new PartEncoder(encoder, this.channels, this.sampleRateHz, this.done.length + this.parts.length));
  }
}

class PartEncoder {
  private readonly encoder: Encoder;
  private readonly part: number;
  private readonly sampleRateHz: number;
  private readonly chunks: Uint8Array[] = [];
  private frames = 0;

  constructor(encoder: Encoder, channels: 1 | 2, sampleRateHz: number, part: number) {
    this.encoder = encoder;
    this.sampleRateHz = sampleRateHz;
    this.part = part;
    encoder.configure({
      sampleRate: this.sampleRateHz as 44_100 | 48_000,
      channels,
      vbrQuality: PREVIEW.variableRateQuality,
    });
  }

  push(block: AudioBlock): void {
    this.frames += block[0].length;
    this.chunks.push(this.encoder.encode(block as [Float32Array]).slice());
  }

  finish(): PreviewPart {
    this.chunks.push(this.encoder.finalize().slice());
    idle.push(this.encoder);
    return {
      part: this.part,
      startSeconds: this.part * PREVIEW.partSeconds,
      durationSeconds: this.frames / this.sampleRateHz,
      mp3: withInfoFrame(Buffer.concat(this.chunks), this.frames),
    };
  }
}

const SAMPLES_PER_FRAME = 1152;
/** The encoder's own delay in samples; decoders add 529 of theirs and know it. */
const ENCODER_DELAY = 576;
const BITRATES = [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320];
const SAMPLE_RATES = [44_100, 48_000, 32_000];

/** Puts an information frame before the coded audio so that decoders give exactly `frames` frames. */
function withInfoFrame(mp3: Uint8Array, frames: number): Uint8Array {
  const size = frameBytes(mp3, 0) - ((mp3[2] >> 1) & 1);
  let coded = 0;
  for (let at = 0; at + 4 <= mp3.length; at += frameBytes(mp3, at)) coded++;
  const info = new Uint8Array(size);
  // Same header without padding bit, so that the frame's size is that of an unpadded one.
  info.set([mp3[0], mp3[1], mp3[2] & ~2, mp3[3]]);
  const mono = mp3[3] >> 6 === 3;
  const at = 4 + (mono ? 17 : 32);
  const view = new DataView(info.buffer);
  info.set(new TextEncoder().encode('Xing'), at);
  view.setUint32(at + 4, 0b11);
  view.setUint32(at + 8, coded);
  view.setUint32(at + 12, mp3.length + size);
  const extension = at + 16;
  info.set(new TextEncoder().encode('LAME3.100'), extension);
  const padding = Math.max(0, coded * SAMPLES_PER_FRAME - ENCODER_DELAY - frames);
  view.setUint8(extension + 21, ENCODER_DELAY >> 4);
  view.setUint8(extension + 22, ((ENCODER_DELAY & 15) << 4) | (padding >> 8));
  view.setUint8(extension + 23, padding & 255);
  view.setUint32(extension + 28, mp3.length + size);
  view.setUint16(extension + 34, checksum(info.subarray(0, extension + 34)));
  const out = new Uint8Array(size + mp3.length);
  out.set(info);
  out.set(mp3, size);
  return out;
}

/** Bytes of the MPEG-1 layer III frame at `at` (ISO/IEC 11172-3: 144 * bit rate / sample rate + padding). */
function frameBytes(mp3: Uint8Array, at: number): number {
  if (mp3[at] !== 0xff || (mp3[at + 1] & 0xfe) !== 0xfa) throw new Error(`preview: no MP3 frame at byte ${at}`);
  const bitrate = BITRATES[mp3[at + 2] >> 4] * 1000;
  const sampleRate = SAMPLE_RATES[(mp3[at + 2] >> 2) & 3];
  return Math.floor((144 * bitrate) / sampleRate) + ((mp3[at + 2] >> 1) & 1);
}

/** CRC-16 with the reflected polynomial 0xA001. */
function checksum(bytes: Uint8Array): number {
  let crc = 0;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >> 1) ^ 0xa001 : crc >> 1;
  }
  return crc;
}
