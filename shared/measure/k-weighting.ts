/**
 * The K-weighting filter of ITU-R BS.1770-5 at any sample rate.
 *
 * The standard gives two biquads for 48 kHz and asks for the same response at other rates. Each biquad is taken back
 * to the analogue filter it is the bilinear transform of (z = (1+p)/(1-p), where p stands at j tan(pi f / 48000)) and
 * transformed again for the wanted rate, with the frequency axis stretched so that one chosen frequency stays put.
 */
export interface Biquad {
  b0: number;
  b1: number;
  b2: number;
  a1: number;
  a2: number;
}

const TABLE_RATE_HZ = 48_000;
/** BS.1770-5 Table 1: the head as a sphere, a high shelf. */
const SHELF: Biquad = {
  b0: 1.53512485958697,
  b1: -2.69169618940638,
  b2: 1.19839281085285,
  a1: -1.69065929318241,
  a2: 0.73248077421585,
};
/** BS.1770-5 Table 2: the revised low-frequency B-curve, a high-pass. */
const HIGH_PASS: Biquad = { b0: 1, b1: -2, b2: 1, a1: -1.99004745483398, a2: 0.99007225036621 };
/** The frequencies that stay put: the middle of the shelf's slope, and the high-pass corner. */
const SHELF_MATCH_HZ = 1_500;
const HIGH_PASS_MATCH_HZ = 38;

export function kWeighting(sampleRateHz: number): { shelf: Biquad; highPass: Biquad } {
  return {
    shelf: biquadAtRate(SHELF, SHELF_MATCH_HZ, sampleRateHz),
    highPass: biquadAtRate(HIGH_PASS, HIGH_PASS_MATCH_HZ, sampleRateHz),
  };
}

function biquadAtRate(table: Biquad, matchHz: number, sampleRateHz: number): Biquad {
  if (sampleRateHz === TABLE_RATE_HZ) return table;
  const stretch = Math.tan((Math.PI * matchHz) / TABLE_RATE_HZ) / Math.tan((Math.PI * matchHz) / sampleRateHz);
  const top = stretched(table.b0, table.b1, table.b2, stretch);
  const bottom = stretched(1, table.a1, table.a2, stretch);
  return {
    b0: top[0] / bottom[0],
    b1: top[1] / bottom[0],
    b2: top[2] / bottom[0],
    a1: bottom[1] / bottom[0],
    a2: bottom[2] / bottom[0],
  };
}

/** c0 + c1 z^-1 + c2 z^-2 to a polynomial in p, p scaled by `stretch`, and back. */
function stretched(c0: number, c1: number, c2: number, stretch: number): [number, number, number] {
  // With z^-1 = (1-p)/(1+p): times (1+p)^2 gives constant, linear and square terms in p.
  const constant = c0 + c1 + c2;
  const linear = 2 * (c0 - c2) * stretch;
  const square = (c0 - c1 + c2) * stretch * stretch;
  return [constant + linear + square, 2 * (constant - square), constant - linear + square];
}
