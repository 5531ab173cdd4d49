import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';

const project = new URL('../..', import.meta.url).pathname;

function sources(folder: string): string[] {
  return readdirSync(join(project, folder), { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.ts'))
    .map((name) => join(folder, name));
}

const imports = (path: string): string[] =>
  [...readFileSync(join(project, path), 'utf8').matchAll(/(?:from|import)\s*\(?\s*'([^']+)'/g)].map(([, name]) => name);

test('shared/ imports neither Node nor the page nor the build, so that both sides can run it', () => {
  const found = sources('shared').flatMap((path) => imports(path).map((name) => [path, name] as const));
  expect(found.length).toBeGreaterThan(20);
  const packages = new Set(['flexsearch', 'meyda']);
  const wrong = found.filter(([, name]) => {
    if (!name.startsWith('.'))
      return ![...packages].some((allowed) => name === allowed || name.startsWith(`${allowed}/`));
    return /\/(scripts|src|tests)\//.test(name);
  });
  expect(wrong).toEqual([]);
});

test('shared/ touches no page object', () => {
  for (const path of sources('shared')) {
    const code = readFileSync(join(project, path), 'utf8').replace(/\/\*[\s\S]*?\*\/|\/\/.*$/gm, '');
    expect(code, path).not.toMatch(/\b(document|window|localStorage|navigator|process|Buffer)\./);
  }
});

test('the page never imports the build', () => {
  const wrong = sources('src').flatMap((path) => imports(path).filter((name) => /scripts\/|node:/.test(name)));
  expect(wrong).toEqual([]);
});

test('what is bundled for the page’s worker reaches no Node, not even through the decoders it takes from the build', () => {
  const seen = new Set<string>();
  const follow = (path: string): void => {
    if (seen.has(path)) return;
    seen.add(path);
    const code = readFileSync(join(project, path), 'utf8').replace(/import type [\s\S]*?;/g, '');
    for (const [, name] of code.matchAll(/from '([^']+)'/g)) {
      expect(name, path).not.toMatch(/^node:/);
      if (name.startsWith('.')) follow(join(path, '..', name));
    }
  };
  follow('scripts/in-page/worker.ts');
  expect([...seen]).toContain('scripts/archive/decode/flac.ts');
});
