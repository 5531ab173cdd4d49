/**
 * How fast a whole build is: decode, measure and preview of 48 kHz stereo recordings on all cores, as a multiple of real
 * time, beside a native command-line tool (ffmpeg) that does loudness, true peak, spectral statistics and MP3 of the
 * same files on as many cores in the same run. Real sounds (a CC0 package) one after another make the recordings.
 *
 *   node tests/bench/build-against-native.ts [minutes of audio]
 */
import { spawn } from 'node:child_process';
import { mkdir, mkdtemp, readdir, rm, writeFile } from 'node:fs/promises';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { BuildCache } from '../../scripts/archive/cache.ts';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { USUAL_SPLIT } from '../../scripts/archive/split-settings.ts';
import { measureFiles } from '../../scripts/worker-pool.ts';
import { Resampler } from '../../shared/measure/resample.ts';
import { project } from '../build/command.ts';

const RATE = 48_000;
const minutes = Number(process.argv[2] ?? 8);
const home = await mkdtemp(join(tmpdir(), 'takeshelf-bench-'));
try {
  const { paths, seconds } = await writeRecordings(join(home, 'archive'), minutes * 60);
  const ours = await timed(() => measureAll(paths, join(home, 'cache')));
  const native = await timed(() => nativeAll(paths)).catch((error: Error) => error);
  console.log(
    `${paths.length} recordings, ${(seconds / 60).toFixed(1)} min of 48 kHz stereo, ${availableParallelism()} cores`,
  );
  console.log(`this build   ${(seconds / ours).toFixed(0)} x real time (${ours.toFixed(1)} s)`);
  if (native instanceof Error) console.log(`ffmpeg is not here to compare with: ${native.message}`);
  else {
    console.log(`ffmpeg       ${(seconds / native).toFixed(0)} x real time (${native.toFixed(1)} s)`);
    console.log(`ratio        ${(ours / native).toFixed(2)} of the native tool's time`);
  }
} finally {
  await rm(home, { recursive: true, force: true });
}

async function timed(work: () => Promise<void>): Promise<number> {
  const start = performance.now();
  await work();
  return (performance.now() - start) / 1000;
}

async function measureAll(paths: readonly string[], cacheFolder: string): Promise<void> {
  const { takesKey } = await BuildCache.open(cacheFolder);
  const tasks = paths.map((path) => ({ path, split: USUAL_SPLIT }));
  await measureFiles(tasks, {
    settings: { cacheFolder, takesKey, corrections: new Map() },
    onDone: (done) => {
      if (!('known' in done)) throw new Error(JSON.stringify(done));
    },
  });
}

/** As many processes at once as there are cores, one thread each. */
async function nativeAll(paths: readonly string[]): Promise<void> {
  let next = 0;
  const lane = async (): Promise<void> => {
    while (next < paths.length) await native(paths[next++]);
  };
  await Promise.all(Array.from({ length: availableParallelism() }, lane));
}

function native(path: string): Promise<void> {
  const filters = '[0:a]asplit=2[a][b];[a]ebur128=peak=true,aspectralstats=win_size=2048:overlap=0.5[m]';
  const words = ['-v', 'error', '-y', '-threads', '1', '-i', path, '-filter_complex', filters];
  words.push('-map', '[m]', '-f', 'null', '-', '-map', '[b]', '-b:a', '128k', `${path}.mp3`);
  return new Promise((resolve, reject) => {
    const child = spawn('ffmpeg', words, { stdio: ['ignore', 'ignore', 'inherit'] });
    child.on('error', reject);
    child.on('close', (code) => (code === 0 ? resolve() : reject(new Error(`ffmpeg ended with code ${code}`))));
  });
}

/** Recordings of about a minute: real sounds with half a second of silence between, 16-bit. */
async function writeRecordings(folder: string, wanted: number): Promise<{ paths: string[]; seconds: number }> {
  await mkdir(folder, { recursive: true });
  const source = join(project, 'node_modules/supersonic-scsynth-samples/samples');
  const names = (await readdir(source)).filter((name) => name.endsWith('.flac')).sort();
  const paths: string[] = [];
  let seconds = 0;
  let parts: Float32Array[][] = [];
  let frames = 0;
  for (let i = 0; seconds < wanted; i++) {
    const sound = await stereoAt48(join(source, names[(i * 7) % names.length]));
    parts.push(sound, [new Float32Array(RATE / 2), new Float32Array(RATE / 2)]);
    frames += sound[0].length + RATE / 2;
    if (frames < 60 * RATE) continue;
    const path = join(folder, `recording ${String(paths.length).padStart(2, '0')}.wav`);
    await writeFile(path, wav(parts, frames));
    paths.push(path);
    seconds += frames / RATE;
    parts = [];
    frames = 0;
  }
  return { paths, seconds };
}

async function stereoAt48(path: string): Promise<Float32Array[]> {
  const stream = await openAudio(path);
  const { channels, sampleRateHz } = stream.format;
  const resampler = new Resampler(channels, sampleRateHz, RATE);
  const blocks: Float32Array[][] = [];
  for await (const block of stream.blocks()) blocks.push(resampler.push(block));
  blocks.push(resampler.finish());
  await stream.close();
  return [0, channels > 1 ? 1 : 0].map((channel) => {
    const whole = new Float32Array(blocks.reduce((sum, block) => sum + block[0].length, 0));
    let at = 0;
    for (const block of blocks) {
      whole.set(block[channel], at);
      at += block[channel].length;
    }
    return whole;
  });
}

function wav(parts: readonly Float32Array[][], frames: number): Uint8Array {
  const bytes = Buffer.alloc(44 + frames * 4);
  bytes.write('RIFF', 0);
  bytes.writeUInt32LE(36 + frames * 4, 4);
  bytes.write('WAVEfmt ', 8);
  bytes.writeUInt32LE(16, 16);
  bytes.writeUInt16LE(1, 20);
  bytes.writeUInt16LE(2, 22);
  bytes.writeUInt32LE(RATE, 24);
  bytes.writeUInt32LE(RATE * 4, 28);
  bytes.writeUInt16LE(4, 32);
  bytes.writeUInt16LE(16, 34);
  bytes.write('data', 36);
  bytes.writeUInt32LE(frames * 4, 40);
  let at = 44;
  for (const [left, right] of parts) {
    for (let i = 0; i < left.length; i++, at += 4) {
      bytes.writeInt16LE(Math.max(-32_768, Math.min(32_767, Math.round(left[i] * 32_767))), at);
      bytes.writeInt16LE(Math.max(-32_768, Math.min(32_767, Math.round(right[i] * 32_767))), at + 2);
    }
  }
  return bytes;
}
