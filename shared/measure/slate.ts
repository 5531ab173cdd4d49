/** What a spoken slate at a sound's beginning changes: times measured after it count from the sound's own start. */
import { CONTOUR_POINTS, type FaultDetail, type Seconds } from '../sound.ts';
import type { Movement } from './movement.ts';
import type { SignalFlaws } from './signal-watch.ts';

/** The movement of what begins `delaySeconds` into a sound of `durationSeconds`, as the movement of the whole. */
export function movementAfter(delaySeconds: Seconds, movement: Movement, durationSeconds: Seconds): Movement {
  if (delaySeconds === 0) return movement;
  return {
    ...movement,
    activeStartSeconds: later(movement.activeStartSeconds, delaySeconds),
    climaxSeconds: later(movement.climaxSeconds, delaySeconds),
    accents: movement.accents.map((accent) => ({ ...accent, seconds: accent.seconds + delaySeconds })),
    contour: contourAfter(delaySeconds / durationSeconds, movement.contour),
  };
}

/** The contour of the last part of a sound as that of the whole: still during the share 0..1 before. */
function contourAfter(share: number, contour: readonly number[]): number[] {
  return Array.from({ length: CONTOUR_POINTS }, (_, point) => {
    const place = (at: number): number => ((at / CONTOUR_POINTS - share) / (1 - share)) * contour.length;
    const from = Math.max(0, Math.floor(place(point)));
    const to = Math.min(contour.length, Math.ceil(place(point + 1)));
    return Math.max(0, ...contour.slice(from, Math.max(from, to)));
  });
}

export function later(seconds: Seconds | null, delaySeconds: Seconds): Seconds | null {
  return seconds === null ? null : seconds + delaySeconds;
}

export function flawsAfter(delaySeconds: Seconds, flaws: SignalFlaws): SignalFlaws {
  return { ...flaws, dropouts: flaws.dropouts.map((flaw) => ({ ...flaw, seconds: flaw.seconds + delaySeconds })) };
}

export function slateNotice(slateEndSeconds: Seconds | null): FaultDetail[] {
  if (slateEndSeconds === null) return [];
  const message = `A voice speaks before it, until ${slateEndSeconds.toFixed(1)} s.`;
  return [{ kind: 'spoken-slate', severity: 'note', seconds: 0, message }];
}
