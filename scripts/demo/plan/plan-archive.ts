/** The whole archive as a plan: the written sessions, cut short or extended to the number of sounds wanted. */
import type { FilePlan } from './file-plan.ts';
import { SESSIONS } from './sessions.ts';

export function planArchive(soundsWanted: number | undefined): FilePlan[] {
  const plans: FilePlan[] = [];
  let left = soundsWanted ?? Infinity;
  for (const plan of SESSIONS) {
    if (left <= 0) break;
    const sounds = plan.sounds.slice(0, left);
    plans.push({ ...plan, sounds });
    left -= sounds.length;
  }
  return plans;
}
