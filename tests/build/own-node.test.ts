/** The program runs on a Node that the lock file answers for, from any folder. */
import { execFile } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { describe, expect, it } from 'vitest';
import { projectFolder } from '../../scripts/paths.ts';

interface LockedPackage {
  version: string;
  integrity?: string;
  hasInstallScript?: boolean;
  link?: boolean;
}

const readJson = (name: string) => JSON.parse(readFileSync(join(projectFolder, name), 'utf8'));
const locked = Object.entries(readJson('package-lock.json').packages as Record<string, LockedPackage>).filter(
  ([path]) => path !== '',
);
const { optionalDependencies, allowScripts } = readJson('package.json') as {
  optionalDependencies: Record<string, string>;
  allowScripts: Record<string, boolean>;
};

describe('what an installation brings', () => {
  it('has its hash in the lock file, package by package', () => {
    // npm's documentation of package-lock.json: `integrity` is a Subresource Integrity string of the tarball.
    const without = locked.filter(([, { integrity, link }]) => !link && !/^sha512-/.test(integrity ?? ''));
    expect(without.map(([path]) => path)).toEqual([]);
  });

  it('runs no script while it is installed', () => {
    const scripted = locked.filter(([, { hasInstallScript }]) => hasInstallScript).map(([path]) => path);
    const names = scripted.map((path) => path.split('node_modules/').at(-1) ?? '');
    expect(names.filter((name) => allowScripts[name] !== false)).toEqual([]);
  });

  it('is one version of Node for every system', () => {
    const versions = Object.entries(optionalDependencies).filter(([name]) => name.startsWith('node-'));
    expect(versions.map(([name]) => name.replace(/^node-(bin-)?/, '')).sort()).toEqual([
      'darwin-arm64',
      'darwin-x64',
      'linux-arm64',
      'linux-x64',
      'win-x64',
    ]);
    expect(new Set(versions.map(([, version]) => version)).size).toBe(1);
    expect(versions[0][1]).toBe(process.versions.node);
  });
});

describe('the command line', () => {
  it('starts from any folder, and counts paths from there', async () => {
    const { INIT_CWD, ...env } = process.env;
    const started = promisify(execFile)(
      process.execPath,
      [join(projectFolder, 'scripts', 'takeshelf.mjs'), 'find', 'metal', '--site', 'nowhere'],
      { cwd: tmpdir(), env },
    );
    await expect(started).rejects.toMatchObject({
      code: 2,
      stderr: expect.stringContaining(join(tmpdir(), 'nowhere')),
    });
  });
});
