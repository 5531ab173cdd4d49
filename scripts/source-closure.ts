/**
 * What a part of the program is made of: every file that its entry files import, however far, and every package.
 * Worked out from the import statements, so that no list kept by hand can lack one.
 */
import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import { projectFolder } from './paths.ts';

export interface SourceClosure {
  /** Paths relative to the project, forward slashes, in order. */
  files: string[];
  /** Names of the packages imported, in order; Node's own modules are not among them. */
  packages: string[];
}

/** `import x from 'y'`, `export * from 'y'`, `import 'y'`, `import('y')`, `new URL('./y', import.meta.url)`, CSS's `@import "y"`. */
const IMPORTS = [
  /(?:^|[\s;}])(?:import|export)\s[^'";]*?from\s*['"]([^'"]+)['"]/g,
  /(?:^|[\s;])import\s*\(?\s*['"]([^'"]+)['"]/g,
  /new URL\(\s*['"](\.[^'"]+\.(?:ts|mjs|wasm))['"]\s*,\s*import\.meta\.url/g,
  /@import\s+["']([^"']+)["']/g,
  /url\(["']?([^"')]+\.woff2)["']?\)/g,
];
/** Types are gone when the program runs. */
const TYPES_ONLY = /(?:^|\n)\s*(?:import|export) type\s[^;]*;/g;
const COMMENTS = /\/\*[\s\S]*?\*\/|(?<![:'"])\/\/.*$/gm;

export function sourceClosure(entries: readonly string[]): SourceClosure {
  const files = new Set<string>();
  const packages = new Set<string>();
  const waiting = [...entries];
  for (let path = waiting.pop(); path !== undefined; path = waiting.pop()) {
    if (files.has(path)) continue;
    files.add(path);
    if (!/\.(ts|mjs|astro|css)$/.test(path)) continue;
    for (const name of importsOf(readFileSync(join(projectFolder, path), 'utf8'))) {
      if (name.startsWith('node:')) continue;
      if (name.startsWith('.'))
        waiting.push(relative(projectFolder, join(projectFolder, path, '..', name)).replaceAll('\\', '/'));
      else packages.add(packageOf(name));
    }
  }
  return { files: [...files].sort(), packages: [...packages].sort() };
}

function importsOf(code: string): string[] {
  const bare = code.replace(COMMENTS, '').replace(TYPES_ONLY, '\n');
  return IMPORTS.flatMap((pattern) => [...bare.matchAll(pattern)].map(([, name]) => name));
}

const packageOf = (name: string): string => /^(@[^/]+\/)?[^/]+/.exec(name)?.[0] ?? name;

/** Twelve hexadecimal characters over the closure of `entries`: the files' content, the packages' versions and those of theirs. */
export function closureDigest(entries: readonly string[]): string {
  const { files, packages } = sourceClosure(entries);
  const hash = createHash('sha256');
  for (const path of files) hash.update(`${path}\n`).update(readFileSync(join(projectFolder, path)));
  for (const [name, version] of withTheirs(packages)) hash.update(`${name}@${version}\n`);
  return hash.digest('hex').slice(0, 12);
}

interface Manifest {
  version: string;
  dependencies?: Record<string, string>;
}

/** Name and version of each package and of all that it needs, as installed at the project's root. */
function withTheirs(packages: readonly string[]): [name: string, version: string][] {
  const versions = new Map<string, string>();
  const waiting = [...packages];
  for (let name = waiting.pop(); name !== undefined; name = waiting.pop()) {
    if (versions.has(name)) continue;
    const path = join(projectFolder, 'node_modules', name, 'package.json');
    if (!existsSync(path)) continue;
    const { version, dependencies = {} } = JSON.parse(readFileSync(path, 'utf8')) as Manifest;
    versions.set(name, version);
    waiting.push(...Object.keys(dependencies));
  }
  return [...versions].sort(([a], [b]) => (a < b ? -1 : 1));
}
