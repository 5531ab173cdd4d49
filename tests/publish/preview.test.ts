import { MPEGDecoder } from 'mpg123-decoder';
import { describe, expect, test } from 'vitest';
import { PREVIEW, type PreviewPart, PreviewWriter, previewRateHz } from '../../scripts/publish/preview.ts';

/** Decoded by mpg123, a decoder that shares nothing with the encoder and honours the delay in the Info frame. */
async function decode(part: PreviewPart): Promise<Float32Array[]> {
  const decoder = new MPEGDecoder();
  await decoder.ready;
  const { channelData } = decoder.decode(part.mp3);
  decoder.free();
  return channelData;
}

async function previewOf(
  channels: Float32Array[],
  sampleRateHz: number,
  peak: number,
): Promise<[PreviewWriter, PreviewPart[]]> {
  const writer = new PreviewWriter(sampleRateHz, channels.length, peak);
  for (let at = 0; at < channels[0].length; at += 10_007) {
    await writer.push(channels.map((channel) => channel.subarray(at, at + 10_007)));
  }
  return [writer, await writer.finish()];
}

/** Short decaying bursts at the given seconds: sharp in time, easy to find again. */
function bursts(seconds: readonly number[], lengthSeconds: number, sampleRateHz: number, level: number): Float32Array {
  const samples = new Float32Array(Math.round(lengthSeconds * sampleRateHz));
  for (const start of seconds) {
    const first = Math.round(start * sampleRateHz);
    for (let i = 0; i < 0.02 * sampleRateHz && first + i < samples.length; i++) {
      samples[first + i] =
        level * Math.exp(-i / (0.002 * sampleRateHz)) * Math.cos((2 * Math.PI * 2000 * i) / sampleRateHz);
    }
  }
  return samples;
}

function loudestNear(samples: Float32Array, frame: number, reach: number): number {
  let best = Math.max(0, frame - reach);
  for (let i = best; i < Math.min(samples.length, frame + reach); i++) {
    if (Math.abs(samples[i]) > Math.abs(samples[best])) best = i;
  }
  return best;
}

describe('preview parts', () => {
  test.each([
    [44_100, 2],
    [96_000, 1],
    [48_000, 5],
  ])('decode to exactly their frames, in time, at %i Hz and %i channels', async (sampleRateHz, channels) => {
    const times = [0.1, 12.34, 29.9, 30.03, 30.5, 33.3];
    const samples = bursts(times, 34, sampleRateHz, 0.5);
    const [, parts] = await previewOf(
      Array.from({ length: channels }, () => samples),
      sampleRateHz,
      0.5,
    );
    expect(parts.map(({ startSeconds }) => startSeconds)).toEqual([0, 30]);
    expect(parts.map(({ durationSeconds }) => durationSeconds)).toEqual([30.05, 4]);
    let found = 0;
    for (const part of parts) {
      const [left, right] = await decode(part);
      expect(left.length).toBe(Math.round(part.durationSeconds * previewRateHz(sampleRateHz)));
      expect(right?.length ?? left.length).toBe(left.length);
      for (const time of times) {
        const frame = Math.round((time - part.startSeconds) * previewRateHz(sampleRateHz));
        if (frame < 0 || frame > left.length - 1000) continue;
        found++;
        // 0.1 ms: a fiftieth of the shortest time an ear tells apart in a rhythm.
        expect(Math.abs(loudestNear(left, frame, 480) - frame)).toBeLessThanOrEqual(5);
      }
    }
    // The burst at 30.03 s lies in both parts, inside the overlap.
    expect(found).toBe(times.length);
  });

  test.each([1, 2])('raise a quiet sound by the stated gain and keep its level, %i channels', async (channels) => {
    const samples = Float32Array.from({ length: 48_000 }, (_, i) => 0.001 * Math.sin((2 * Math.PI * 440 * i) / 48_000));
    const [writer, [part]] = await previewOf(
      Array.from({ length: channels }, () => samples),
      48_000,
      0.001,
    );
    expect(writer.gainDb).toBeCloseTo(57, 6);
    const [decoded] = await decode(part);
    const middle = decoded.subarray(10_000, 40_000);
    const rms = Math.sqrt(middle.reduce((sum, value) => sum + value * value, 0) / middle.length);
    // RMS of a sine is its peak less 3.01 dB (analytic); the peak is PREVIEW.peakDbfs.
    expect(20 * Math.log10(rms)).toBeCloseTo(PREVIEW.peakDbfs - 3.01, 1);
  });

  test('exist for three frames and for silence', async () => {
    for (const length of [3, 48_000]) {
      const [writer, [part]] = await previewOf([new Float32Array(length)], 48_000, 0);
      expect(writer.gainDb).toBe(0);
      const [decoded] = await decode(part);
      expect(decoded.length).toBe(length);
      expect(decoded.every((sample) => Math.abs(sample) < 1e-4)).toBe(true);
    }
  });
});
