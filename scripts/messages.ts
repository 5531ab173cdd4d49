/** Words for people: errors of the operating system in plain English, numbers and times as one says them. */

const SYSTEM_ERRORS: Record<string, string> = {
  EACCES: 'no permission to read it',
  EPERM: 'no permission to read it',
  ENOENT: 'it is not there any more',
  EIO: 'the drive reports a read error',
  EISDIR: 'it is a folder',
  EMFILE: 'too many files are open',
  ENOSPC: 'the drive is full',
  EROFS: 'the drive is read-only',
};

export function messageOf(error: unknown): string {
  const code = (error as NodeJS.ErrnoException | null)?.code;
  if (code !== undefined && SYSTEM_ERRORS[code]) return SYSTEM_ERRORS[code];
  return error instanceof Error ? error.message : String(error);
}

/** Something the person did that cannot work: the command line says it and exits with 2. */
export class WrongUsage extends Error {
  override readonly name = 'WrongUsage';
}

export function count(number: number, singular: string, plural = `${singular}s`): string {
  return `${number.toLocaleString('en')} ${number === 1 ? singular : plural}`;
}

/** "3.2 s", "4 min 10 s", "2 h 5 min". */
export function spokenTime(seconds: number): string {
  if (seconds < 10) return `${seconds.toFixed(1)} s`;
  const whole = Math.round(seconds);
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${whole % 60} s`;
  return `${Math.floor(whole / 3600)} h ${Math.floor((whole % 3600) / 60)} min`;
}

/** File names may hold anything: shown as JSON text where they hold control or direction marks, which could mislead. */
export const shown = (name: string): string =>
  /[\p{Cc}\p{Cf}]/u.test(name) ? JSON.stringify(name).replace(/\p{Cf}/gu, escaped) : name;
const escaped = (character: string): string => `\\u{${(character.codePointAt(0) ?? 0).toString(16)}}`;
