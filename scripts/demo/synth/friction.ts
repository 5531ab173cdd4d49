/**
 * Bowing and rubbing: a body's modes driven by a force that depends on the speed between bow and body. Where friction falls
 * with slip speed, small movements are fed and grow until the body sticks and slips; squeals, chatter and the slow
 * speaking of a big plate come out of it without being drawn. Friction curve after Bilbao (Numerical Sound Synthesis,
 * 2009, the soft bow characteristic): sqrt(2a) v exp(1/2 - a v^2).
 */
import { type Mode, turned } from './modal-bank.ts';
import { whiteNoise } from './noise.ts';
import type { Random } from './random.ts';

export interface FrictionOptions {
  /** How far the player leans in at a time, 0..1; speed and pressure follow, pressure more. */
  effortAt: (seconds: number) => number;
  /** Full pressure, about 0.2 (a slow, pure tone) to 4 (broken, many-voiced). */
  pressure: number;
  /** Unevenness of the surface, 0..1: rosin grain to rust. */
  grit: number;
  seconds: number;
  rateHz: number;
  random: Random;
}

const CURVE_SHARPNESS = 100;
const CURVE_SLOPE = Math.sqrt(2 * CURVE_SHARPNESS) * Math.exp(0.5);
const TOP_SPEED = 0.2;
/** Keeps the largest slope times the modes' summed answer below 1, where the explicit scheme is stable. */
const PRESSURE_UNIT = 0.25 / CURVE_SLOPE;

/** Adds the bowed modes into `outputs`; returns the friction force, which a contact microphone would also hear. */
export function addBowed(
  outputs: readonly Float32Array[],
  modes: readonly Mode[],
  options: FrictionOptions,
): Float32Array {
  const { rateHz, random } = options;
  const frames = outputs[0].length;
  const bowed = Math.min(frames, Math.round(options.seconds * rateHz));
  const used = modes.filter((mode) => mode.hz > 20 && mode.hz < 0.4 * rateHz);
  const count = used.length;
  const sum = used.reduce((total, mode) => total + mode.gain, 0) || 1;
  const pole1 = new Float64Array(count);
  const pole2 = new Float64Array(count);
  const zero = new Float64Array(count);
  const weight = new Float64Array(count);
  const last = new Float64Array(count);
  const beforeLast = new Float64Array(count);
  const left = new Float64Array(count);
  const rightNow = new Float64Array(count);
  const rightFormer = new Float64Array(count);
  used.forEach((mode, index) => {
    const angle = (2 * Math.PI * mode.hz) / rateHz;
    const radius = 10 ** (-3 / (mode.t60Seconds * rateHz));
    pole1[index] = 2 * radius * Math.cos(angle);
    pole2[index] = radius * radius;
    zero[index] = radius * Math.cos(angle);
    weight[index] = mode.gain / sum;
    const shares = turned(mode, angle);
    left[index] = mode.left;
    rightNow[index] = shares.now;
    rightFormer[index] = shares.former;
  });

  const force = whiteNoise(frames, random);
  const leftOut = outputs[0];
  const rightOut = outputs.length > 1 ? outputs[1] : null;
  let bodySpeed = 0;
  let formerForce = 0;
  let speed = 0;
  let press = 0;
  let rough = 0;
  for (let index = 0; index < frames; index += 1) {
    if (index % 16 === 0) {
      const effort = index < bowed ? Math.max(0, options.effortAt(index / rateHz)) : 0;
      speed = TOP_SPEED * (0.45 + 0.55 * effort);
      press = Math.min(1, 6 * effort) * options.pressure * PRESSURE_UNIT;
    }
    rough += 0.15 * (force[index] - rough);
    let pull = 0;
    if (press > 0) {
      const slip = speed - bodySpeed;
      const curve = CURVE_SLOPE * slip * Math.exp(-CURVE_SHARPNESS * slip * slip) + 0.15 * Math.tanh(slip * 20);
      pull = press * (curve * (1 + options.grit * rough) + 0.5 * options.grit * force[index]);
    }
    bodySpeed = 0;
    let leftSum = 0;
    let rightSum = 0;
    for (let mode = 0; mode < count; mode += 1) {
      const value =
        weight[mode] * (pull - zero[mode] * formerForce) + pole1[mode] * last[mode] - pole2[mode] * beforeLast[mode];
      bodySpeed += value;
      leftSum += left[mode] * value;
      rightSum += rightNow[mode] * value + rightFormer[mode] * last[mode];
      beforeLast[mode] = last[mode];
      last[mode] = value;
    }
    formerForce = pull;
    force[index] = pull;
    leftOut[index] += leftSum;
    if (rightOut !== null) rightOut[index] += rightSum;
  }
  return force;
}
