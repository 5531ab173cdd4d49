/** What repeats in a sound: the rate of its strikes, and the slow trembling of a sustained tone. */
import type { Hertz, Seconds } from '../sound.ts';
import type { Strike } from './accents.ts';
import type { Hump } from './course.ts';
import { mean, quantile, RunningMean } from './running.ts';

export interface Pulse {
  /** Time between beats; for strikes at even intervals, simply the interval. */
  periodSeconds: Seconds;
  /** Strikes at even intervals, strikes that keep to an even grid, or soft humps at even intervals. */
  kind: 'strikes' | 'grid' | 'humps';
  /** It goes on for LEAST_BEATS, and no other rate does as well: a tempo can be named. */
  isTempo: boolean;
}

/** Three intervals in a row are the fewest that tell an even beat from chance (common practice, no source). */
const LEAST_BEATS = 4;
/** A loop is cut to a frame, a played beat is not: what is missing of the last beat. */
const BEAT_TOLERANCE = 0.1;
/** Another multiple of the grid that scores as large a share of the best is as good an answer. */
const RIVAL_SHARE = 0.9;
/** Three or six of the grid are a beat only where the strong strikes agree so much better on it than on two, four or eight. */
const TERNARY_ADVANTAGE = 0.2;

/** Beats faster than this are heard as subdivisions, slower ones as single events (common practice, no source). */
const FASTEST_BEAT_SECONDS: Seconds = 0.3;
const SLOWEST_BEAT_SECONDS: Seconds = 1.1;
/** The rate to which people most readily tap, 120 a minute (Moelants 2002, from memory), and how far they stray. */
const PREFERRED_BEAT_SECONDS: Seconds = 0.5;
const PREFERENCE_OCTAVES = 0.7;
const LOWEST_GRID_HZ: Hertz = 1;
const HIGHEST_GRID_HZ: Hertz = 14;
/** A grid is looked for in the first minutes: twice the length would take four times the work, and say no more. */
const GRID_WITHIN_SECONDS: Seconds = 300;

/**
 * The pulse of a sound, from its strikes or, where these are few, its humps; null where nothing is even. `loopSeconds` is the
 * length of a sound that fills its file, as loops do: a loop holds a whole number of beats, which settles what the
 * strikes leave open.
 */
export function pulseOf(strikes: readonly Strike[], humps: readonly Hump[], loopSeconds: Seconds | null): Pulse | null {
  const times = strikes.map((strike) => strike.seconds);
  const interval = evenInterval(times);
  if (interval !== null && (interval >= FASTEST_BEAT_SECONDS || loopSeconds === null)) {
    return { periodSeconds: interval, kind: 'strikes', isTempo: lasts(times, interval, loopSeconds) };
  }
  const grid = interval ?? gridOf(times);
  if (grid !== null) {
    const { seconds, isAlone } = beatOn(grid, strikes, loopSeconds);
    const isTempo = isAlone && lasts(times, seconds, loopSeconds);
    return { periodSeconds: seconds, kind: interval ? 'strikes' : 'grid', isTempo };
  }
  const softTimes = humps.map((hump) => hump.seconds);
  const soft = likeLevels(humps) ? evenInterval(softTimes) : null;
  return soft === null ? null : { periodSeconds: soft, kind: 'humps', isTempo: lasts(softTimes, soft, null) };
}

/** From the first event to the last, and the beat after it; a loop as long as it is, since it goes on. */
function lasts(times: readonly Seconds[], period: Seconds, loopSeconds: Seconds | null): boolean {
  const heard = times[times.length - 1] - times[0] + period;
  return Math.max(heard, loopSeconds ?? 0) >= (LEAST_BEATS - BEAT_TOLERANCE) * period;
}

function likeLevels(humps: readonly Hump[]): boolean {
  const powers = humps.map((hump) => hump.power);
  const [least, most] = [
    powers.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY),
    powers.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY),
  ];
  return least > most / 6;
}

/**
 * The interval that strikes keep: three or four intervals nearly exactly (within 4 % and 8 ms, as chance does not), more of
 * them as a player does (three quarters within 10 % and 5 ms). The mean of those that do.
 */
