/** Whether a process that left something behind is still at work. */
import { readFileSync } from 'node:fs';

/**
 * When a process started, so that a number used again is not mistaken for the process that had it before; "gone" when there
 * is no such process, or only what is left of a killed one. Where the system does not tell: "running" or "gone".
 */
export function startOf(id: number): string {
  try {
    process.kill(id, 0);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'EPERM') return 'gone';
  }
  let status: string;
  try {
    status = readFileSync(`/proc/${id}/stat`, 'utf8');
  } catch {
    return process.platform === 'linux' ? 'gone' : 'running';
  }
  // proc(5): the command's name stands in brackets and may hold anything; state is the 3rd field, start time the 22nd.
  const fields = status.slice(status.lastIndexOf(')') + 2).split(' ');
  return 'ZX'.includes(fields[0]) ? 'gone' : fields[19];
}

/** What a process leaves with its work to be known by. */
export const signature = (): string => `${process.pid} ${startOf(process.pid)}`;

/** The process that left this signature, while it runs; null when it is no more, or the text is none. */
export function runningOwner(text: string): number | null {
  const [owner, started] = text.split(' ');
  const running = Number(owner) > 0 && started !== 'gone' && startOf(Number(owner)) === started;
  return running ? Number(owner) : null;
}
