/**
 * Measures a file or samples inside the page: bundled by astro.config.mjs, so nothing here may reach Node. WAV, AIFF and
 * FLAC are decoded by the build's own decoders and therefore measure exactly as in the build; what else may be audio is
 * handed back for the browser to decode.
 */

import { SoundMeasurer } from '../../shared/measure/measure.ts';
import {
  MEASURED_SECONDS,
  type MeasuredHere,
  type MeasureNews,
  type MeasureOrder,
  READABLE_FORMATS,
  type ReadableBytes,
} from '../../shared/measure-here.ts';
import type { Hertz, Measurements, Seconds } from '../../shared/sound.ts';
import { type AudioStream, UnreadableAudio } from '../archive/audio-stream.ts';
import { openAiff } from '../archive/decode/aiff.ts';
import { type OpenFile, partOf } from '../archive/decode/byte-source.ts';
import { openFlac } from '../archive/decode/flac.ts';
import { findFirstFrame } from '../archive/decode/mpeg-frames.ts';
import { type Sniffed, sniff } from '../archive/decode/sniff.ts';
import { openWav } from '../archive/decode/wav.ts';

type Tell = (news: MeasureNews) => void;

export async function carryOut(order: MeasureOrder, tell: Tell): Promise<void> {
  try {
    if (order.kind === 'file') await measureFile(order.file, tell);
    else tell({ kind: 'measured', measured: measureSamples(order, tell) });
  } catch (problem) {
    if (problem instanceof UnreadableAudio) tell({ kind: 'failed', found: problem.found, remedy: problem.remedy });
    else
      tell({
        kind: 'failed',
        found: `Measuring stopped: ${problem instanceof Error ? problem.message : String(problem)}.`,
        remedy: 'Try it again, or export the sound as WAV.',
      });
  }
}

async function measureFile(bytes: ReadableBytes, tell: Tell): Promise<void> {
  const file = sourceOf(bytes);
  const sniffed = await sniff(file);
  const stream = await openHere(file, sniffed);
  if (stream === null) tell(await forTheBrowser(file, sniffed));
  else tell({ kind: 'measured', measured: await measureStream(stream, tell) });
}

/** Bytes of a file or Blob as decoders read them. */
function sourceOf(bytes: ReadableBytes): OpenFile {
  const read = async (position: number, length: number): Promise<Uint8Array> => {
    const from = Math.max(0, position);
    return new Uint8Array(await bytes.slice(from, from + Math.max(0, length)).arrayBuffer());
  };
  return {
    size: bytes.size,
    read,
    readInto: async (target, position) => {
      const found = await read(position, target.length);
      target.set(found);
      return found.length;
    },
    close: async () => {},
  };
}

/** null for formats that only the browser decodes. */
async function openHere(file: OpenFile, { kind, start }: Sniffed): Promise<AudioStream | null> {
  const content = start > 0 ? { ...partOf(file, start, file.size - start), close: () => file.close() } : file;
  if (kind === 'aiff') return openAiff(content);
  if (kind === 'flac') return openFlac(content);
  if (kind !== 'wav') return null;
  return openWav(content, async (_inner, wrapped) => {
    throw new UnreadableAudio(
      `A WAV file holding ${wrapped === 'mp3' ? 'MPEG audio' : 'an Ogg stream'}.`,
      'uncompressed audio.',
      'Export it as uncompressed WAV.',
    );
  });
}

/** More than any minute of them takes: 512 kbit/s. */
const CODED_MINUTE_BYTES = 4_000_000;
/** What a container that cannot be cut may have for the browser to decode it whole. */
const WHOLE_BYTES = 40_000_000;
const OTHER_SOUND = /MPEG-4|Matroska|AAC/;

async function forTheBrowser(file: OpenFile, { kind, words, start }: Sniffed): Promise<MeasureNews> {
  if (kind === null && !OTHER_SOUND.test(words)) {
    return { kind: 'failed', found: `This is ${words}.`, remedy: `Choose a sound: ${READABLE_FORMATS}.` };
  }
  if (kind === null && file.size > WHOLE_BYTES) {
    return {
      kind: 'failed',
      found: `This is ${words} of more than 40 MB.`,
      remedy: 'Export its sound as WAV or FLAC.',
    };
  }
  const bytes = kind === null ? file.size : Math.min(file.size, start + CODED_MINUTE_BYTES);
  return { kind: 'decode', sampleRateHz: await ownRate(file, kind, start), bytes, words };
}

