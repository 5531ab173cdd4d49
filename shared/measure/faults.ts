/**
 * What may be wrong with a recording. Each fault is a suspicion with its reason in words. Intended textures (a gated
 * loop, a hard-panned sound, a held synthesiser) should rarely meet one, so every bound leans towards saying nothing.
 * The bounds are common practice, no published rule.
 */
import type { Decibels, FaultDetail, FaultKind, Seconds, Severity } from '../sound.ts';
import type { EdgeLevels } from './edge-levels.ts';
import type { Hum } from './hum.ts';
import type { Levels } from './levels.ts';
import type { Loudness } from './loudness.ts';
import type { Movement } from './movement.ts';
import type { Dropout, SignalFlaws } from './signal-watch.ts';
import type { Stereo } from './stereo.ts';

export interface FaultEvidence {
  durationSeconds: Seconds;
  /** null for lossy codecs. */
  bitDepth: number | null;
  levels: Levels;
  loudness: Loudness;
  movement: Pick<Movement, 'noiseFloorDbfs' | 'activeStartSeconds' | 'gesture'>;
  stereo: Stereo;
  flaws: SignalFlaws;
  hum: Hum | null;
  edges: EdgeLevels;
}

const MANY_CLIPPED_SAMPLES = 30;
const LEAST_OFFSET = 0.005;
/** Few bits cannot stand nearer to the centre than half a step; what is a step and a half off was not rounded there. */
const LEAST_OFFSET_STEPS = 1.5;
const DEAD_BELOW_OTHERS_DB: Decibels = 70;
const ALIKE_SHARE = 1e-9;
/**
 * Lossy codecs leave a little between two equal channels: MP3 and Vorbis nothing, Opus at 64 kbit/s up to 2e-6. A side that is
 * 40 dB down, the faintest room there is to be heard, comes out of all of them above 6e-5 (own measuring, no source).
 */
const ALIKE_SHARE_LOSSY = 1e-5;
const INVERTED_CORRELATION = -0.95;
const LOW_PEAK_DBFS: Decibels = -36;
const HIGH_FLOOR_DBFS: Decibels = -55;
const LEAST_SOUND_OVER_FLOOR_DB: Decibels = 35;
/** What rises less over its quietest moments is a sound that holds: an engine, a choir, a fire. */
const LEAST_OVER_BACKGROUND_DB: Decibels = 15;
/** A background is heard by itself for so long. */
const LEAST_BACKGROUND_SECONDS: Seconds = 0.15;
const CUT_OFF_DBFS: Decibels = -50;
const CUT_OFF_BELOW_LOUDEST_DB: Decibels = 30;
const CLEARLY_CUT_OFF_DB: Decibels = 20;
const CUT_OFF_ABOVE_FLOOR_DB: Decibels = 12;
/** A cut ends at once; a straight fade over 5 ms has its last millisecond 13 dB below, a longer one further. */
const FADED_DB: Decibels = 12;
/** What has not begun to die away by so much stops on purpose. */
const LEAST_DIED_AWAY_DB: Decibels = 4;
/** What would be over sooner anyhow is not missed. */
const LEAST_MISSED_SECONDS: Seconds = 0.25;

export function findFaults(evidence: FaultEvidence): FaultDetail[] {
  if (evidence.levels.samplePeakDbfs === null || evidence.movement.activeStartSeconds === null) {
    return [{ kind: 'silent', severity: 'serious', seconds: null, message: 'Nothing is heard in this sound.' }];
  }
  return [clipping, offset, dropout, hum, channels, level, noise, tail].flatMap((look) => look(evidence) ?? []);
}

/** The kinds among them, each once. */
export function faultKinds(details: readonly FaultDetail[]): FaultKind[] {
  return [...new Set(details.map((detail) => detail.kind))];
}

function clipping({ levels }: FaultEvidence): FaultDetail | null {
  const { clippedSamples, firstClipSeconds } = levels;
  if (clippedSamples === 0) return null;
  const severity: Severity = clippedSamples >= MANY_CLIPPED_SAMPLES ? 'serious' : 'warning';
  const peaks = `${clippedSamples} samples are cut off flat at the top`;
  return { kind: 'clipping', severity, seconds: firstClipSeconds, message: `${peaks}, ${at(firstClipSeconds ?? 0)}.` };
}

/** Told as the one figure that stands for it everywhere, where the wave keeps to that side. */
function offset({ flaws, levels }: FaultEvidence): FaultDetail | null {
  const { dcOffset, quantisationStep } = levels;
  const least = Math.max(LEAST_OFFSET, LEAST_OFFSET_STEPS * quantisationStep);
  const isSteady = Math.min(flaws.steadyOffset * Math.sign(dcOffset), Math.abs(dcOffset)) >= least;
  if (!isSteady) return null;
  const percent = (100 * dcOffset).toFixed(1);
  const message = `The wave stands ${percent} % of full scale off centre: cuts will click and headroom is lost.`;
  return { kind: 'dc-offset', severity: 'warning', seconds: null, message };
}

