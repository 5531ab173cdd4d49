/**
 * One file from bytes to measured sounds: decode, describe, split, measure, and (when asked) preview.
 *
 * Two passes. The first follows the level of the whole file, so that takes can be told apart; the second measures each
 * take. Files that fit the memory budget are decoded once and kept in between; longer ones are decoded again, and very long
 * ones are looked at in chapters, so that memory stays bounded whatever a file's length.
 */
import { createHash } from 'node:crypto';
import type { Envelope } from '../../shared/measure/envelope.ts';
import { SoundMeasurer } from '../../shared/measure/measure.ts';
import { noteOf } from '../../shared/measure/pitch.ts';
import type { Measurements, Waveform } from '../../shared/sound.ts';
import { type PreviewPart, PreviewWriter } from '../publish/preview.ts';
import type { AudioBlock, AudioFormat, AudioStream, EmbeddedText, FrameRange } from './audio-stream.ts';
import { ChapterFollower, chapterWarning, inSounds, takesOfChapter } from './chapters.ts';
import type { OpenFile } from './decode/byte-source.ts';
import { lent, openFile } from './decode/file-bytes.ts';
import { audioIn } from './decode/open.ts';
import type { AudioKind } from './decode/sniff.ts';
import { descriptionIn } from './describe/describe.ts';
import { payloadIdentity, SampleIdentity } from './identity.ts';
import { holdsNothing, longParts, tooShortToHear } from './short-parts.ts';
import { asVoice, type SlatedRegion, withSlates } from './slates.ts';
import { mayHideTakes } from './sounds.ts';
import type { Region, SplitOptions } from './split.ts';
import { type Corrections, correctedRegions } from './split-corrections.ts';
import { type SplitSettings, USUAL_SPLIT } from './split-settings.ts';

/** Samples (of 4 bytes) a worker may keep of one file: 160 MB. */
const SAMPLES_IN_MEMORY = 40_000_000;

export interface MeasuredTake {
  id: string;
  startFrame: number;
  endFrame: number;
  label: string | null;
  note: string | null;
  measurements: Measurements;
  previewParts: number;
}

export interface ProcessedFile {
  /** Identity of the whole file's audio: the id it has as one sound. */
  audio: string;
  kind: AudioKind;
  format: AudioFormat;
  frames: number;
  /** Of the content only: what is odd in a file's name belongs to its place (nameWarning in decode/open.ts). */
  warnings: string[];
  embedded: EmbeddedText;
  takes: MeasuredTake[];
}

export interface PreviewOfTake {
  id: string;
  gainDb: number;
  parts: PreviewPart[];
  waveform: Waveform;
}

export interface ProcessOptions {
  split?: SplitSettings;
  /** Where a person set the takes of this very audio, those are the takes. */
  corrections?: Corrections;
  /** Called once a take is measured, with its preview; without it no preview is made. */
  onPreview?: (preview: PreviewOfTake) => Promise<void>;
}

/** Throws UnreadableAudio when the file gives no sound at all, and errors of the system as they are. */
export async function processFile(path: string, options: ProcessOptions = {}): Promise<ProcessedFile> {
  const file = await openFile(path);
  try {
    return await processOpen(file, options);
  } finally {
    await file.close();
  }
}

/** As `processFile`, of a file already open, which stays open. */
export async function processOpen(file: OpenFile, options: ProcessOptions = {}): Promise<ProcessedFile> {
  const stream = await audioIn(lent(file));
  try {
    const embedded = await descriptionIn(file);
    const surveyed = await survey(stream, embedded, { ...options.split, loops: embedded.loops });
    const { frames, envelope, peaks, kept, samplesId } = surveyed;
    const { sampleRateHz, channels } = stream.format;
    if (frames === 0) throw holdsNothing(stream.format);
    const payload = stream.format.lossless ? null : await payloadDigest(stream);
    const audio = samplesId ?? payloadIdentity(payload ?? '', { startFrame: 0, endFrame: frames });
    const correction = options.corrections?.get(audio);
    const { parts: cut, warnings: tooShort } = longParts(
      inSounds((correction && correctedRegions(correction, frames, sampleRateHz)) ?? surveyed.takes, sampleRateHz),
      frames,
      sampleRateHz,
    );
    const tooLong = chapterWarning(frames, sampleRateHz);
    const blocksOf = (range: FrameRange): Iterable<AudioBlock> | AsyncIterable<AudioBlock> =>
      kept ? slices(kept, range) : stream.blocks(range);
    const [only] = cut;
    const isUncut = cut.length === 1 && only.reason === 'whole' && options.split?.by !== 'whole';
    const restless = isUncut && mayHideTakes(envelope) ? [restlessWarning(frames / sampleRateHz)] : [];
    const slates = correction?.slates ?? options.split?.slates ?? USUAL_SPLIT.slates;
    const read = (range: FrameRange): Promise<Float32Array> => asVoice(blocksOf(range), sampleRateHz);
    const regions = await withSlates(cut, envelope, frames, read, slates);
    // A root note is said of the file, so of the one sound in it.
    const rootNote = regions.length === 1 ? noteOfMidi(embedded.rootNote) : null;
    const takes: MeasuredTake[] = [];
    for (const region of regions) {
      const preview = options.onPreview
        ? new PreviewWriter(stream.format.sampleRateHz, stream.format.channels, peakOf(peaks, region))
        : null;
      const isWhole = region.startFrame === 0 && region.endFrame === frames;
      // Hashing is a good part of the work: a file that is one sound is hashed once.
      const identity = payload !== null || isWhole ? null : new SampleIdentity(sampleRateHz, channels);
      const measured = await measureTake({ ...stream.format, rootNote }, region, blocksOf(region), identity, preview);
      const id = identity?.id() ?? (payload === null ? audio : payloadIdentity(payload, region));
      const parts = (await preview?.finish()) ?? [];
      if (preview) {
        if (parts.length === 0) throw tooShortToHear(stream.format, region);
        await options.onPreview?.({ id, gainDb: preview.gainDb, parts, waveform: measured.waveform });
      }
      takes.push({
        id,
        startFrame: region.startFrame,
        endFrame: region.endFrame,
        label: region.label,
        note: region.note,
        measurements: measured.measurements,
        previewParts: parts.length,
      });
    }
    return {
      audio,
      kind: stream.kind,
      format: { ...stream.format, frames },
      frames,
      warnings: [
        ...stream.warnings,
        ...embedded.leftOut,
        ...tooShort,
        ...(tooLong === null ? [] : [tooLong]),
        ...restless,
      ],
      embedded,
      takes,
    };
  } finally {
    await stream.close();
  }
}

