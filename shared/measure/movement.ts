/** How loudness moves: everything about a sound that its envelope alone tells. */
import type { Gesture, Measurements, Seconds } from '../sound.ts';
import { CONTOUR_POINTS } from '../sound.ts';
import { ACCENT_RANGE_DB, findStrikes } from './accents.ts';
import { type ActivePart, findActivePart } from './active.ts';
import { attackSeconds, decaySeconds } from './attack.ts';
import { findClimax } from './climax.ts';
import { loudnessContour } from './contour.ts';
import { type Body, bodyOf, humpsOf, PARTS } from './course.ts';
import type { Envelope } from './envelope.ts';
import { gestureOf } from './gesture.ts';
import { pulseOf, tremoloOf } from './periodicity.ts';
import { powerOf, RunningMean } from './running.ts';

/** The measurements told from how the level moves. */
export type Movement = Pick<
  Measurements,
  | 'noiseFloorDbfs'
  | 'activeStartSeconds'
  | 'activeSeconds'
  | 'attackSeconds'
  | 'decaySeconds'
  | 'temporalCentroid'
  | 'climaxSeconds'
  | 'accents'
  | 'gesture'
  | 'contour'
  | 'pulseBpm'
  | 'tremoloHz'
>;

/** Everything null, no accents and a flat contour for silence. */
export function measureMovement(envelope: Envelope, durationSeconds: Seconds): Movement {
  const hop = envelope.hopSeconds;
  const running = new RunningMean(envelope.levelDb.map(powerOf));
  const active = envelope.frames > 0 ? findActivePart(running, hop) : null;
  if (active === null) return still();
  const seconds = (step: number): Seconds => Math.min(durationSeconds, Math.max(0, step * hop));
  const activeStartSeconds = seconds(active.startStep);
  const activeSeconds = seconds(active.endStep) - activeStartSeconds;

  const least = Math.max(active.floorPower, active.peakPower * powerOf(-ACCENT_RANGE_DB));
  const strikes = findStrikes(envelope, running, least).filter(
    (strike) => strike.step > active.startStep - 50 && strike.step < active.endStep,
  );
  const fillsFile = activeSeconds > 0.9 * durationSeconds && active.noiseFloorDbfs === null;
  const humps = humpsOf(running, active, hop);
  const pulse = pulseOf(strikes, humps, fillsFile ? durationSeconds : null);
  const climax = findClimax(running, active, strikes, hop);
  const body = bodyOf(running, active, climax.step, climax.power, hop);
  const parts = humpsOf(running, active, hop, PARTS);
  const gesture = gestureOf({
    activeSeconds,
    climax,
    body,
    humps,
    parts,
    strikes,
    pulse,
  });
  const trembles = SUSTAINED.includes(gesture) || pulse?.kind === 'humps';
  const tremolo = trembles ? tremoloOf(amplitudeOf(running, body), hop * TREMOLO_STEPS) : null;
  return {
    noiseFloorDbfs: active.noiseFloorDbfs,
    activeStartSeconds,
    activeSeconds,
    attackSeconds: attackSeconds(running, active.startStep, active.endStep, hop),
    decaySeconds: decaySeconds(running, climax.step, active.endStep, hop),
    temporalCentroid: temporalCentroid(running, active),
    climaxSeconds: seconds(climax.step),
    accents: strikes.map((strike) => ({ seconds: seconds(strike.step), strengthDb: strike.strengthDb })),
    gesture,
    contour: loudnessContour(running, hop),
    pulseBpm: pulse?.isTempo && gesture !== 'riser' ? 60 / pulse.periodSeconds : null,
    tremoloHz: tremolo?.hertz ?? null,
  };
}

/** Gestures whose sound lasts long enough to tremble. */
const SUSTAINED: readonly Gesture[] = ['drone', 'swell', 'fade'];
const TREMOLO_STEPS = 10;

/** Amplitude of the body between its rise and its fall, one value every TREMOLO_STEPS. */
function amplitudeOf(running: RunningMean, { highStartStep, highEndStep }: Body): Float64Array {
  const count = Math.max(0, Math.floor((highEndStep - highStartStep) / TREMOLO_STEPS));
  return Float64Array.from({ length: count }, (_, k) => {
    const from = highStartStep + k * TREMOLO_STEPS;
    return Math.sqrt(running.mean(from, from + TREMOLO_STEPS));
  });
}

/**
 * sum(t a(t)) / sum(a(t)) over the active part, as a share of its length: the temporal centroid of MPEG-7 (ISO/IEC 15938-4)
 * with a = amplitude (5 ms means) less the noise floor's. 2/3 for a linear crescendo, 1/3 for its mirror image.
 */
function temporalCentroid(running: RunningMean, active: ActivePart): number | null {
  const start = Math.floor(active.startStep);
  const length = Math.ceil(active.endStep) - start;
  let total = 0;
  let moment = 0;
  for (let i = 0; i < length; i++) {
    const amplitude = Math.sqrt(Math.max(0, running.mean(start + i - 2, start + i + 3) - active.floorPower));
    total += amplitude;
    moment += amplitude * (i + 0.5);
  }
  return total > 0 ? moment / total / length : null;
}

function still(): Movement {
  return {
    noiseFloorDbfs: null,
    activeStartSeconds: null,
    activeSeconds: null,
    attackSeconds: null,
    decaySeconds: null,
    temporalCentroid: null,
    climaxSeconds: null,
    accents: [],
    gesture: null,
    contour: new Array<number>(CONTOUR_POINTS).fill(0),
    pulseBpm: null,
    tremoloHz: null,
  };
}
