/** Why a sound is in the list, short enough for the line under its name: nothing that the row shows already. */
import { trueMinus } from './format.ts';

const NAME = /^name: (?!.*, )/;
/** Figures that stand at the right of the row. */
const PLACED = /^(accent|lesser accent|loudest moment) [+-]\d/;
const LENGTH = /^(sounds for )?[\d.]+ (ms|s|min)\b.*( long|, [+-]\d)/;

/** `placed`: the row says at its right how the sound falls against what was asked. */
export function shortReasons(reasons: readonly string[], placed: boolean): string {
  const kept: string[] = [];
  for (const reason of reasons) {
    if (NAME.test(reason) || LENGTH.test(reason) || /^at [+-]/.test(reason)) continue;
    const [, called = ''] = PLACED.exec(reason) ?? [];
    if (called === '') kept.push(reason);
    // That it is no proper accent is news; where it falls is not.
    else if (called !== 'accent' || !placed) kept.push(placed ? called : reason);
  }
  return trueMinus(groupFields(kept).join(' · '));
}

/** "tag: metal", "tag: swiped" -> "tag: metal, swiped". */
function groupFields(reasons: readonly string[]): string[] {
  const grouped: string[] = [];
  for (const reason of reasons) {
    const field = /^\w+: /.exec(reason)?.[0];
    const last = grouped.length - 1;
    if (field && grouped[last]?.startsWith(field)) grouped[last] += `, ${reason.slice(field.length)}`;
    else grouped.push(reason);
  }
  return grouped;
}
