/** Asks for a gesture: by measurement first, by name after, and last what is but one step from it. */
import { mainAccentColumns } from '../main-accent.ts';
import { GESTURES, type Gesture } from '../sound.ts';
import type { ChipOf } from './chips.ts';
import type { SoundColumns } from './columns.ts';
import type { Criterion, Scene } from './criterion.ts';
import { LEFT_OUT } from './fit.ts';
import { wordReason } from './word-reason.ts';

/** Measured so, and measured and named so. */
const MEASURED = 0.9;
const MEASURED_AND_NAMED = 1;
/** A sound that is named after the gesture but was measured otherwise still answers, after those that were measured so. */
const NAMED = 0.6;
/** What is nearly the gesture comes after both, and "not" does not leave it out. */
const NEARLY = 0.15;
const FULLY = 0.2;

export function gestureCriterion({ gesture }: ChipOf<'gesture'>, { columns, index }: Scene): Criterion {
  const wanted = GESTURES.indexOf(gesture);
  const named = index.match(gesture, undefined, true);
  const isNearly = nearly(gesture, columns);
  const scores = new Float32Array(columns.count);
  for (let sound = 0; sound < scores.length; sound++) {
    const isNamed = named.scores[sound] > 0;
    if (columns.gesture[sound] === wanted) scores[sound] = isNamed ? MEASURED_AND_NAMED : MEASURED;
    else if (isNamed) scores[sound] = NAMED * named.scores[sound];
    else scores[sound] = isNearly(sound) ? NEARLY : LEFT_OUT;
  }
  return {
    weight: 0.8,
    // Another gesture is a miss like any other: what has it comes after what fits.
    measured: true,
    scores,
    full: FULLY,
    said: gesture,
    reason(sound) {
      if (columns.gesture[sound] === wanted) return { text: gesture, fits: true };
      const reason = named.reason(sound);
      if (reason) return wordReason(reason, gesture);
      return isNearly(sound) ? { text: `${GESTURES[columns.gesture[sound]]}, nearly a ${gesture}`, fits: false } : null;
    },
  };
}

/** A blow that rings for longer than this may be called a fade as well. */
const RINGING_SECONDS = 0.5;

/**
 * Between gestures there is no sharp line: a blow that rings long is nearly a fade, a swell with its top late nearly a
 * riser, an uneven pulse a phrase. `share` is where the accent falls in the sounding part, 0..1.
 */
function nearly(gesture: Gesture, columns: SoundColumns): (sound: number) => boolean {
  const main = mainAccentColumns(columns);
  const heads = columns.number('activeStartSeconds');
  const lengths = columns.number('activeSeconds');
  const { offsets } = columns.accentColumns;
  const share = (sound: number) => (main.seconds(sound) - heads[sound]) / lengths[sound];
  const several = (sound: number) => offsets[sound + 1] - offsets[sound] > 1;
  const rules: Record<Gesture, Partial<Record<Gesture, (sound: number) => boolean>>> = {
    hit: { fade: (sound) => share(sound) < 0.2, pulse: () => true },
    fade: {
      hit: (sound) => lengths[sound] > RINGING_SECONDS,
      phrase: (sound) => share(sound) < 0.4,
      swell: (sound) => share(sound) < 0.3,
      riser: (sound) => share(sound) < 0.3,
    },
    swell: {
      riser: (sound) => share(sound) < 0.9,
      phrase: (sound) => share(sound) > 0.2 && share(sound) < 0.85,
      drone: () => true,
    },
    riser: { swell: (sound) => share(sound) > 0.4, phrase: (sound) => share(sound) > 0.4 },
    drone: { swell: () => true, phrase: () => true, pulse: () => true, riser: (sound) => share(sound) < 0.6 },
    pulse: { phrase: several, drone: several, hit: several, fade: several },
    phrase: { pulse: () => true, hit: several, drone: several, riser: several, swell: several },
  };
  const byGesture = GESTURES.map((measured) => rules[gesture][measured]);
  return (sound) => byGesture[columns.gesture[sound]]?.(sound) ?? false;
}
