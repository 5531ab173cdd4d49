/**
 * The pitch of every frame, and the one on which they agree. Frames vote weighted by their loudness, energy^0.3 (10 dB is
 * twice as loud: Stevens' power law), and by how periodic they are: the long ring of a plucked or struck note outweighs the
 * short noise of its beginning, which holds more energy.
 *
 * A vibrato swings by up to a semitone to either side at 5 to 7 Hz (Prame, JASA 96(4), 1994, for singers; from memory). Where
 * the pitch goes to and fro about its mean at two swings a second or more, all of the swing agrees, and its middle is the note.
 */
import type { Hertz, Seconds } from '../sound.ts';

export const LOWEST_PITCH_HZ = 25;
export const HIGHEST_PITCH_HZ = 5_000;
/** Frames less periodic than this do not vote. */
export const LEAST_CLARITY = 0.6;
export const LOUDNESS_EXPONENT = 0.3;
/** Pitches are counted in tenths of a semitone. */
const STEPS_A_SEMITONE = 10;
/** Half a semitone to either side is one pitch. */
const SAME_STEPS = STEPS_A_SEMITONE / 2;
/** Of a vibrato's middle, the widest swing and what a frame is uncertain by. */
const SWING_STEPS = 1.5 * STEPS_A_SEMITONE;
/** So far from the middle it counts as on one side. */
const SIDE_STEPS = 0.15 * STEPS_A_SEMITONE;
const LEAST_CROSSINGS = 4;
const LEAST_CROSSINGS_A_SECOND = 4;
/** A lower tone has fewer than five periods in a frame: its pitch trembles by chance. */
const LOWEST_VIBRATO_HZ: Hertz = 60;

/** One value a frame. */
export interface PitchTrack {
  hopSeconds: Seconds;
  energy: Float64Array;
  hz: Float32Array;
  /** 0..1, how periodic. */
  clarity: Float32Array;
  /** The frames of the active part: `from` .. `to` - 1. */
  from: number;
  to: number;
}

export interface AgreedPitch {
  hz: Hertz;
  /** Share 0..1 of the loudness that agrees, times how periodic it is there. */
  confidence: number;
  /** With vibrato. */
  trembles: boolean;
  /** Numbers of the frames that agree, rising. */
  frames: readonly number[];
}

/** null where all frames are silent. */
export function agreedPitch(track: PitchTrack): AgreedPitch | null {
  const { hopSeconds, energy, hz, clarity, from, to } = track;
  const steps = new Float32Array(to - from);
  const weights = new Float64Array(to - from);
  const votes = new Float64Array(Math.ceil(stepsOf(HIGHEST_PITCH_HZ)) + 1);
  let total = 0;
  for (let frame = from; frame < to; frame++) {
    const loudness = energy[frame] ** LOUDNESS_EXPONENT;
    total += loudness;
    if (clarity[frame] < LEAST_CLARITY) continue;
    steps[frame - from] = stepsOf(hz[frame]);
    weights[frame - from] = loudness * clarity[frame];
    votes[Math.round(steps[frame - from])] += weights[frame - from];
  }
  if (total <= 0) return null;
  const near = (middle: number, reach: number): Agreement => {
    const agreement: Agreement = { weight: 0, middle, frames: [] };
    let moment = 0;
    weights.forEach((weight, index) => {
      if (weight <= 0 || Math.abs(steps[index] - middle) > reach) return;
      agreement.weight += weight;
      moment += weight * steps[index];
      agreement.frames.push(from + index);
    });
    if (agreement.weight > 0) agreement.middle = moment / agreement.weight;
    return agreement;
  };
  const same = near(densest(votes), SAME_STEPS + 0.5);
  // Seen from the fullest turning point of the swing its other half lies outside: the second look is from its middle.
  const swing = near(near(same.middle, SWING_STEPS).middle, SWING_STEPS);
  const sides = swing.frames.map((frame) => steps[frame - from] - swing.middle);
  const trembles = hertzOf(swing.middle) >= LOWEST_VIBRATO_HZ && goesToAndFro(sides, swing.frames.length * hopSeconds);
  const { middle, weight, frames } = trembles ? swing : same;
  return { hz: hertzOf(middle), confidence: Math.min(1, weight / total), trembles, frames };
}

interface Agreement {
  weight: number;
  middle: number;
  frames: number[];
}

function goesToAndFro(distances: readonly number[], seconds: Seconds): boolean {
  let crossings = 0;
  let side = 0;
  for (const distance of distances) {
    if (Math.abs(distance) <= SIDE_STEPS) continue;
    if (Math.sign(distance) === -side) crossings++;
    side = Math.sign(distance);
  }
  return crossings >= LEAST_CROSSINGS && crossings >= LEAST_CROSSINGS_A_SECOND * seconds;
}

function stepsOf(hz: Hertz): number {
  return 12 * STEPS_A_SEMITONE * Math.log2(hz / LOWEST_PITCH_HZ);
}

function hertzOf(steps: number): Hertz {
  return LOWEST_PITCH_HZ * 2 ** (steps / (12 * STEPS_A_SEMITONE));
}

/** Middle of the semitone that holds the most votes. */
function densest(votes: Float64Array): number {
  let best = 0;
  let bestSum = -1;
  for (let middle = 0; middle < votes.length; middle++) {
    let sum = 0;
    for (let step = Math.max(0, middle - SAME_STEPS); step <= Math.min(votes.length - 1, middle + SAME_STEPS); step++) {
      sum += votes[step];
    }
    if (sum > bestSum) {
      bestSum = sum;
      best = middle;
    }
  }
  return best;
}
