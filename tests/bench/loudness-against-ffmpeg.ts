/**
 * Compares integrated loudness and true peak with ffmpeg, an independent meter, on the FLAC files of a public sample
 * set: loudness with its ebur128 filter, true peak with its resampler at 8 times the rate (an error of at most 0.17 dB by
 * BS.1770-5 Annex 2, so nearer the truth than a meter at 4 times) and, for comparison, with ebur128's own figure. By hand: `npx node tests/bench/loudness-against-ffmpeg.ts`. Needs ffmpeg on the path.
 *
 * ffmpeg prints one decimal, so 0.05 of every difference is rounding. Exit code 1 when a file differs by more than
 * MOST_DIFFERENCE, or when ffmpeg is missing.
 */
import { spawnSync } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { LoudnessMeter } from '../../shared/measure/loudness.ts';
import { TruePeakMeter } from '../../shared/measure/true-peak.ts';

const SAMPLES = fileURLToPath(new URL('../../node_modules/supersonic-scsynth-samples/samples/', import.meta.url));
/** LU; EBU Tech 3341 allows a meter as much. */
const MOST_LOUDNESS_DIFFERENCE = 0.1;
/** dB; EBU Tech 3341 allows +0.2 / -0.4. */
const MOST_PEAK_DIFFERENCE = 0.2;
const OVERSAMPLING = 8;

interface Reading {
  integratedLufs: number | null;
  truePeakDbtp: number | null;
  sampleRateHz: number;
}

async function ourReading(path: string): Promise<Reading> {
  const stream = await openAudio(path);
  const { sampleRateHz, channels, channelMask } = stream.format;
  const loudness = new LoudnessMeter(sampleRateHz, channels, channelMask);
  const peak = new TruePeakMeter(sampleRateHz, channels);
  for await (const block of stream.blocks()) {
    loudness.push(block);
    peak.push(block);
  }
  await stream.close();
  return { integratedLufs: loudness.finish().integratedLufs, truePeakDbtp: peak.finish(), sampleRateHz };
}

function oversampledPeak(path: string, sampleRateHz: number): number | null {
  const filter = `aformat=sample_fmts=dblp,aresample=osr=${sampleRateHz * OVERSAMPLING}:osf=dblp,astats=measure_perchannel=none`;
  const { stderr } = spawnSync('ffmpeg', ['-hide_banner', '-nostats', '-i', path, '-af', filter, '-f', 'null', '-'], {
    encoding: 'utf8',
  });
  const found = Number(/Peak level dB: (-?[\d.]+)/.exec(stderr)?.[1] ?? Number.NaN);
  return Number.isFinite(found) ? found : null;
}

function ffmpegReading(path: string): Omit<Reading, 'sampleRateHz'> {
  const { stderr } = spawnSync(
    'ffmpeg',
    ['-hide_banner', '-nostats', '-i', path, '-af', 'ebur128=peak=true', '-f', 'null', '-'],
    {
      encoding: 'utf8',
    },
  );
  const summary = stderr.slice(stderr.lastIndexOf('Summary:'));
  const number = (pattern: RegExp): number | null => {
    const found = Number(pattern.exec(summary)?.[1] ?? Number.NaN);
    return Number.isFinite(found) ? found : null;
  };
  const integrated = number(/I:\s+(-?[\d.]+) LUFS/);
  // Below the gate, or without a whole block, it prints -70.0.
  return { integratedLufs: integrated === -70 ? null : integrated, truePeakDbtp: number(/Peak:\s+(-?[\d.]+) dBFS/) };
}

interface Difference {
  name: string;
  value: number;
}

function report(title: string, unit: string, differences: Difference[], most: number): boolean {
  const sizes = differences.map(({ value }) => Math.abs(value)).sort((a, b) => a - b);
  const mean = sizes.reduce((sum, size) => sum + size, 0) / sizes.length;
  const at = (share: number): string => sizes[Math.round(share * (sizes.length - 1))].toFixed(3);
  console.log(
    `${title}: ${sizes.length} files, |difference| mean ${mean.toFixed(3)}, median ${at(0.5)}, 95 % ${at(0.95)}, greatest ${at(1)} ${unit}`,
  );
  const beyond = differences.filter(({ value }) => Math.abs(value) > most);
  for (const { name, value } of beyond) console.log(`  ${name}: ${value.toFixed(2)} ${unit}`);
  return beyond.length === 0;
}

if (spawnSync('ffmpeg', ['-version']).error) {
  console.error('ffmpeg is not installed: nothing was compared. Install it and run this again.');
  process.exitCode = 1;
} else {
  const loudness: Difference[] = [];
  const peaks: Difference[] = [];
  const ownPeaks: Difference[] = [];
  let onlyOne = 0;
  for (const name of readdirSync(SAMPLES).filter((file) => file.endsWith('.flac'))) {
    const ours = await ourReading(SAMPLES + name);
    const theirs = ffmpegReading(SAMPLES + name);
    if (ours.integratedLufs !== null && theirs.integratedLufs !== null) {
      loudness.push({ name, value: ours.integratedLufs - theirs.integratedLufs });
    } else if (ours.integratedLufs !== theirs.integratedLufs) {
      onlyOne++;
      console.log(`  ${name}: ours ${ours.integratedLufs?.toFixed(2)}, ffmpeg ${theirs.integratedLufs} LUFS`);
    }
    if (ours.truePeakDbtp !== null && theirs.truePeakDbtp !== null) {
      ownPeaks.push({ name, value: ours.truePeakDbtp - theirs.truePeakDbtp });
    }
    const exact = oversampledPeak(SAMPLES + name, ours.sampleRateHz);
    if (ours.truePeakDbtp !== null && exact !== null) peaks.push({ name, value: ours.truePeakDbtp - exact });
  }
  const loudnessAgrees = report('Integrated loudness', 'LU', loudness, MOST_LOUDNESS_DIFFERENCE);
  const peaksAgree = report('True peak, oversampled 8 times', 'dB', peaks, MOST_PEAK_DIFFERENCE);
  report('True peak, by ebur128', 'dB', ownPeaks, Number.POSITIVE_INFINITY);
  console.log(`${onlyOne} files have an integrated loudness on one side only.`);
  if (!loudnessAgrees || !peaksAgree) process.exitCode = 1;
}
