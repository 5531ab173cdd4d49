/** How loudness moves: everything about a sound that its envelope alone tells. */
import type { Accent, Decibels, Gesture, Hertz, Seconds } from '../sound.ts';
import { CONTOUR_POINTS } from '../sound.ts';
import { ACCENT_RANGE_DB, findStrikes } from './accents.ts';
import { findActivePart } from './active.ts';
import { loudnessContour } from './contour.ts';
import { approachTo, bodyOf, findClimax } from './course.ts';
import type { Envelope } from './envelope.ts';
import { gestureOf } from './gesture.ts';
import { pulseOf, tremoloOf } from './periodicity.ts';
import { powerOf, RunningMean } from './running.ts';

export interface Movement {
  noiseFloorDbfs: Decibels | null;
  activeStartSeconds: Seconds | null;
  activeSeconds: Seconds | null;
  attackSeconds: Seconds | null;
  decaySeconds: Seconds | null;
  temporalCentroid: number | null;
  climaxSeconds: Seconds | null;
  accents: Accent[];
  gesture: Gesture | null;
  contour: number[];
  pulseBpm: number | null;
  tremoloHz: Hertz | null;
}

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
  const climax = findClimax(running, active, strikes, hop);
  const climaxSeconds = seconds(climax.step);
  const climaxStep = climax.step;

  const start = Math.floor(active.startStep);
  const end = Math.ceil(active.endStep);
  const amplitude = Float64Array.from({ length: end - start }, (_, i) =>
    Math.sqrt(Math.max(0, running.mean(start + i - 2, start + i + 3) - active.floorPower)),
  );
  const total = amplitude.reduce((sum, value) => sum + value, 0);
  const moment = amplitude.reduce((sum, value, i) => sum + value * (i + 0.5), 0);
  const peak20 = active.peakPower * 0.01;
  let last20 = climaxStep;
  for (let i = Math.floor(climaxStep); i < end; i++) if (running.mean(i - 10, i + 10) > peak20) last20 = i;
  const peakAmplitude = Math.max(...amplitude.filter((_, i) => i % 1 === 0).slice(0, 100000));
  const at90 = amplitude.findIndex((value) => value >= 0.9 * peakAmplitude);
  let at20 = at90;
  while (at20 > 0 && amplitude[at20 - 1] > 0.2 * peakAmplitude) at20--;
  const pulse = pulseOf(strikes);
  const thin = Float64Array.from(new RunningMean(amplitude).thinned(10));
  return {
    noiseFloorDbfs: active.noiseFloorDbfs,
    activeStartSeconds,
    activeSeconds,
    attackSeconds: (at90 - at20) * hop,
    decaySeconds: (last20 - climaxStep) * hop,
    temporalCentroid: total > 0 && amplitude.length > 0 ? moment / total / amplitude.length : null,
    climaxSeconds,
    accents: strikes.map((strike) => ({ seconds: seconds(strike.step), strengthDb: strike.strengthDb })),
    gesture: gestureOf({
      climax,
      approach: approachTo(running, active, climax, hop),
      body: bodyOf(running, active, climax, hop),
      strikes,
      pulse,
    }),
    contour: loudnessContour(running, hop),
    pulseBpm: pulse !== null && pulse.regularity > 0.6 ? 60 / pulse.periodSeconds : null,
    tremoloHz: strikes.length < 3 ? tremoloOf(thin, hop * 10) : null,
  };
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
