/** The whole archive as a plan: the written sessions, cut short or extended to the number of sounds wanted. */
import type { FilePlan } from './file-plan.ts';
import { moreSessions } from './more-sessions.ts';
import { BOATHOUSE_FILES } from './sessions/boathouse.ts';
import { CHAPEL_HALL_FILES } from './sessions/chapel-hall.ts';
import { CHAPEL_STRINGS_FILES } from './sessions/chapel-strings.ts';
import { EDITS_FILES } from './sessions/edits.ts';
import { KITCHEN_FILES } from './sessions/kitchen.ts';
import { LIGHTHOUSE_FILES } from './sessions/lighthouse.ts';
import { NET_LOFT_FILES } from './sessions/net-loft.ts';
import { PUMP_HOUSE_FILES } from './sessions/pump-house.ts';
import { QUAY_FILES } from './sessions/quay.ts';
import { SLIPWAY_FILES } from './sessions/slipway.ts';
import { TO_SORT_FILES } from './sessions/to-sort.ts';

const METAL = [...BOATHOUSE_FILES, ...LIGHTHOUSE_FILES, ...PUMP_HOUSE_FILES];
const SHORE = [...NET_LOFT_FILES, ...SLIPWAY_FILES, ...QUAY_FILES];
const INDOORS = [...KITCHEN_FILES, ...CHAPEL_STRINGS_FILES, ...CHAPEL_HALL_FILES];
const DESK = [...EDITS_FILES, ...TO_SORT_FILES];

/** All written sounds when `soundsWanted` is left out; fewer or more otherwise, always exactly as many. */
export function planArchive(soundsWanted: number | undefined, seed: number): FilePlan[] {
  const written = alternating([METAL, SHORE, INDOORS, DESK]);
  const all = soundsIn(written);
  const wanted = soundsWanted ?? all;
  if (wanted > all) return [...written, ...moreSessions(wanted - all, seed)];
  const plans: FilePlan[] = [];
  let left = wanted;
  for (const plan of written) {
    if (left <= 0) break;
    if (plan.kind === 'text') {
      plans.push(plan);
    } else {
      const sounds = plan.sounds.slice(0, left);
      plans.push({ ...plan, sounds });
      left -= sounds.length;
    }
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
