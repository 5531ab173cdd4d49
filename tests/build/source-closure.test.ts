/** What a part of the program is made of, against what a bundler that follows imports by itself takes into it. */
import { build } from 'esbuild';
import { expect, test } from 'vitest';
import { projectFolder } from '../../scripts/paths.ts';
import { sourceClosure } from '../../scripts/source-closure.ts';

/** esbuild's own list of inputs: our files, and the packages by name. */
async function bundled(entry: string, platform: 'node' | 'browser'): Promise<{ files: string[]; packages: string[] }> {
  const { metafile } = await build({
    entryPoints: [entry],
    absWorkingDir: projectFolder,
    outdir: 'bundled',
    bundle: true,
    write: false,
    metafile: true,
    platform,
    format: 'esm',
    packages: 'external',
    loader: { '.woff2': 'empty' },
    logLevel: 'silent',
  });
  const inputs = Object.entries(metafile.inputs);
  const external = inputs.flatMap(([, { imports }]) => imports.filter((one) => one.external).map(({ path }) => path));
  const names = external
    .filter((name) => !name.startsWith('node:'))
    .map((name) => /^(@[^/]+\/)?[^/]+/.exec(name)?.[0] ?? '');
  return { files: inputs.map(([path]) => path).sort(), packages: [...new Set(names)].sort() };
}

test.each([
  ['src/client/main.ts', 'browser'],
  ['scripts/in-page/worker.ts', 'browser'],
  ['scripts/measure-worker.ts', 'node'],
] as const)('%s: nothing that runs is missing', async (entry, platform) => {
  const closure = sourceClosure([entry]);
  const { files, packages } = await bundled(entry, platform);
  expect(files.length).toBeGreaterThan(20);
  expect(files.filter((file) => !closure.files.includes(file))).toEqual([]);
  expect(packages.filter((name) => !closure.packages.includes(name))).toEqual([]);
});

test('pages, styles and fonts are followed too', () => {
  const { files, packages } = sourceClosure(['src/pages/index.astro', 'src/styles/takeshelf.css']);
  expect(files).toContain('src/layouts/Page.astro');
  expect(files).toContain('src/styles/tokens.css');
  expect(packages).toContain('@fontsource/source-serif-4');
});
