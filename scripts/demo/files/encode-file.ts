/** Audio and its truth to the bytes of the planned format, with the text the plan wants embedded. */
import type { FilePlan } from '../plan/file-plan.ts';
import type { SoundTruth } from '../truth.ts';
import type { Chunk } from './chunks.ts';
import type { SampleFormat } from './samples.ts';
import { encodeWav } from './wav.ts';
import { bextChunk, infoChunk, ixmlChunk, type Mark, markChunks, samplerChunk } from './wav-text.ts';

export async function encodeFile(
  channels: readonly Float32Array[],
  plan: FilePlan,
  sounds: readonly SoundTruth[],
): Promise<Uint8Array<ArrayBuffer>> {
  return encodeWav(channels, {
    sampleRateHz: plan.sampleRateHz,
    sampleFormat: sampleFormatOf(plan),
    container: plan.container ?? 'plain',
    ...wavText(channels, plan, sounds),
  });
}

function sampleFormatOf(plan: FilePlan): SampleFormat {
  if (plan.bitDepth === 32) return 'float32';
  return plan.bitDepth === 24 ? 'int24' : 'int16';
}

/** Keywords true of every sound in the file, in the order of the first. */
export function sharedKeywords(sounds: readonly SoundTruth[]): string[] {
  const [first, ...others] = sounds;
  return first === undefined
    ? []
    : first.keywords.filter((word) => others.every((sound) => sound.keywords.includes(word)));
}

function wavText(channels: readonly Float32Array[], plan: FilePlan, sounds: readonly SoundTruth[]) {
  const { embedded, sampleRateHz } = plan;
  const before: Chunk[] = [];
  const after: Chunk[] = [];
  if (embedded.originator !== undefined) {
    const time = embedded.time ?? '09:00:00';
    const [hours, minutes, seconds] = time.split(':').map(Number);
    before.push(
      bextChunk({
        description: embedded.description ?? '',
        originator: embedded.originator,
        date: embedded.date ?? '',
        time,
        timeReferenceSamples: (hours * 3600 + minutes * 60 + seconds) * sampleRateHz,
        codingHistory: `A=PCM,F=${sampleRateHz},W=${plan.bitDepth},M=${plan.channels === 1 ? 'mono' : 'stereo'}\r\n`,
      }),
    );
  }
  if (embedded.scene !== undefined) {
    before.push(ixmlChunk({ project: 'TIDAL ISLAND', scene: embedded.scene, take: '1', note: embedded.comment ?? '' }));
  }
  if (plan.division === 'regions' || plan.division === 'points') after.push(...markChunks(marksOf(plan, sounds)));
  const pitched = sounds.find((sound) => sound.pitchHz !== null);
  if (embedded.rootNote === true || embedded.loop === true) {
    const loop = embedded.loop === true ? { startFrame: 0, endFrame: channels[0].length - 1 } : null;
    after.push(samplerChunk(sampleRateHz, pitched?.pitchHz ?? null, loop));
  }
  const info = {
    INAM: embedded.title ?? '',
    ICMT: embedded.comment ?? '',
    IKEY: embedded.keywords === true ? sharedKeywords(sounds).join(';') : '',
  };
  if (Object.values(info).some((text) => text !== '')) after.push(infoChunk(info));
  return { before, after };
}

function marksOf(plan: FilePlan, sounds: readonly SoundTruth[]): Mark[] {
  return sounds.map((sound) => ({
    startFrame: Math.round(sound.startSeconds * plan.sampleRateHz),
    lengthFrames: plan.division === 'regions' ? Math.round(sound.lengthSeconds * plan.sampleRateHz) : null,
    label: sound.name,
  }));
}
