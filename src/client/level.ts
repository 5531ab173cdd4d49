/** The listening level: low at the beginning of a visit, then as the person set it until the visit ends. */
import { DEFAULT_TARGET_LUFS, FIRST_STEP_DB } from './output.ts';

const KEY = 'takeshelf.level.1';
const LOWEST_LUFS = -47;
const HIGHEST_LUFS = -14;

export function firstLevel(): number {
  return levelSet() ?? DEFAULT_TARGET_LUFS - FIRST_STEP_DB;
}

let sessionLevel: number | null = null;

/** What the person set in this visit; null while it is still at its first, low step. */
export function levelSet(): number | null {
  if (sessionLevel !== null) return sessionLevel;
  try {
    const kept = sessionStorage.getItem(KEY);
    const value = kept === null ? Number.NaN : Number(kept);
    sessionLevel = value >= LOWEST_LUFS && value <= HIGHEST_LUFS ? value : null;
  } catch {
    // Without storage every page load starts low, which harms nobody.
  }
  return sessionLevel;
}

export function keepLevel(level: number): void {
  sessionLevel = level;
  try {
    sessionStorage.setItem(KEY, String(level));
  } catch {
    // Kept for as long as the page is open.
  }
}
