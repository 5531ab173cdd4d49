/** The whole archive as a plan: the written sessions, cut short or extended to the number of sounds wanted. */
import type { FilePlan } from './file-plan.ts';
import { INDOOR_SESSIONS } from './sessions-indoors.ts';
import { METAL_SESSIONS } from './sessions-metal.ts';
import { SHORE_SESSIONS } from './sessions-shore.ts';
import { SORTING_SESSIONS } from './sessions-sorting.ts';

export function planArchive(soundsWanted: number | undefined): FilePlan[] {
  const plans: FilePlan[] = [];
  let left = soundsWanted ?? Infinity;
  for (const plan of alternating([METAL_SESSIONS, SHORE_SESSIONS, INDOOR_SESSIONS, SORTING_SESSIONS])) {
    if (plan.kind === 'text') {
      plans.push(plan);
      continue;
    }
    if (left <= 0) break;
    const sounds = plan.sounds.slice(0, left);
    plans.push({ ...plan, sounds });
    left -= sounds.length;
  }
  return plans;
}

export function soundsIn(plans: readonly FilePlan[]): number {
  return plans.reduce((sum, plan) => sum + (plan.kind === 'audio' ? plan.sounds.length : 0), 0);
}

/** One of each list in turn, so that a small archive still holds something of every session. */
function alternating(lists: readonly (readonly FilePlan[])[]): FilePlan[] {
  const longest = Math.max(...lists.map((list) => list.length));
  return Array.from({ length: longest }, (_, index) => lists.flatMap((list) => list.slice(index, index + 1))).flat();
}
