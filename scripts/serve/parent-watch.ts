/**
 * Ends what npm started when npm has ended. npm runs a command in a shell and passes signals to that shell only, which dies
 * without a word to the command; and a killed npm passes nothing on.
 */
import { readFileSync } from 'node:fs';

const LOOK_EVERY_MS = 500;
const SHELLS = ['sh', 'dash', 'bash', 'ash', 'busybox', 'zsh'];

/** Calls `act` once. Returns what ends the watch. Without npm it watches nothing: a command may well outlive its terminal. */
export function whenParentIsGone(act: () => void): () => void {
  if (process.env.npm_lifecycle_event === undefined) return () => {};
  const parent = process.ppid;
  const npm = aboveShell(parent);
  const timer = setInterval(() => {
    if (process.ppid === parent && (npm === null || isThere(npm))) return;
    clearInterval(timer);
    act();
  }, LOOK_EVERY_MS).unref();
  return () => clearInterval(timer);
}

/** The process that started this shell; null where `id` is no shell, or the system does not tell. */
function aboveShell(id: number): number | null {
  try {
    // proc(5): the command's name stands in brackets and may hold anything; the parent is the 4th field.
    const status = readFileSync(`/proc/${id}/stat`, 'utf8');
    const name = status.slice(status.indexOf('(') + 1, status.lastIndexOf(')'));
    return SHELLS.includes(name) ? Number(status.slice(status.lastIndexOf(')') + 2).split(' ')[1]) : null;
  } catch {
    return null;
  }
}

function isThere(id: number): boolean {
  try {
    process.kill(id, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === 'EPERM';
  }
}
