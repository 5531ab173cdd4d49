/**
 * How many times faster than real time a sound is measured, on one core (processor time, not the clock, so that other
 * work on the machine does not count): `npx node tests/bench/measure-speed.ts`. Seeded, warmed up.
 * The yardstick is fft.js doing the one transform of 2 048 every 1 024 samples that any spectrum needs.
 */
import FFT from 'fft.js';
import { SoundMeasurer } from '../../shared/measure/measure.ts';
import { harmonics, whiteNoise } from '../measure/tones.ts';

const SECONDS = 30;
const BLOCK_FRAMES = 65_536;

const MATERIALS: Record<string, (rateHz: number) => Float32Array[]> = {
  'hits dying away': (rateHz) => {
    const tone = harmonics(110, SECONDS, rateHz, (n) => 0.3 / n, 6_000);
    const noise = whiteNoise(SECONDS, rateHz, 0.05, 2);
    const fall = (n: number): number => Math.exp((-3 * (n % rateHz)) / rateHz);
    return [tone.map((x, n) => (x + noise[n]) * fall(n)), tone.map((x, n) => (x - noise[n]) * fall(n))];
  },
  'steady noise': (rateHz) => [whiteNoise(SECONDS, rateHz, 0.1, 3), whiteNoise(SECONDS, rateHz, 0.1, 4)],
  'steady tone': (rateHz) => [
    harmonics(220, SECONDS, rateHz, (n) => 0.2 / n, 8_000),
    harmonics(221, SECONDS, rateHz, (n) => 0.2 / n, 8_000),
  ],
};

function processorSeconds(work: () => void): number {
  const before = process.cpuUsage();
  work();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1e6;
}

function measureOnce(channels: Float32Array[], sampleRateHz: number): void {
  const frames = channels[0].length;
  const measurer = new SoundMeasurer({
    sampleRateHz,
    channels: 2,
    bitDepth: 24,
    channelMask: null,
    totalFrames: frames,
  });
  for (let from = 0; from < frames; from += BLOCK_FRAMES) {
    measurer.push(channels.map((samples) => samples.subarray(from, from + BLOCK_FRAMES)));
  }
  measurer.finish();
}

function yardstick(): void {
  const transform = new FFT(2_048);
  const input = new Array<number>(4_096).fill(0).map((_, n) => Math.sin(n * n));
  const output = new Array<number>(4_096).fill(0);
  for (let frame = 0; frame < (SECONDS * 48_000) / 1_024; frame++) transform.transform(output, input);
}

yardstick();
const yardstickSeconds = Math.min(processorSeconds(yardstick), processorSeconds(yardstick));
console.log(`yardstick: ${(SECONDS / yardstickSeconds).toFixed(0)} times real time`);
for (const rateHz of [48_000, 44_100, 96_000]) {
  for (const [name, make] of Object.entries(MATERIALS)) {
    const channels = make(rateHz);
    measureOnce(channels, rateHz);
    const times = [0, 1, 2].map(() => processorSeconds(() => measureOnce(channels, rateHz))).sort((a, b) => a - b);
    const [best, middle] = times.map((seconds) => SECONDS / seconds);
    const cost = (times[0] / yardstickSeconds).toFixed(1);
    console.log(
      `${rateHz} Hz stereo, ${name}: ${best.toFixed(0)} times real time (median ${middle.toFixed(0)}), ${cost} yardsticks`,
    );
  }
}
