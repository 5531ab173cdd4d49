import { mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { licencesPage, shippedPackages } from '../../scripts/publish/licences.ts';

let home: string;
async function install(name: string, license: string): Promise<string> {
  const folder = join(home, 'node_modules', name);
  await mkdir(folder, { recursive: true });
  await writeFile(join(folder, 'package.json'), JSON.stringify({ name, version: '1.2.3', license }));
  await writeFile(join(folder, 'LICENSE.txt'), `The terms of ${name}.`);
  return join(folder, 'index.js');
}
beforeAll(async () => {
  home = await mkdtemp(join(tmpdir(), 'takeshelf-licences-'));
});
afterAll(() => rm(home, { recursive: true, force: true }));

test('every package in the bundles is named once, with its terms', async () => {
  const files = [await install('@scope/fonts', 'OFL-1.1'), await install('maths', 'ISC'), 'src/client/main.ts'];
  const packages = shippedPackages([...files, files[1]]);
  expect(packages.map(({ name, licence }) => [name, licence])).toEqual([
    ['@scope/fonts', 'OFL-1.1'],
    ['maths', 'ISC'],
  ]);
  expect(licencesPage(packages, 'Own terms.')).toMatch(
    /Own terms\.[\s\S]*The terms of @scope\/fonts\.[\s\S]*The terms of maths\./,
  );
});

test('a package without a licence file passes on what its README says under "License", or nothing gets built', async () => {
  const file = await install('terse', 'MIT');
  const folder = join(home, 'node_modules', 'terse');
  await rm(join(folder, 'LICENSE.txt'));
  expect(() => shippedPackages([file])).toThrow(/no licence text/);
  await writeFile(join(folder, 'README.md'), '# terse\n\nShort.\n\n#### LICENSE\n\nThe terms of terse.\n');
  expect(shippedPackages([file])[0].text.trim()).toBe('The terms of terse.');
});

test('a package that asks for more than to be named does not get into the page', async () => {
  const file = await install('strict', 'GPL-3.0');
  expect(() => shippedPackages([file])).toThrow(/strict is under GPL-3.0/);
});

test('DEVELOPERS.md names every direct package with the licence it states', async () => {
  const project = new URL('../..', import.meta.url).pathname;
  const read = async (path: string): Promise<string> => readFile(join(project, path), 'utf8');
  const text = await read('DEVELOPERS.md');
  const { dependencies, devDependencies } = JSON.parse(await read('package.json')) as Record<
    string,
    Record<string, string>
  >;
  for (const name of Object.keys({ ...dependencies, ...devDependencies })) {
    const { license } = JSON.parse(await read(`node_modules/${name}/package.json`)) as { license: string };
    expect(text).toContain(`| \`${name}\` | ${license} |`);
  }
});