function evenInterval(times: readonly Seconds[]): Seconds | null {
  if (times.length < 3) return null;
  const intervals = times.slice(1).map((time, i) => time - times[i]);
  const median = quantile(intervals, 0.5);
  const few = intervals.length < 5;
  const allowed = few ? 0.04 * median + 0.008 : 0.1 * median + 0.005;
  const near = intervals.filter((interval) => Math.abs(interval - median) < allowed);
  return near.length >= (few ? 1 : 0.75) * intervals.length ? mean(near) : null;
}

/**
 * Spacing of the widest even grid on which the strikes lie: the lowest frequency f at which |sum exp(2 pi i f t)| / n, the
 * agreement of their phases, is nearly as large as it gets, and larger than random times would make it.
 */
function gridOf(all: readonly Seconds[]): Seconds | null {
  const times = all.filter((time) => time <= all[0] + GRID_WITHIN_SECONDS);
  if (times.length < 7) return null;
  const seconds = times[times.length - 1] - times[0];
  const step = 0.1 / seconds;
  const agreements: { hertz: Hertz; agreement: number }[] = [];
  for (let hertz = Math.max(LOWEST_GRID_HZ, 2 / seconds); hertz <= HIGHEST_GRID_HZ; hertz += step) {
    agreements.push({ hertz, agreement: agreementAt(hertz, times) });
  }
  const most = agreements.reduce((highest, { agreement }) => Math.max(highest, agreement), 0);
  const chance = Math.sqrt(Math.log(agreements.length) / times.length);
  if (most < Math.max(0.7, 1.25 * chance)) return null;
  const first = agreements.findIndex(({ agreement }) => agreement > most * 0.9);
  let best = first;
  while (best + 1 < agreements.length && agreements[best + 1].agreement > agreements[best].agreement) best++;
  return 1 / agreements[best].hertz;
}

function agreementAt(hertz: Hertz, times: readonly Seconds[], weights?: readonly number[]): number {
  let re = 0;
  let im = 0;
  let total = 0;
  times.forEach((time, i) => {
    const weight = weights?.[i] ?? 1;
    re += weight * Math.cos(2 * Math.PI * hertz * time);
    im += weight * Math.sin(2 * Math.PI * hertz * time);
    total += weight;
  });
  return total > 0 ? Math.hypot(re, im) / total : 0;
}

/**
 * Which multiple of the grid is the beat: where the strong strikes agree, near the preferred rate, whole in the loop. It is
 * alone where no other multiple does as well.
 */
function beatOn(
  grid: Seconds,
  strikes: readonly Strike[],
  loopSeconds: Seconds | null,
): { seconds: Seconds; isAlone: boolean } {
  const times = strikes.map((strike) => strike.seconds);
  const weights = strikes.map((strike) => Math.sqrt(strike.peakPower));
  const beats = [1, 2, 4, 8, 3, 6].flatMap((multiple) => {
    let seconds = grid * multiple;
    if (seconds < FASTEST_BEAT_SECONDS || seconds > SLOWEST_BEAT_SECONDS) return [];
    const octaves = Math.log2(seconds / PREFERRED_BEAT_SECONDS) / PREFERENCE_OCTAVES;
    const agreement = agreementAt(1 / seconds, times, weights);
    let score = Math.exp(-(octaves ** 2) / 2) * (0.3 + agreement);
    if (loopSeconds !== null) {
      const count = Math.round(loopSeconds / seconds);
      const fits = Math.abs(loopSeconds / seconds - count) < 0.06 && count > 0;
      if (fits) {
        seconds = loopSeconds / count;
        score *= count % 2 === 0 ? 1.5 : 1.2;
      }
    }
    return [{ seconds, score, agreement, isTernary: multiple % 3 === 0 }];
  });
  const binary = Math.max(0, ...beats.filter((beat) => !beat.isTernary).map((beat) => beat.agreement));
  const credible = beats
    .filter((beat) => !beat.isTernary || beat.agreement > binary + TERNARY_ADVANTAGE)
    .sort((a, b) => b.score - a.score);
  const [best, second] = credible;
  if (best === undefined) return { seconds: grid, isAlone: true };
  return { seconds: best.seconds, isAlone: second === undefined || second.score < RIVAL_SHARE * best.score };
}

