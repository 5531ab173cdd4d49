/** The outline of a sound's loudness: what is drawn as its blade and compared when a shape is asked for. */
import { CONTOUR_POINTS } from '../sound.ts';
import type { RunningMean } from './running.ts';

/**
 * CONTOUR_POINTS values over the whole sound, each the loudest moment of its share of the time (so that a short strike in
 * a long sound keeps its height), as amplitude^0.6 with 1 at the loudest: Stevens' power law of loudness (S. S.
 * Stevens, "The measurement of loudness", JASA 27, 1955), under which 10 dB less is half as loud (value 0.50),
 * -20 dB is 0.25 and -60 dB is 0.016. Silence gives zeros.
 */
export function loudnessContour(running: RunningMean, hopSeconds: number): number[] {
  const cell = running.length / CONTOUR_POINTS;
  const width = Math.max(1, Math.min(Math.round(0.01 / hopSeconds), Math.round(cell)));
  const power = running.smoothed(width);
  const loudest = Array.from({ length: CONTOUR_POINTS }, (_, point) => {
    const from = Math.min(running.length - 1, Math.floor(point * cell));
    const to = Math.max(from + 1, Math.floor((point + 1) * cell));
    let peak = 0;
    for (let i = Math.max(0, from); i < to && i < running.length; i++) peak = Math.max(peak, power[i]);
    return peak;
  });
  const peak = Math.max(...loudest);
  return loudest.map((power) => (peak > 1e-12 ? (power / peak) ** 0.3 : 0));
}
