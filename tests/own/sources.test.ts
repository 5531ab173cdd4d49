/** Reads the sources: only one module of the build removes, renames or writes over anything, and one other writes at all. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';

const scripts = new URL('../../scripts', import.meta.url).pathname;
const REMOVES = 'own/own-folders.ts';
const WRITES = 'atomic-file.ts';
/** Starts the program's own Node, and nothing else. */
const STARTS = 'takeshelf.mjs';

/** What a module may take from node:fs: all of it looks, or makes a folder where there is none. */
const HARMLESS = new Set(
  `existsSync lstat mkdir readFile readFileSync readdir readdirSync realpath stat statSync createReadStream
   Dirent Stats BigIntStats FileHandle`.split(/\s+/),
);
const ALSO: Record<string, readonly string[]> = {
  [REMOVES]: ['rename', 'rmdir', 'unlink'],
  // Opens new files only ('wx'), and copies to new names.
  [WRITES]: ['open', 'copyFile', 'constants'],
  // Opens for reading.
  'archive/decode/file-bytes.ts': ['open'],
};

const sources = readdirSync(scripts, { recursive: true, encoding: 'utf8' })
  .filter((name) => /\.[cm]?[jt]s$/.test(name))
  .map((name) => name.replaceAll('\\', '/'));
const codeOf = (name: string): string =>
  readFileSync(join(scripts, name), 'utf8').replace(/\/\*[\s\S]*?\*\/|^\s*\/\/.*$/gm, '');

test('no module takes from Node what could remove or write over a file, unless that is its part', () => {
  expect(sources.length).toBeGreaterThan(100);
  for (const name of sources) {
    const code = codeOf(name);
    for (const [, names] of code.matchAll(/import (?:type )?([^'"]*?) from '(?:node:)?fs(?:\/promises)?'/g)) {
      expect(names, `${name}: only names in braces`).toMatch(/^\{[^}]*\}$/);
      const taken = names.replace(/[{}]|\btype /g, '').split(',');
      const wrong = taken.map((word) => word.trim()).filter((word) => word !== '' && !HARMLESS.has(word));
      expect(
        wrong.filter((word) => !ALSO[name]?.includes(word)),
        name,
      ).toEqual([]);
    }
    // No other way to the file system, or to a command that has one.
    expect(code, name).not.toMatch(
      /(import\s*\(|require\s*\(|getBuiltinModule\s*\(?)\s*['"`](node:)?(fs|child_process)/,
    );
    expect(code, name).not.toMatch(/process\.binding|createRequire/);
    if (name !== WRITES && name !== STARTS) expect(code, name).not.toMatch(/child_process/);
  }
});

test('files are opened to be read, to be new, or to be flushed; the one command called is that which flushes', () => {
  const modes = (name: string): string[] =>
    [...codeOf(name).matchAll(/\bopen\(([^()]*)\)/g)].map(([, words]) => words.split(',').at(-1)?.trim() ?? '');
  expect(modes('archive/decode/file-bytes.ts')).toEqual(["'r'"]);
  expect(modes(WRITES).sort()).toEqual(["'wx'", 'flags']);
  expect(codeOf(WRITES)).toContain('COPYFILE_EXCL');
  expect([...codeOf(STARTS).matchAll(/\bspawn\(([^)]*)/g)].map(([, words]) => words)).toEqual([
    'path, [commandLine, ...process.argv.slice(2',
  ]);
  expect([...codeOf(WRITES).matchAll(/execFile\)\(('[^']*')/g)].map(([, command]) => command)).toEqual(["'sync'"]);
});
