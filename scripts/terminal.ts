/**
 * The one way to the terminal for everything that a person reads. Names, embedded texts and other programs' errors may
 * hold escape sequences that clear the screen, colour it or write a line anew: none of them arrives as such.
 */

/** Control and format characters, line and paragraph separators, halves of surrogate pairs. */
const UNSAFE = /[\p{Cc}\p{Cf}\p{Zl}\p{Zp}\p{Cs}]/gu;

/** One line of text in which control characters, line ends among them, can be seen instead of acting. */
export function plain(line: string): string {
  return line.replace(UNSAFE, (character) => {
    if (character === '\n') return '\\n';
    if (character === '\t') return ' ';
    return `\\u{${(character.codePointAt(0) ?? 0).toString(16)}}`;
  });
}

const debugging = Boolean(process.env.TAKESHELF_DEBUG);
// Taken before anything is held back below: what we say ourselves always arrives.
const toStderr = process.stderr.write.bind(process.stderr);
const toStdout = process.stdout.write.bind(process.stdout);

/** A message: progress, warnings, errors. */
export function tell(line: string): void {
  toStderr(`${plain(line)}\n`);
}

/** Results for a person. Line ends in `text` are ours; whatever comes from outside has been through `shown` or holds none. */
export function answer(text: string): void {
  toStdout(`${text.replace(/\n$/, '').split('\n').map(plain).join('\n')}\n`);
}

/** Results for a program: JSON, one text a line, or quoted as JSON is; the same to a reader of it, and safe to be seen. */
export function answerJson(text: string): void {
  const lines = text.replace(/\n$/, '').split('\n');
  toStdout(`${lines.map((line) => line.replace(UNSAFE, asJsonEscape)).join('\n')}\n`);
}

const asJsonEscape = (character: string): string =>
  [...Array(character.length).keys()]
    .map((i) => `\\u${character.charCodeAt(i).toString(16).padStart(4, '0')}`)
    .join('');

/**
 * Libraries print what they think of a damaged packet or of an option; Node warns of what is experimental. What matters of
 * it becomes a finding of the file or an error in our words. TAKESHELF_DEBUG=1 lets all of it through.
 */
export function quietLibraries(): void {
  if (debugging) return;
  const nothing = (): void => undefined;
  for (const method of ['debug', 'error', 'info', 'log', 'trace', 'warn'] as const) console[method] = nothing;
  process.removeAllListeners('warning');
  process.on('warning', nothing);
}

/** Runs something that writes to the terminal past `console`, and lets nothing of it through. */
export async function unheard<Result>(run: () => Promise<Result>): Promise<Result> {
  if (debugging) return run();
  const { stdout, stderr } = process;
  const written = { stdout: stdout.write, stderr: stderr.write };
  const swallow = (_data: unknown, second?: unknown, third?: unknown): boolean => {
    const done = [second, third].find((value) => typeof value === 'function');
    if (typeof done === 'function') queueMicrotask(() => done());
    return true;
  };
  stdout.write = swallow;
  stderr.write = swallow;
  try {
    return await run();
  } finally {
    stdout.write = written.stdout;
    stderr.write = written.stderr;
  }
}
