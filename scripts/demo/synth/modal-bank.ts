/**
 * Modal synthesis: a struck, scraped or bowed body is a row of damped resonators, one a mode. Each is the two-pole
 * recursion y[n] = g x[n] + 2 r cos(w) y[n-1] - r^2 y[n-2], whose answer to an impulse is a decaying sine.
 */

export interface Mode {
  hz: number;
  /** Time in which the mode falls by 60 dB. */
  t60Seconds: number;
  /** Amplitude of the decaying sine for an impulse of area 1. */
  gain: number;
  /** Share of the mode heard on the left and on the right; may be negative (a node line lies between). */
  left: number;
  right: number;
  /** Time the mode takes to speak after a blow: energy reaches a gong's upper modes late. 0 = at once. */
  riseSeconds: number;
}

/** Beyond this fall after the last excitation a mode is no longer computed. */
const INAUDIBLE_DB = 100;

/**
 * Adds the modes' answer to `excitation` into `outputs` (one buffer: left and right summed; two: left, right). Modes
 * above 0.45 of the rate are left out: the recording would not hold them.
 */
export function addModes(
  outputs: Float32Array[],
  modes: readonly Mode[],
  excitation: Float32Array,
  rateHz: number,
): void {
  for (const mode of modes) {
    if (mode.hz > 0.45 * rateHz || mode.hz < 15) continue;
    addResonator(outputs, mode, mode.t60Seconds, mode.gain, excitation, rateHz);
    // A mode that speaks late is a slowly dying one minus a quickly dying one: zero at the blow, then a swell.
    if (mode.riseSeconds > 0) {
      const together = (mode.riseSeconds * mode.t60Seconds) / (mode.riseSeconds + mode.t60Seconds);
      addResonator(outputs, mode, together, -mode.gain, excitation, rateHz);
    }
  }
}

function addResonator(
  outputs: Float32Array[],
  mode: Mode,
  t60Seconds: number,
  gain: number,
  excitation: Float32Array,
  rateHz: number,
): void {
  const left = outputs[0];
  const right = outputs.length > 1 ? outputs[1] : null;
  const leftGain = right === null ? (mode.left + mode.right) / 2 : mode.left;
  const rightGain = mode.right;
  const angle = (2 * Math.PI * mode.hz) / rateHz;
  const radius = 10 ** (-3 / (t60Seconds * rateHz));
  const c1 = 2 * radius * Math.cos(angle);
  const c2 = radius * radius;
  const input = gain * Math.sin(angle);
  const ringFrames = Math.ceil((t60Seconds * rateHz * INAUDIBLE_DB) / 60);
  const driven = Math.min(excitation.length, left.length);
  const end = Math.min(left.length, driven + ringFrames);
  let last = 0;
  let beforeLast = 0;
  for (let index = 0; index < end; index += 1) {
    const value = (index < driven ? input * excitation[index] : 0) + c1 * last - c2 * beforeLast;
    beforeLast = last;
    last = value;
    left[index] += leftGain * value;
    if (right !== null) right[index] += rightGain * value;
  }
}

/**
 * Seconds after a blow at which the modes' summed energy has fallen by `dropDb` from where it began, from their decay
 * times alone: E(t) = sum gain^2 10^(-6 t / t60).
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
  let high = 1;
  while (energyAt(high) > target && high < 120) high *= 2;
  for (let step = 0; step < 40; step += 1) {
    const middle = (low + high) / 2;
    if (energyAt(middle) > target) low = middle;
    else high = middle;
  }
  return high;
}