/** The rate a coded file's header gives: decoding at another one would resample. */
async function ownRate(file: OpenFile, kind: Sniffed['kind'], start: number): Promise<Hertz | null> {
  if (kind === 'mp3') return (await findFirstFrame(file, start))?.header.sampleRateHz ?? null;
  if (kind !== 'ogg') return null;
  const head = await file.read(start, 512);
  const text = String.fromCharCode(...head);
  if (text.includes('OpusHead')) return 48_000;
  // Vorbis I specification, 4.2.2: packet type, "vorbis", version (4 bytes), channels (1), sample rate (4).
  const at = text.indexOf('\x01vorbis');
  return at >= 0 && at + 16 <= head.length ? new DataView(head.buffer, head.byteOffset).getUint32(at + 12, true) : null;
}

async function measureStream(stream: AudioStream, tell: Tell): Promise<MeasuredHere> {
  const { sampleRateHz, channels, bitDepth, channelMask, frames } = stream.format;
  const most = Math.round(MEASURED_SECONDS * sampleRateHz);
  const totalFrames = Math.min(most, frames ?? most);
  const measurer = new SoundMeasurer({ sampleRateHz, channels, bitDepth, channelMask, totalFrames });
  let done = 0;
  for await (const block of stream.blocks({ startFrame: 0, endFrame: totalFrames })) {
    measurer.push(block);
    done += block[0].length;
    tell({ kind: 'progress', share: Math.min(1, done / totalFrames) });
  }
  return { ...measurer.finish(), fileSeconds: frames === null ? null : frames / sampleRateHz };
}

const PORTION_SECONDS = 1;
/** Kept around a trimmed sound, as around a take that the build cuts out of a session. */
const BEFORE_SECONDS: Seconds = 0.02;
const AFTER_SECONDS: Seconds = 0.1;

type Samples = Extract<MeasureOrder, { kind: 'samples' }>;

function measureSamples({ samples, sampleRateHz, trim }: Samples, tell: Tell): MeasuredHere {
  const most = Math.round(MEASURED_SECONDS * sampleRateHz);
  const first = samples.map((channel) => channel.subarray(0, most));
  const measured = measureWhole(first, sampleRateHz, (share) => tell({ kind: 'progress', share }));
  const fileSeconds = samples[0].length / sampleRateHz;
  if (!trim) return { ...measured, fileSeconds };
  const cut = activeFrames(measured.measurements, first[0].length);
  if (cut === null) {
    throw new UnreadableAudio(
      'Nothing was heard.',
      'a sound.',
      'Come closer to the microphone, or choose another input.',
    );
  }
  const kept = first.map((channel) => channel.subarray(...cut));
  return { ...measureWhole(kept, sampleRateHz, () => {}), fileSeconds };
}

function measureWhole(samples: readonly Float32Array[], sampleRateHz: Hertz, onShare: (share: number) => void) {
  const totalFrames = samples[0].length;
  const format = { sampleRateHz, channels: samples.length, bitDepth: null, channelMask: null };
  const measurer = new SoundMeasurer({ ...format, totalFrames });
  const step = Math.round(PORTION_SECONDS * sampleRateHz);
  for (let from = 0; from < totalFrames; from += step) {
    measurer.push(samples.map((channel) => channel.subarray(from, from + step)));
    onShare(Math.min(1, (from + step) / totalFrames));
  }
  return measurer.finish();
}

/** What never passes this is a room, not a sound (common practice, no source). */
const HEARD_DBFS = -60;

/** First frame and end of the sound itself; null where there is none. */
function activeFrames(measured: Measurements, totalFrames: number): [from: number, end: number] | null {
  const { activeStartSeconds, activeSeconds, samplePeakDbfs, sampleRateHz } = measured;
  if (activeStartSeconds === null || activeSeconds === null) return null;
  if (samplePeakDbfs === null || samplePeakDbfs < HEARD_DBFS) return null;
  const frame = (seconds: Seconds) => Math.round(seconds * sampleRateHz);
  const from = Math.max(0, frame(activeStartSeconds - BEFORE_SECONDS));
  return [from, Math.min(totalFrames, frame(activeStartSeconds + activeSeconds + AFTER_SECONDS))];
}
