/**
 * Low-pass filters by the window method: an ideal low-pass (sinc) under a Kaiser window.
 * Kaiser's design formulae as in Oppenheim & Schafer, Discrete-Time Signal Processing, section 7.5.3 (from memory).
 */

/** Shape of the window for a wanted stop-band rejection in dB (above 50 dB). */
export function kaiserBeta(rejectionDb: number): number {
  return 0.1102 * (rejectionDb - 8.7);
}

/** Taps needed for a rejection in dB and a transition width as a share of the sample rate. */
export function kaiserTaps(rejectionDb: number, transitionShare: number): number {
  return Math.ceil((rejectionDb - 7.95) / (2.285 * 2 * Math.PI * transitionShare)) + 1;
}

/** Kaiser window at `position` -1..1; 0 outside. */
export function kaiser(position: number, beta: number): number {
  const inside = 1 - position * position;
  return inside < 0 ? 0 : besselI0(beta * Math.sqrt(inside)) / besselI0(beta);
}

export function sinc(x: number): number {
  if (Math.abs(x) < 1e-12) return 1;
  return Math.sin(Math.PI * x) / (Math.PI * x);
}

function besselI0(x: number): number {
  let term = 1;
  let sum = 1;
  for (let k = 1; term > sum * 1e-17; k++) {
    term *= (x / (2 * k)) ** 2;
    sum += term;
  }
  return sum;
}
