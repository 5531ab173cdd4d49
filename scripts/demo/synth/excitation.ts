/** Forces that set a body ringing: single blows, and the many small contacts of a stroke. */
import { filterInPlace } from './filter.ts';
import { whiteNoise } from './noise.ts';
import type { Random } from './random.ts';
import type { Tool } from './tools.ts';

/** A blow: when, and how hard (1 = full). Harder blows touch for a shorter time and sound brighter. */
export interface Blow {
  seconds: number;
  level: number;
}

/**
 * Pulses of area `level`, one a blow: t exp(-t / tau), quick to rise and slower to let go. Its spectrum falls smoothly, by
 * half at 1 / contact and by 12 dB an octave above.
 */
export function blowForce(
  blows: readonly Blow[],
  contactSeconds: number,
  rateHz: number,
  random: Random,
): Float32Array {
  const last = blows.reduce((latest, blow) => Math.max(latest, blow.seconds), 0);
  const force = new Float32Array(Math.ceil((last + 4 * contactSeconds) * rateHz) + 8);
  for (const blow of blows) {
    const contact = contactSeconds * (1.8 - 0.8 * Math.min(1, blow.level)) * random.range(0.9, 1.1);
    const tau = (contact / (2 * Math.PI)) * rateHz;
    const start = Math.round(blow.seconds * rateHz);
    const frames = Math.min(force.length - start, Math.ceil(10 * tau) + 1);
    let area = 0;
    for (let index = 0; index < frames; index += 1) area += (index + 0.5) * Math.exp(-(index + 0.5) / tau);
    for (let index = 0; index < frames; index += 1) {
      force[start + index] += (blow.level * (index + 0.5) * Math.exp(-(index + 0.5) / tau)) / area;
    }
  }
  return force;
}

/** Spectrum of such a pulse against its value at 0 Hz: 1 / (1 + (w tau)^2), tau = contact / 2 pi. */
export function contactShare(hz: number, contactSeconds: number): number {
  return 1 / (1 + (hz * contactSeconds) ** 2);
}

/** The contact's own noise: short bursts of band noise, peak near each blow's level. */
export function tapNoise(blows: readonly Blow[], tool: Tool, rateHz: number, random: Random): Float32Array {
  const last = blows.reduce((latest, blow) => Math.max(latest, blow.seconds), 0);
  const burstSeconds = 0.012 + 3 * tool.contactSeconds;
  const noise = new Float32Array(Math.ceil((last + burstSeconds) * rateHz) + 8);
  for (const blow of blows) {
    const burst = whiteNoise(Math.round(burstSeconds * rateHz), random);
    filterInPlace(burst, rateHz, { kind: 'band', hz: tool.tapHz, quality: 0.8 });
    const start = Math.round(blow.seconds * rateHz);
    for (let index = 0; index < burst.length; index += 1) {
      const seconds = index / rateHz;
      const rise = Math.min(1, seconds / 0.0004);
      noise[start + index] += blow.level * burst[index] * rise * Math.exp((-6 * seconds) / burstSeconds);
    }
  }
  return noise;
}

/** Exponent from a stroke's speed to its force. */
export const STROKE_HARDNESS = 1.4;

/**
 * The force of a tool drawn over a surface at speed `speedAt` (0..1): contacts come as often as the speed says, each
 * as hard as speed^STROKE_HARDNESS, under a hiss; the whole grows brighter with speed, as real strokes do.
 */
export function strokeForce(
  speedAt: (seconds: number) => number,
  seconds: number,
  tool: Tool,
  rateHz: number,
  random: Random,
): Float32Array {
  const frames = Math.round(seconds * rateHz);
  const force = whiteNoise(frames, random);
  let untilContact = random.unit();
  let speed = 0;
  for (let index = 0; index < frames; index += 1) {
    if (index % 16 === 0) speed = Math.max(0, speedAt(index / rateHz));
    const hardness = speed ** STROKE_HARDNESS;
    let value = force[index] * hardness * tool.hiss * 0.25;
    untilContact -= (speed * tool.contactsPerSecond) / rateHz;
    if (untilContact <= 0) {
      const hard = -Math.log(1 - random.unit());
      value += random.sign() * hard * hardness * (1 - tool.hiss) * 5;
      untilContact = -Math.log(1 - random.unit());
    }
    force[index] = value;
  }
  return filterInPlace(force, rateHz, {
    kind: 'low',
    hz: (at) => tool.strokeHz * (0.12 + 0.88 * Math.max(0, speedAt(at))),
  });
}