function restlessWarning(seconds: number): string {
  return `It never rests long enough to be cut, so it is one sound of ${Math.round(seconds)} s. If it holds several takes, set them in catalogue/splits/ ("measure FILE --takes" prints the entry) or put markers into it; if it is one sound, "split: whole" in archive.yaml says so.`;
}

/** Frames a peak is kept for. */
const PEAK_FRAMES = 4096;

interface Survey {
  frames: number;
  envelope: Envelope;
  /** As markers and silence part them. */
  takes: Region[];
  /** Sample peak of each PEAK_FRAMES frames. */
  peaks: Float32Array;
  /** The decoded audio, where it fits in memory. */
  kept: AudioBlock[] | null;
  /** Identity of all its samples; null for lossy files. */
  samplesId: string | null;
}

async function survey(stream: AudioStream, { markers }: EmbeddedText, options: Partial<SplitOptions>): Promise<Survey> {
  const { sampleRateHz, channels, lossless } = stream.format;
  const takes: Region[] = [];
  const follower = new ChapterFollower(sampleRateHz, channels, (chapter) => {
    for (const take of takesOfChapter(chapter, markers, options)) takes.push(take);
  });
  const identity = lossless ? new SampleIdentity(sampleRateHz, channels) : null;
  const peaks: number[] = [];
  let kept: AudioBlock[] | null = [];
  let frames = 0;
  for await (const block of stream.blocks()) {
    follower.push(block);
    identity?.push(block);
    notePeaks(peaks, block, frames);
    frames += block[0].length;
    if (kept && frames * channels <= SAMPLES_IN_MEMORY) kept.push(block);
    else kept = null;
  }
  return {
    frames,
    envelope: follower.finish().envelope,
    takes,
    peaks: Float32Array.from(peaks),
    kept,
    samplesId: identity?.id() ?? null,
  };
}

function notePeaks(peaks: number[], block: AudioBlock, startFrame: number): void {
  for (const samples of block) {
    for (let from = 0; from < samples.length; ) {
      const at = Math.floor((startFrame + from) / PEAK_FRAMES);
      const to = Math.min(samples.length, (at + 1) * PEAK_FRAMES - startFrame);
      let peak = peaks[at] ?? 0;
      for (let i = from; i < to; i++) {
        const level = Math.abs(samples[i]);
        if (level > peak) peak = level;
      }
      peaks[at] = peak;
      from = to;
    }
  }
}

function peakOf(peaks: Float32Array, { startFrame, endFrame }: FrameRange): number {
  const part = peaks.subarray(Math.floor(startFrame / PEAK_FRAMES), Math.ceil(endFrame / PEAK_FRAMES));
  return part.reduce((most, level) => Math.max(most, level), 0);
}

/** The frames of `range` out of blocks that lie in memory, without copying. */
function* slices(kept: readonly AudioBlock[], { startFrame, endFrame }: FrameRange): Generator<AudioBlock> {
  let at = 0;
  for (const block of kept) {
    const length = block[0].length;
    const from = Math.max(0, startFrame - at);
    const to = Math.min(length, endFrame - at);
    if (from < to) yield block.map((samples) => samples.subarray(from, to));
    at += length;
    if (at >= endFrame) return;
  }
}

async function measureTake(
  format: AudioFormat & { rootNote: string | null },
  region: SlatedRegion,
  blocks: Iterable<AudioBlock> | AsyncIterable<AudioBlock>,
  identity: SampleIdentity | null,
  preview: PreviewWriter | null,
): Promise<{ measurements: Measurements; waveform: Waveform }> {
  const measurer = new SoundMeasurer({
    sampleRateHz: format.sampleRateHz,
    channels: format.channels,
    bitDepth: format.bitDepth,
    channelMask: format.channelMask,
    rootNote: format.rootNote,
    totalFrames: region.endFrame - region.startFrame,
    slate: region.slate && {
      endFrame: region.slate.endFrame - region.startFrame,
      resumeFrame: region.slate.resumeFrame - region.startFrame,
    },
  });
  for await (const block of blocks) {
    identity?.push(block);
    measurer.push(block);
    await preview?.push(block);
  }
  return measurer.finish();
}

function noteOfMidi(midi: number | null): string | null {
  return midi === null ? null : noteOf(440 * 2 ** ((midi - 69) / 12)).note;
}

async function payloadDigest(stream: AudioStream): Promise<string> {
  const hash = createHash('sha256');
  await stream.hashPayload(hash);
  return hash.digest('hex');
}
