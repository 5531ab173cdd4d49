/** Words for people: errors of the operating system in plain English, numbers and times as one says them. */
import { isMemoryError } from './archive/decode/memory-error.ts';

type Doing = 'read' | 'write';

/** errno(3). Two wordings where it matters whether something was to be read or to be written. */
const SYSTEM_REASONS: Record<string, string | Record<Doing, string>> = {
  EACCES: { read: 'no permission to read it', write: 'no permission to write there' },
  EPERM: { read: 'no permission to read it', write: 'no permission to write there' },
  ENOENT: { read: 'it is not there any more', write: 'its folder is not there any more' },
  EIO: { read: 'the drive reports a read error', write: 'the drive reports a write error' },
  ENOSPC: 'the drive is full',
  EDQUOT: 'the share of the drive that this user may fill is used up',
  EROFS: 'the drive is read-only',
  EFBIG: 'the file would be larger than the drive allows',
  EISDIR: 'it is a folder',
  ENOTDIR: 'a part of its path is a file, not a folder',
  ELOOP: 'its links lead in a circle',
  ENAMETOOLONG: 'its name is too long',
  EMFILE: 'too many files are open at once',
  ENFILE: 'too many files are open at once',
  ENOMEM: 'memory ran out',
  EBUSY: 'another program holds it',
  ENODEV: 'the drive is not there any more',
  ENXIO: 'the drive is not there any more',
  ESTALE: 'the drive is not there any more',
  ETIMEDOUT: 'the drive does not answer',
};

/** System calls that change nothing; `open` without more said is for reading, since writes go through CannotWrite. */
const READING_CALLS = /^(open|read|f?stat|lstat|statx|access|scandir|opendir|readdir|readlink|realpath)$/;

/** An error of the operating system, told by its errno code; whatever the file holds, it is not the cause. */
export function isSystemError(error: unknown): error is NodeJS.ErrnoException & { code: string } {
  const code = error instanceof Error && 'code' in error ? error.code : null;
  return typeof code === 'string' && /^E(?!RR_)[A-Z0-9]+$/.test(code);
}

/** Why the system refused, as a part of a sentence and without the path. */
export function reasonOf(error: unknown, doing?: Doing): string {
  if (error instanceof CannotWrite) return error.reason;
  if (!isSystemError(error)) return messageOf(error);
  const wording = SYSTEM_REASONS[error.code] ?? `the system reports ${error.code}`;
  if (typeof wording === 'string') return wording;
  return wording[doing ?? (READING_CALLS.test(error.syscall ?? 'read') ? 'read' : 'write')];
}

/** What went wrong, with the path where the error knows it; one sentence without its full stop. */
export function messageOf(error: unknown): string {
  if (isSystemError(error)) return error.path === undefined ? reasonOf(error) : `${error.path}: ${reasonOf(error)}`;
  if (!(error instanceof Error)) return String(error);
  if (isMemoryError(error)) return 'memory ran out';
  const isSlip = [TypeError, ReferenceError, RangeError, SyntaxError].some((kind) => error instanceof kind);
  return isSlip ? `an error in the program (${error.name}: ${error.message})` : error.message;
}

/** Something the person did that cannot work: the command line says it and exits with 2. */
export class WrongUsage extends Error {
  override readonly name = 'WrongUsage';
}

/** Where something was to be written, and why it cannot be: the machine's failure, never that of a recording. */
export class CannotWrite extends Error {
  override readonly name = 'CannotWrite';
  readonly reason: string;

  constructor(path: string, cause: unknown) {
    const reason = reasonOf(cause, 'write');
    super(`${path} cannot be written: ${reason}. ${remedyFor(cause)}`, { cause });
    this.reason = reason;
  }
}

function remedyFor(cause: unknown): string {
  const code = isSystemError(cause) ? cause.code : '';
  if (['ENOSPC', 'EDQUOT'].includes(code)) return 'Make room there, then try again.';
  if (['EACCES', 'EPERM', 'EROFS'].includes(code)) return 'Allow writing there, or choose another folder.';
  return 'Check the drive and the folder, then try again.';
}

/** For `catch`: an error of the system while `path` was written becomes a CannotWrite, all others stay as they are. */
export function cannotWrite(path: string): (error: unknown) => never {
  return (error) => {
    throw isSystemError(error) ? new CannotWrite(path, error) : error;
  };
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
  /[\p{Cc}\p{Cf}]/u.test(name) ? JSON.stringify(name).replace(/[\p{Cc}\p{Cf}]/gu, escaped) : name;
const escaped = (character: string): string => `\\u{${(character.codePointAt(0) ?? 0).toString(16)}}`;