function dropout({ flaws }: FaultEvidence): FaultDetail | null {
  const first: Dropout | undefined = flaws.dropouts[0];
  if (first === undefined) return null;
  const length = `${(1000 * first.lengthSeconds).toFixed(1)} ms`;
  const what = first.kind === 'hole' ? `The sound is missing for ${length}` : `A block of ${length} is played twice`;
  const others = flaws.dropouts.length - 1;
  const more = others === 0 ? '' : others === 1 ? ', and once more' : `, and ${others} times more`;
  return {
    kind: 'dropout',
    severity: 'serious',
    seconds: first.seconds,
    message: `${what} ${at(first.seconds)}${more}.`,
  };
}

function hum({ hum: found, edges: { loudestDbfs } }: FaultEvidence): FaultDetail | null {
  if (found === null) return null;
  const severity: Severity = found.levelDbfs > loudestDbfs - 40 ? 'warning' : 'note';
  const message = `Mains hum at ${found.mainsHz} Hz and its multiples, ${found.levelDbfs.toFixed(0)} dBFS.`;
  return { kind: 'hum', severity, seconds: null, message };
}

function channels({ flaws, stereo, bitDepth }: FaultEvidence): FaultDetail | null {
  const peaks = flaws.channelPeaksDbfs;
  const loudest = Math.max(...peaks);
  const dead = peaks.findIndex((peak) => peak < loudest - DEAD_BELOW_OTHERS_DB);
  if (dead >= 0) {
    const message = `Channel ${dead + 1} of ${peaks.length} is silent.`;
    return { kind: 'dead-channel', severity: 'note', seconds: null, message };
  }
  if (peaks.length !== 2) return null;
  const alike = bitDepth === null ? ALIKE_SHARE_LOSSY : ALIKE_SHARE;
  if (stereo.differenceShare !== null && stereo.differenceShare < alike) {
    const butFor = stereo.differenceShare < ALIKE_SHARE ? '' : ' but for traces of the codec';
    const message = `Both channels are the same${butFor}: this is mono in a stereo file.`;
    return { kind: 'mono-as-stereo', severity: 'note', seconds: null, message };
  }
  if (stereo.correlation !== null && stereo.correlation < INVERTED_CORRELATION) {
    const message = 'One channel is the other upside down: played in mono they cancel.';
    return { kind: 'inverted-channel', severity: 'serious', seconds: null, message };
  }
  return null;
}

function level({ levels }: FaultEvidence): FaultDetail | null {
  const peak = levels.samplePeakDbfs;
  if (peak === null || peak >= LOW_PEAK_DBFS) return null;
  const message = `Recorded very low: the highest peak is ${peak.toFixed(0)} dBFS.`;
  return { kind: 'low-level', severity: 'warning', seconds: null, message };
}

/** Only where the background is heard alone: the quieter moments of a sound that holds throughout are the sound itself. */
function noise({ movement, edges: { loudestDbfs, backgroundSeconds } }: FaultEvidence): FaultDetail | null {
  const floor = movement.noiseFloorDbfs;
  if (floor === null || floor < HIGH_FLOOR_DBFS || backgroundSeconds < LEAST_BACKGROUND_SECONDS) return null;
  const above = loudestDbfs - floor;
  if (above > LEAST_SOUND_OVER_FLOOR_DB || above < LEAST_OVER_BACKGROUND_DB) return null;
  const message = `The background lies at ${floor.toFixed(0)} dBFS; the sound rises only ${above.toFixed(0)} dB above it.`;
  return { kind: 'high-noise-floor', severity: 'warning', seconds: null, message };
}

/** Only sounds that die away can be cut off: a riser, a loop or a drone may stop at full strength on purpose. */
function tail({ movement, edges, durationSeconds }: FaultEvidence): FaultDetail | null {
  const { gesture, noiseFloorDbfs } = movement;
  const { endDbfs, loudestDbfs, endFadesByDb, leftToFallSeconds } = edges;
  if (endFadesByDb > FADED_DB || leftToFallSeconds < LEAST_MISSED_SECONDS) return null;
  const diesAway = gesture === 'hit' || gesture === 'swell' || gesture === 'fade';
  const limit = Math.max(CUT_OFF_DBFS, loudestDbfs - CUT_OFF_BELOW_LOUDEST_DB);
  if (!diesAway || endDbfs < limit || endDbfs < (noiseFloorDbfs ?? -200) + CUT_OFF_ABOVE_FLOOR_DB) return null;
  const below = loudestDbfs - endDbfs;
  if (below < LEAST_DIED_AWAY_DB) return null;
  const message = `The sound is cut off before it has died away: it ends ${below.toFixed(0)} dB below its loudest.`;
  const severity: Severity = below < CLEARLY_CUT_OFF_DB ? 'warning' : 'note';
  return { kind: 'truncated-tail', severity, seconds: durationSeconds, message };
}

function at(seconds: Seconds): string {
  return `at ${seconds.toFixed(2)} s`;
}
