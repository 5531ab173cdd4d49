/**
 * Modal synthesis: a struck or scraped body is a row of damped resonators, one a mode. Each is the two-pole recursion
 * y[n] = g x[n] + 2 r cos(w) y[n-1] - r^2 y[n-2], whose answer to an impulse is a decaying sine.
 */

export interface Mode {
  hz: number;
  /** Time in which the mode falls by 60 dB. */
  t60Seconds: number;
  /** Amplitude of the decaying sine for an impulse of area 1. */
  gain: number;
  /** Share of the mode heard by the left and by the right microphone. */
  left: number;
  right: number;
  /** How far the right microphone's wave is turned against the left one's, in radians: they stand apart. */
  turn: number;
  /** Time the mode takes to speak after a blow: energy reaches a gong's upper modes late. 0 = at once. */
  riseSeconds: number;
  /** Share by which the mode starts sharp after a blow, as a hard-hit skin does; falls to 0 in about 0.1 s. */
  sharpness: number;
}

/** Beyond this fall after the last excitation a mode is no longer computed. */
const INAUDIBLE_DB = 84;

/**
 * Adds the modes' answer to `excitation` into `outputs` (one buffer: left and right summed; two: left, right). Modes
 * above 0.45 of the rate are left out: the recording would not hold them.
 */
export function addModes(
  outputs: readonly Float32Array[],
  modes: readonly Mode[],
  excitation: Float32Array,
  rateHz: number,
): void {
  const driven = trimmedLength(excitation);
  if (driven === 0) return;
  const force = excitation.subarray(0, driven);
  for (const mode of modes) {
    if (mode.hz > 0.45 * rateHz || mode.hz < 15) continue;
    addResonator(outputs, mode, mode.t60Seconds, mode.gain, force, rateHz);
    // A mode that speaks late is a slowly dying one minus a quickly dying one: zero at the blow, then a swell.
    if (mode.riseSeconds > 0) {
      const together = (mode.riseSeconds * mode.t60Seconds) / (mode.riseSeconds + mode.t60Seconds);
      addResonator(outputs, mode, together, -mode.gain, force, rateHz);
    }
  }
}

function addResonator(
  outputs: readonly Float32Array[],
  mode: Mode,
  t60Seconds: number,
  gain: number,
  force: Float32Array,
  rateHz: number,
): void {
  const left = outputs[0];
  const right = outputs.length > 1 ? outputs[1] : null;
  const angle = (2 * Math.PI * mode.hz) / rateHz;
  const leftGain = mode.left;
  // A sine turned by any angle is a sum of its last two samples.
  const { now, former } = turned(mode, angle);
  const radius = 10 ** (-3 / (t60Seconds * rateHz));
  const c2 = radius * radius;
  const input = gain * Math.sin(angle);
  const driven = Math.min(force.length, left.length);
  const ringFrames = Math.ceil((t60Seconds * rateHz * INAUDIBLE_DB) / 60);
  const end = Math.min(left.length, driven + ringFrames);
  // A skin's pitch falls while its tension relaxes: the angle moves in steps of a millisecond.
  const stepFrames = mode.sharpness > 0 ? Math.round(rateHz / 1000) : end;
  let last = 0;
  let beforeLast = 0;
  for (let start = 0; start < end; start += stepFrames) {
    const sharp = 1 + mode.sharpness * Math.exp((-30 * start) / rateHz);
    const c1 = 2 * radius * Math.cos(angle * sharp);
    const stop = Math.min(end, start + stepFrames);
    const drivenStop = Math.max(start, Math.min(stop, driven));
    for (let index = start; index < drivenStop; index += 1) {
      const value = input * force[index] + c1 * last - c2 * beforeLast;
      left[index] += leftGain * value;
      if (right !== null) right[index] += now * value + former * last;
      beforeLast = last;
      last = value;
    }
    if (right === null) {
      for (let index = drivenStop; index < stop; index += 1) {
        const value = c1 * last - c2 * beforeLast;
        beforeLast = last;
        last = value;
        left[index] += leftGain * value;
      }
    } else {
      for (let index = drivenStop; index < stop; index += 1) {
        const value = c1 * last - c2 * beforeLast;
        left[index] += leftGain * value;
        right[index] += now * value + former * last;
        beforeLast = last;
        last = value;
      }
    }
  }
}

/** Weights of a sine's present and former sample that give the right microphone's wave. */
export function turned(mode: Mode, angle: number): { now: number; former: number } {
  const former = -Math.sin(mode.turn) / Math.sin(angle);
  return { now: mode.right * (Math.cos(mode.turn) - former * Math.cos(angle)), former: mode.right * former };
}

/** Length without trailing zeros, so that the ring after short blows is counted from their end. */
function trimmedLength(excitation: Float32Array): number {
  let length = excitation.length;
  while (length > 0 && excitation[length - 1] === 0) length -= 1;
  return length;
}

/**
 * Seconds after a blow at which the modes' summed energy has fallen by `dropDb` from where it began, from their gains and
 * decay times alone: E(t) = sum gain^2 10^(-6 t / t60).
 */
export function modesFallSeconds(modes: readonly Mode[], dropDb: number): number {
  const energyAt = (seconds: number) => {
    let energy = 0;
    for (const mode of modes) {
      const share = (mode.left * mode.left + mode.right * mode.right) / 2;
      energy += mode.gain * mode.gain * share * 10 ** ((-6 * seconds) / mode.t60Seconds);
    }
    return energy;
  };
  const target = energyAt(0) * 10 ** (-dropDb / 10);
  if (!(target > 0)) return 0;
  let low = 0;
  let high = 0.5;
  while (energyAt(high) > target && high < 200) high *= 2;
  for (let step = 0; step < 24; step += 1) {
    const middle = (low + high) / 2;
    if (energyAt(middle) > target) low = middle;
    else high = middle;
  }
  return high;
}
