/** What a person reads: sentences with the path, and nothing from outside that a terminal would obey. */
import { readdirSync, readFileSync } from 'node:fs';
import { mkdir, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { readCatalogue } from '../../scripts/archive/catalogue.ts';
import { machineFailure, threadFailure } from '../../scripts/archive/failures.ts';
import { CannotWrite, messageOf, reasonOf } from '../../scripts/messages.ts';
import { plain } from '../../scripts/terminal.ts';
import { project, takeshelf, temporaryFolder } from './command.ts';
import { tone, wav } from './small-archive.ts';

let home: string;
beforeAll(async () => {
  home = await temporaryFolder();
});
afterAll(() => rm(home, { recursive: true, force: true }));

const ESCAPE = '\u001b]0;owned\u0007\u001b[2J';
/** All that a terminal takes for more than text, but for line ends. */
// biome-ignore lint/suspicious/noControlCharactersInRegex: those are what is looked for
const OBEYED = /[\u0000-\u0009\u000b-\u001f\u007f-\u009f\u200e\u200f\u202a-\u202e\u2066-\u2069]/;

/** As Node makes them. */
function systemError(code: string, syscall: string, path?: string): Error {
  return Object.assign(new Error(`${code}: text of the system, ${syscall}`), {
    code,
    syscall,
    ...(path === undefined ? {} : { path }),
  });
}

test('reading and writing are told apart, and the path is named', () => {
  expect(messageOf(systemError('EACCES', 'open', '/a/b.wav'))).toBe('/a/b.wav: no permission to read it');
  expect(messageOf(systemError('EACCES', 'mkdir', '/a/cache'))).toBe('/a/cache: no permission to write there');
  expect(new CannotWrite('/a/cache', systemError('EACCES', 'open')).message).toMatch(
    /^\/a\/cache cannot be written: no permission to write there\. /,
  );
  expect(new CannotWrite('/a/cache', systemError('ENOSPC', 'write')).message).toBe(
    '/a/cache cannot be written: the drive is full. Make room there, then try again.',
  );
  expect(reasonOf(systemError('ESTRANGE', 'read'))).toBe('the system reports ESTRANGE');
  expect(messageOf(new TypeError('x is not a function'))).toMatch(/error in the program \(TypeError: x is/);
});

test.each<[unknown, RegExp]>([
  [systemError('EIO', 'read'), /cannot be read: the drive reports a read error/],
  [systemError('EMFILE', 'open'), /too many files are open/],
  [new RangeError('Array buffer allocation failed'), /Memory ran out/],
  [new RangeError('WebAssembly.Memory(): could not allocate memory'), /Memory ran out/],
  [new TypeError('x is undefined'), /stopped by an error in the program/],
])('%s is a failure of the machine, in words', (error, found) => {
  expect(machineFailure(error).found).toMatch(found);
});

test('a thread out of memory says how much it may use', () => {
  const error = Object.assign(new Error('Worker terminated'), { code: 'ERR_WORKER_OUT_OF_MEMORY' });
  expect(threadFailure(error, 1024).found).toMatch(/more than the 1024 MB/);
});

test('one place writes to the terminal', () => {
  const writers = readdirSync(join(project, 'scripts'), { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .filter((name) => /process\.(stdout|stderr)\.write\(/.test(readFileSync(join(project, 'scripts', name), 'utf8')));
  expect(writers).toEqual([]);
  expect(plain('two\nlines\u009b31m\u202e')).toBe('two\\nlines\\u{9b}31m\\u{202e}');
});

test('escape sequences in names, words and files arrive as text, in every command', async () => {
  const archive = join(home, 'archive');
  const catalogue = join(home, 'catalogue');
  await mkdir(archive);
  await mkdir(catalogue);
  await writeFile(join(archive, `bell${ESCAPE}\u009b31m.wav`), wav(tone(1), 48_000, { INAM: `Bell${ESCAPE}` }));
  await writeFile(join(archive, `letter${ESCAPE}.wav`), 'no audio');
  await writeFile(join(catalogue, 'archive.yaml'), `folders: [\u001b[2J ${ESCAPE}`);
  const runs = await Promise.all([
    takeshelf(['measure', ...readdirSync(archive).map((name) => join(archive, name))]),
    takeshelf(['measure', '--takes', ...readdirSync(archive).map((name) => join(archive, name))]),
    takeshelf(['build', join(home, `missing${ESCAPE}`), '--catalogue', join(home, 'none')]),
    takeshelf(['build', archive, '--catalogue', catalogue]),
    takeshelf(['find', 'x', '--site', join(home, ESCAPE)]),
    takeshelf([ESCAPE]),
    takeshelf(['find', 'x', '--limit', ESCAPE]),
  ]);
  for (const { stdout, stderr } of runs) expect(stdout + stderr).not.toMatch(OBEYED);
  expect(runs[0].stdout).toContain('\\u001b');
  expect(runs[3].code).toBe(2);
});

test('hidden files in the catalogue are not read', async () => {
  const catalogue = join(home, 'with hidden files');
  for (const folder of ['sessions', 'splits']) {
    await mkdir(join(catalogue, folder), { recursive: true });
    for (const name of ['._a.yaml', '.b.yml', '.DS_Store']) {
      await writeFile(join(catalogue, folder, name), Buffer.from([0, 5, 22, 7, 0, 2, 255]));
    }
  }
  await writeFile(join(catalogue, 'sessions/a.yaml'), 'sounds: { "abc": { name: Bell } }');
  expect((await readCatalogue(catalogue)).decisions.get('abc')).toEqual({ name: 'Bell' });
});

test('a warning of the YAML reader stays off the terminal', async () => {
  const catalogue = join(home, 'warned');
  await mkdir(catalogue);
  await writeFile(join(catalogue, 'archive.yaml'), 'folders: !unknown [{ name: A, path: /nowhere/at/all }]');
  const { code, stderr } = await takeshelf(['build', '--catalogue', catalogue, '--out', join(home, 'o')]);
  expect(code).toBe(2);
  expect(stderr).toBe('/nowhere/at/all does not exist. Name the folder that holds your recordings.\n');
});
