import { spawn } from 'node:child_process';
import { mkdir, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { cacheWithPage, project, takeshelf, temporaryFolder } from './command.ts';
import { tone, wav, writeSmallArchive } from './small-archive.ts';

const COMMANDS = ['build', 'serve', 'measure', 'find', 'report', 'demo'];

let home: string;
let site: string;
beforeAll(async () => {
  home = await temporaryFolder();
  site = join(home, 'site');
  const archive = await writeSmallArchive(join(home, 'archive'), 4);
  await mkdir(join(archive, 'Quay'));
  await writeFile(join(archive, 'Quay/rope.wav'), wav(tone(20, 2.5), 48_000, { IKEY: 'rope;dark' }));
  await writeFile(join(archive, 'Quay/letter.wav'), 'Not audio at all.');
  const cache = await cacheWithPage(join(home, 'cache'));
  const { code, stderr } = await takeshelf(['build', archive, '--out', site, '--cache', cache]);
  expect(code, stderr).toBe(0);
});
afterAll(() => rm(home, { recursive: true, force: true }));

const lines = (stdout: string): Record<string, unknown>[] =>
  stdout
    .split('\n')
    .filter((line) => line !== '')
    .map((line) => JSON.parse(line) as Record<string, unknown>);

test.each(COMMANDS)('%s explains itself', async (command) => {
  const { code, stdout } = await takeshelf([command, '--help']);
  expect(code).toBe(0);
  expect(stdout).toContain(`Usage: takeshelf ${command}`);
});

test.each([
  [['bogus']],
  [['find']],
  [['measure']],
  [['demo']],
  [['serve', '--port', '99999']],
  [['find', 'x', '--limit', '0']],
  [['find', 'x', '--also-at', '-48']],
  [['find', 'x', '--also-at', 'low']],
])('%j is wrong usage: exit code 2, a sentence, nothing on stdout', async (words) => {
  const { code, stdout, stderr } = await takeshelf(words);
  expect(code).toBe(2);
  expect(stdout).toBe('');
  expect(stderr.length).toBeGreaterThan(20);
});

test('without a site, find, report and serve say how to build one', async () => {
  for (const words of [['find', 'rope'], ['report'], ['serve']]) {
    const { code, stderr } = await takeshelf([...words, '--site', join(home, 'nowhere')]);
    expect(code).toBe(2);
    expect(stderr).toMatch(/npm run takeshelf -- build/);
  }
});

describe('measure', () => {
  test('prints every agreed field, null where there is no meaning, and counts paths from the caller', async () => {
    const { code, stdout } = await takeshelf(['measure', 'archive/Quay/rope.wav', '--json'], { cwd: home });
    expect(code).toBe(0);
    const [sound] = lines(stdout);
    const agreed =
      'id file startSeconds durationSeconds sampleRateHz channels bitDepth integratedLufs momentaryMaxLufs shortTermMaxLufs loudnessRangeLu truePeakDbtp samplePeakDbfs noiseFloorDbfs crestDb activeStartSeconds activeSeconds attackSeconds decaySeconds temporalCentroid climaxSeconds accents gesture contour centroidHz spreadHz flatness rolloffHz pitchHz pitchConfidence note centsOff pulseBpm tremoloHz brightnessSlope stereoWidth correlation clippedSamples dcOffset faults';
    for (const field of agreed.split(' ')) expect(sound, field).toHaveProperty(field);
    expect(sound).toMatchObject({
      file: 'archive/Quay/rope.wav',
      durationSeconds: 2.5,
      sampleRateHz: 48_000,
      channels: 1,
      bitDepth: 16,
      stereoWidth: null,
    });
    expect(sound.contour).toHaveLength(64);
    // The tone is synthesised at 180 + 37 * 20 Hz (small-archive.ts).
    expect(sound.pitchHz).toBeCloseTo(920, 0);
  });

  test('goes on after a bad file, says so, and fails in the end', async () => {
    const { code, stdout, stderr } = await takeshelf(
      ['measure', 'archive/Quay/letter.wav', 'archive/Quay/rope.wav', 'gone.wav', '--json'],
      { cwd: home },
    );
    expect(code).toBe(1);
    expect(lines(stdout)).toHaveLength(1);
    expect(stderr).toMatch(/letter\.wav: This is a text file/);
    expect(stderr).toMatch(/gone\.wav: /);
  });
});

test('find also answers at other speeds, and says at which', async () => {
  // The rope lasts 2.5 s: 5 s an octave down.
  const words = ['find', 'rope', '5', 's', '--site', site, '--json'];
  expect(lines((await takeshelf(words)).stdout)).toEqual([]);
  const [rope] = lines((await takeshelf([...words, '--also-at', '-24,-12,12'])).stdout);
  expect(rope).toMatchObject({ name: 'rope', durationSeconds: 2.5, semitones: -12 });
  expect(rope.why).toEqual(['at -12 st', 'name: rope', '5 s long, +0 ms']);
});

test('find answers as the page does: words, tags, length; none is an answer too', async () => {
  const names = async (...words: string[]): Promise<unknown[]> => {
    const { code, stdout } = await takeshelf(['find', ...words, '--site', site, '--json']);
    expect(code).toBe(0);
    return lines(stdout).map(({ name }) => name);
  };
  expect(await names('rope')).toEqual(['rope']);
  expect(await names('tagged', 'dark')).toEqual(['rope']);
  expect(await names('over', '2s')).toEqual(['rope']);
  expect(await names('plate', '--limit', '2')).toHaveLength(2);
  expect(await names('trombone')).toEqual([]);
});

test('report lists what gave no sound, and ends quietly when its reader stops reading', async () => {
  const { code, stdout } = await takeshelf(['report', '--site', site, '--json']);
  expect(code).toBe(0);
  const unreadable = lines(stdout).filter(({ finding }) => finding === 'unreadable');
  expect(unreadable.map(({ file }) => file)).toEqual(['Quay/letter.wav']);
  const child = spawn(process.execPath, [join(project, 'scripts/takeshelf.ts'), 'report', '--site', site]);
  child.stdout.destroy();
  let stderr = '';
  child.stderr.on('data', (data: Buffer) => {
    stderr += data.toString();
  });
  expect(await new Promise((resolve) => child.on('close', resolve))).toBe(0);
  expect(stderr).toBe('');
});

test('serve answers on this machine, under the address it prints, and not outside the site', async () => {
  const child = spawn(process.execPath, [join(project, 'scripts/takeshelf.ts'), 'serve', '--site', site]);
  try {
    const address = await new Promise<string>((resolve, reject) => {
      child.stdout.once('data', (data: Buffer) => resolve(data.toString().trim()));
      child.once('close', () => reject(new Error('serve ended')));
    });
    expect(address).toMatch(/^http:\/\/127\.0\.0\.1:\d+\/$/);
    const page = await fetch(address);
    expect(page.status).toBe(200);
    const text = await page.text();
    expect(text).toContain('<title>');
    // What the page forbids itself, the server forbids it, too.
    const policy = /http-equiv="Content-Security-Policy" content="([^"]+)"/.exec(text)?.[1].replaceAll('&#39;', "'");
    expect(policy).toContain("default-src 'none'");
    expect(page.headers.get('content-security-policy')).toBe(`${policy}; frame-ancestors 'none'`);
    expect((await fetch(new URL('data/shelf.js', address))).headers.get('content-type')).toMatch(/javascript/);
    for (const path of ['nothing.html', '..%2f..%2fetc%2fpasswd', '%2e%2e/archive/Quay/letter.wav']) {
      expect((await fetch(address + path)).status, path).toBe(404);
    }
  } finally {
    child.kill();
  }
});

test.each([
  ['SIGTERM', () => ['build', join(home, 'archive'), '--out', site, '--cache', join(home, 'cache'), '--serve']],
  ['SIGKILL', () => ['serve', '--site', site]],
] as const)('a server that npm started ends with npm (%s)', async (signal, words) => {
  const npm = spawn('npm', ['run', '--silent', 'takeshelf', '--', ...words()], { cwd: project });
  const printed = await new Promise<string>((resolve, reject) => {
    npm.stdout.once('data', (data: Buffer) => resolve(data.toString().trim()));
    npm.once('close', () => reject(new Error('serve ended')));
  });
  expect((await fetch(printed)).status).toBe(200);
  npm.kill(signal);
  // The server holds the other end of the pipe: it closes when the server has ended, and not before.
  await new Promise((resolve) => npm.once('close', resolve));
  await expect(fetch(printed)).rejects.toThrow();
});
