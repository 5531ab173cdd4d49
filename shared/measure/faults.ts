/**
 * What may be wrong with a recording. Each fault is a suspicion with its reason in words; intended textures (a gated
 * loop, a hard-panned sound) should rarely meet one, so the bounds lean towards silence.
 */
import type { Decibels, FaultDetail, FaultKind, Gesture, Seconds } from '../sound.ts';
import type { Levels } from './levels.ts';
import type { Loudness } from './loudness.ts';
import type { Movement } from './movement.ts';
import type { SignalFlaws } from './signal-watch.ts';
import type { Stereo } from './stereo.ts';

export interface FaultEvidence {
  durationSeconds: Seconds;
  channels: number;
  levels: Levels;
  loudness: Loudness;
  movement: Pick<Movement, 'noiseFloorDbfs' | 'activeStartSeconds' | 'activeSeconds'> & { gesture: Gesture | null };
  stereo: Stereo;
  flaws: SignalFlaws;
}

const LOW_LEVEL_DBFS: Decibels = -40;
const HIGH_NOISE_DBFS: Decibels = -55;
const LEAST_SIGNAL_TO_NOISE_DB = 35;
const DC_SHARE = 0.005;
const DEAD_CHANNEL_DB: Decibels = -70;

export function findFaults(evidence: FaultEvidence): FaultDetail[] {
  const { levels, stereo, flaws, loudness, movement } = evidence;
  if (levels.samplePeakDbfs === null || movement.activeStartSeconds === null) {
    return [fault('silent', 'serious', null, 'Nothing is heard in this sound.')];
  }
  const found: FaultDetail[] = [];
  if (levels.clippedSamples > 0) {
    const many = levels.clippedSamples >= 30;
    found.push(fault('clipping', many ? 'serious' : 'warning', levels.firstClipSeconds, clippingSentence(levels)));
  }
  if (Math.abs(flaws.steadyOffset) >= DC_SHARE) {
    const percent = (100 * flaws.steadyOffset).toFixed(1);
    found.push(fault('dc-offset', 'warning', null, `The wave stands off centre by ${percent} % of full scale.`));
  }
  for (const dropout of flaws.dropouts.slice(0, 1)) {
    const more = flaws.dropouts.length > 1 ? ` and ${flaws.dropouts.length - 1} more` : '';
    found.push(
      fault('dropout', 'serious', dropout.seconds, `${dropout.what} at ${dropout.seconds.toFixed(2)} s${more}.`),
    );
  }
  for (const channel of flaws.channelPeaksDbfs.keys()) {
    const others = Math.max(...flaws.channelPeaksDbfs.filter((_, other) => other !== channel));
    if (evidence.channels < 2 || flaws.channelPeaksDbfs[channel] > others + DEAD_CHANNEL_DB) continue;
    found.push(fault('dead-channel', 'note', null, `Channel ${channel + 1} is silent.`));
    break;
  }
  if (stereo.differenceShare !== null && stereo.differenceShare < 1e-9) {
    found.push(fault('mono-as-stereo', 'note', null, 'Both channels are the same: the sound is mono.'));
  }
  if (stereo.correlation !== null && stereo.correlation < -0.9) {
    found.push(
      fault('inverted-channel', 'serious', null, 'One channel is the other turned over: in mono they cancel.'),
    );
  }
  if (levels.samplePeakDbfs < LOW_LEVEL_DBFS) {
    found.push(fault('low-level', 'warning', null, `The peak reaches only ${levels.samplePeakDbfs.toFixed(0)} dBFS.`));
  }
  const floor = movement.noiseFloorDbfs;
  const loudest = loudness.momentaryMaxLufs;
  if (floor !== null && loudest !== null && floor > HIGH_NOISE_DBFS && loudest - floor < LEAST_SIGNAL_TO_NOISE_DB) {
    found.push(fault('high-noise-floor', 'warning', null, `The background noise lies at ${floor.toFixed(0)} dBFS.`));
  }
  return found;
}

export function faultKinds(details: readonly FaultDetail[]): FaultKind[] {
  return [...new Set(details.map((detail) => detail.kind))];
}

function fault(
  kind: FaultKind,
  severity: FaultDetail['severity'],
  seconds: Seconds | null,
  message: string,
): FaultDetail {
  return { kind, severity, seconds, message };
}

function clippingSentence(levels: Levels): string {
  const at = levels.firstClipSeconds === null ? '' : `, first at ${levels.firstClipSeconds.toFixed(2)} s`;
  return `${levels.clippedSamples} samples are cut flat at the top${at}.`;
}