const LOWEST_TREMOLO_HZ: Hertz = 0.5;
const HIGHEST_TREMOLO_HZ: Hertz = 20;
/** Longer sounds are judged by their middle. */
const TREMOLO_SECONDS: Seconds = 20;
/** Modulation index of the least tremolo: about 1 dB between crest and trough. */
const LEAST_DEPTH = 0.06;
/** Times the median of the modulation spectrum: the largest of noise stays under 3. */
const LEAST_PROMINENCE = 4.5;
/** Another line as strong as this beside the strongest is as good an answer; its overtones are part of it. */
const RIVAL_DEPTH = 0.8;

export interface Tremolo {
  hertz: Hertz;
  /** Modulation index: amplitude = 1 + depth sin(2 pi f t). */
  depth: number;
}

/**
 * Amplitude modulation between 0.5 and 20 Hz: the strongest line in the spectrum of the amplitude over its own slow course
 * (its mean over two seconds). null where fewer than four periods are there, or no line stands out, or two do.
 */
export function tremoloOf(amplitude: Float64Array, stepSeconds: Seconds): Tremolo | null {
  const most = Math.round(TREMOLO_SECONDS / stepSeconds);
  const skipped = Math.max(0, (amplitude.length - most) >> 1);
  const part = amplitude.subarray(skipped, skipped + most);
  const seconds = part.length * stepSeconds;
  const course = new RunningMean(part).smoothed(Math.max(1, Math.round(Math.min(2, seconds / 2) / stepSeconds)));
  const n = part.length;
  const windowed = part.map((value, i) =>
    course[i] > 0 ? (value / course[i] - 1) * (1 - Math.cos((2 * Math.PI * (i + 0.5)) / n)) : 0,
  );
  const lowest = Math.max(LOWEST_TREMOLO_HZ, 4 / seconds);
  const step = 0.25 / seconds;
  const depths: number[] = [];
  for (let hertz = lowest; hertz <= HIGHEST_TREMOLO_HZ; hertz += step)
    depths.push(depthAt(hertz * stepSeconds, windowed));
  if (depths.length < 20) return null;
  const peak = depths.indexOf(Math.max(...depths));
  const median = [...depths].sort((a, b) => a - b)[depths.length >> 1];
  if (peak === 0 || peak === depths.length - 1) return null;
  if (depths[peak] < LEAST_DEPTH || depths[peak] < LEAST_PROMINENCE * median) return null;
  const hertzAt = (index: number): Hertz => lowest + index * step;
  const isRival = (depth: number, index: number): boolean => {
    if (depth < RIVAL_DEPTH * depths[peak] || depth < (depths[index - 1] ?? 0) || depth < (depths[index + 1] ?? 0)) {
      return false;
    }
    // The line itself is four over the length wide, under this window.
    const overtone = Math.max(1, Math.round(hertzAt(index) / hertzAt(peak)));
    return Math.abs(hertzAt(index) - overtone * hertzAt(peak)) > 2 / seconds;
  };
  if (depths.some(isRival)) return null;
  const [left, middle, right] = [depths[peak - 1], depths[peak], depths[peak + 1]];
  const bend = left - 2 * middle + right;
  const between = bend < 0 ? (left - right) / (2 * bend) : 0;
  return { hertz: lowest + (peak + between) * step, depth: depths[peak] };
}

/** 2 |X(f)| / n by a rotating phasor. */
function depthAt(cyclesPerStep: number, values: Float64Array): number {
  const turnRe = Math.cos(2 * Math.PI * cyclesPerStep);
  const turnIm = Math.sin(2 * Math.PI * cyclesPerStep);
  let phasorRe = 1;
  let phasorIm = 0;
  let re = 0;
  let im = 0;
  for (const value of values) {
    re += value * phasorRe;
    im += value * phasorIm;
    const next = phasorRe * turnRe - phasorIm * turnIm;
    phasorIm = phasorRe * turnIm + phasorIm * turnRe;
    phasorRe = next;
  }
  return (2 * Math.hypot(re, im)) / values.length;
}
