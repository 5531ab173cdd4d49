/** Audio and its truth to the bytes of the planned format, with the text the plan wants embedded. */
import type { AudioFilePlan } from '../plan/file-plan.ts';
import type { SoundTruth } from '../truth.ts';
import { encodeAiff } from './aiff.ts';
import type { Chunk } from './chunks.ts';
import { encodeFlac } from './flac.ts';
import { encodeMp3, encodeOgg } from './lossy.ts';
import { encodeWav } from './wav.ts';
import { bextChunk, infoChunk, ixmlChunk, type Mark, markChunks, samplerChunk } from './wav-text.ts';

export async function encodeFile(
  channels: readonly Float32Array[],
  plan: AudioFilePlan,
  sounds: readonly SoundTruth[],
): Promise<Uint8Array<ArrayBuffer>> {
  const { embedded, sampleRateHz } = plan;
  const sampleFormat = plan.bitDepth === 32 ? 'float32' : plan.bitDepth === 24 ? 'int24' : 'int16';
  const title = embedded.title ?? '';
  const comment = embedded.comment ?? '';
  const keywords = embedded.keywords === true ? sharedKeywords(sounds).join(';') : '';
  switch (plan.format) {
    case 'WAV':
      return encodeWav(channels, {
        sampleRateHz,
        sampleFormat,
        container: plan.container ?? 'plain',
        before: chunksBefore(plan),
        after: [
          ...(isMarked(plan) ? markChunks(marksOf(plan, sounds)) : []),
          ...samplerChunks(channels, plan, sounds),
          ...infoChunks({ INAM: title, ICMT: comment, IKEY: keywords }),
        ],
      });
    case 'AIFF':
      return encodeAiff(channels, {
        sampleRateHz,
        sampleFormat,
        name: title,
        annotation: comment,
        marks: isMarked(plan) ? marksOf(plan, sounds) : [],
      });
    case 'FLAC': {
      const comments = { TITLE: title, DESCRIPTION: comment, DATE: embedded.date ?? '', KEYWORDS: keywords };
      return encodeFlac(channels, {
        sampleRateHz,
        bitDepth: plan.bitDepth === 16 ? 16 : 24,
        comments: Object.fromEntries(Object.entries(comments).filter(([, text]) => text !== '')),
      });
    }
    case 'MP3':
      return encodeMp3(channels, sampleRateHz, { title, comment });
    case 'Ogg Vorbis':
      return encodeOgg(channels, sampleRateHz);
  }
}

/** Keywords true of every sound in the file, in the order of the first. */
function sharedKeywords(sounds: readonly SoundTruth[]): string[] {
  const [first, ...others] = sounds;
  if (first === undefined) return [];
  return first.keywords.filter((word) => others.every((sound) => sound.keywords.includes(word)));
}

function chunksBefore(plan: AudioFilePlan): Chunk[] {
  const { embedded, sampleRateHz, bitDepth, channels } = plan;
  const chunks: Chunk[] = [];
  if (embedded.originator !== undefined) {
    const time = embedded.time ?? '09:00:00';
    const [hours, minutes, seconds] = time.split(':').map(Number);
    chunks.push(
      bextChunk({
        description: embedded.description ?? '',
        originator: embedded.originator,
        date: embedded.date ?? '',
        time,
        timeReferenceSamples: (hours * 3600 + minutes * 60 + seconds) * sampleRateHz,
        codingHistory: `A=PCM,F=${sampleRateHz},W=${bitDepth},M=${channels === 1 ? 'mono' : 'stereo'}\r\n`,
      }),
    );
  }
  if (embedded.scene !== undefined) {
    chunks.push(ixmlChunk({ project: 'TIDAL ISLAND', scene: embedded.scene, take: '1', note: embedded.comment ?? '' }));
  }
  return chunks;
}

function samplerChunks(channels: readonly Float32Array[], plan: AudioFilePlan, sounds: readonly SoundTruth[]): Chunk[] {
  const pitchHz = sounds.find((sound) => sound.pitchHz !== null)?.pitchHz ?? null;
  const root = plan.embedded.rootNote === true ? pitchHz : null;
  const loop = plan.loopSeconds === undefined ? null : { startFrame: 0, endFrame: channels[0].length - 1 };
  return root === null && loop === null ? [] : [samplerChunk(plan.sampleRateHz, root, loop)];
}

function infoChunks(texts: Record<string, string>): Chunk[] {
  return Object.values(texts).some((text) => text !== '') ? [infoChunk(texts)] : [];
}

function isMarked(plan: AudioFilePlan): boolean {
  return plan.division === 'regions' || plan.division === 'points';
}

/** Whoever set the regions let the room die: they end a little after the sound. */
const REGION_MARGIN_SECONDS = 0.3;

function marksOf(plan: AudioFilePlan, sounds: readonly SoundTruth[]): Mark[] {
  return sounds.map((sound) => ({
    startFrame: Math.round(sound.startSeconds * plan.sampleRateHz),
    lengthFrames:
      plan.division === 'regions'
        ? Math.round((sound.lengthSeconds + REGION_MARGIN_SECONDS) * plan.sampleRateHz)
        : null,
    label: sound.name,
  }));
}
