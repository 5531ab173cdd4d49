import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { lockBuild } from '../../scripts/build-lock.ts';
import { temporaryFolder } from './command.ts';

let folder: string;
beforeAll(async () => {
  folder = await temporaryFolder();
});
afterAll(() => rm(folder, { recursive: true, force: true }));

test('one build holds the lock, the next gets it when it is given back', async () => {
  const unlock = await lockBuild(folder);
  await expect(lockBuild(folder)).rejects.toThrow(`Another build is running (process ${process.pid})`);
  await unlock();
  expect(existsSync(join(folder, 'build.lock'))).toBe(false);
  await (await lockBuild(folder))();
});

test.each([
  ['of a process that is no more', async () => `${await pidOfDeadProcess()} 12345`],
  ['of another process under the same number', async () => `${process.pid} 12345`],
  ['damaged', async () => ''],
  ['of an older version', async () => String(await pidOfDeadProcess())],
])('a lock that is %s is taken over', async (_, content) => {
  await writeFile(join(folder, 'build.lock'), await content());
  await (await lockBuild(folder))();
});

function pidOfDeadProcess(): Promise<number> {
  return new Promise((resolve) => {
    const child = spawn(process.execPath, ['--version'], { stdio: 'ignore' });
    child.on('close', () => resolve(child.pid ?? 0));
  });
}
