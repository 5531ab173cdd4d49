/** What leaves for the ears: the ceiling holds whatever comes, and the level is the one asked for. */
import { build } from 'esbuild';
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CEILING_DB, matchLoudness, toGain } from '../../src/client/output.ts';
import { launch } from './chromium.ts';
import { PROJECT } from './fixture-site.ts';

let browser: Browser;
let page: Page;
beforeAll(async () => {
  browser = await launch();
  page = await browser.newPage();
  const { outputFiles } = await build({
    entryPoints: [`${PROJECT}src/client/output.ts`],
    bundle: true,
    format: 'iife',
    globalName: 'output',
    write: false,
  });
  await page.evaluate(outputFiles[0].text.replace(/^(["']use strict["'];\s*)?var output/, '$1globalThis.output'));
});
afterAll(() => browser.close());

interface Heard {
  peak: number;
  /** Root mean square of the second half, past any attack. */
  rms: number;
}

/** Renders a test signal through the page's output chain. `code` gives the sample at frame i of 96,000 at 48 kHz. */
function throughOutput(code: string, gain: number): Promise<Heard> {
  return page.evaluate(
    async ([source, factor]) => {
      const context = new OfflineAudioContext(1, 96_000, 48_000);
      const buffer = new AudioBuffer({ length: 96_000, sampleRate: 48_000 });
      const sample = new Function('i', `return ${source}`) as (i: number) => number;
      buffer.copyToChannel(
        Float32Array.from({ length: 96_000 }, (_, i) => sample(i) * factor),
        0,
      );
      const { output } = globalThis as unknown as {
        output: { buildOutput: (context: BaseAudioContext) => { input: AudioNode } };
      };
      const node = new AudioBufferSourceNode(context, { buffer });
      node.connect(output.buildOutput(context).input);
      node.start();
      const out = (await context.startRendering()).getChannelData(0);
      let peak = 0;
      let sum = 0;
      for (let i = 0; i < out.length; i++) {
        peak = Math.max(peak, Math.abs(out[i]));
        if (i >= 48_000) sum += out[i] * out[i];
      }
      return { peak, rms: Math.sqrt(sum / 48_000) };
    },
    [code, gain] as const,
  );
}

const SINE = 'Math.sin(2 * Math.PI * 997 * i / 48000)';
const decibels = (ratio: number): number => 20 * Math.log10(ratio);

describe('the output', () => {
  it.each([
    ['a sine 12 dB over full scale', SINE, 4],
    ['a square wave 20 dB over', `Math.sign(${SINE})`, 10],
    ['noise 30 dB over', '((Math.imul(i + 1, 2654435761) >>> 0) / 2147483648 - 1)', 31.6],
    ['single samples of 40 dB over', '(i % 4801 === 7 ? 1 : 0)', 100],
  ])('never passes −1 dBFS: %s', async (_, code, gain) => {
    expect(decibels((await throughOutput(code, gain)).peak)).toBeLessThanOrEqual(CEILING_DB);
  });

  it('leaves what stays under the ceiling as it is, to a tenth of a decibel', async () => {
    // The compressor must not lift anything by its own make-up gain (Web Audio API, 1.20).
    for (const level of [-2, -10, -23, -40]) {
      const { rms } = await throughOutput(SINE, toGain(level));
      expect(Math.abs(decibels(rms) + 3.01 - level)).toBeLessThan(0.1);
    }
  });
});

describe('one loudness', () => {
  it.each([
    [-20, -23],
    [-50, -23],
    [-6, -35],
    [-30, -20],
  ])('a sine of peak %d dBFS asked for at %d LUFS leaves within 1 dB of it', async (peakDbfs, targetLufs) => {
    // ITU-R BS.1770-5, Annex 1: a 997 Hz sine of 0 dBFS in one channel reads −3.01 LKFS.
    const loudness = peakDbfs - 3.01;
    const { gainDb } = matchLoudness(
      { integratedLufs: loudness, momentaryMaxLufs: loudness, truePeakDbtp: peakDbfs },
      targetLufs,
    );
    const { rms } = await throughOutput(SINE, toGain(peakDbfs + gainDb));
    // Of a sine, mono: loudness = root mean square in dB of full scale.
    expect(Math.abs(decibels(rms) - targetLufs)).toBeLessThan(1);
  });

  it('never raises peaks over −1 dBTP, goes by the loudest moment where there is no gated loudness, leaves silence alone', () => {
    // EBU R 128: largest permitted true peak −1 dBTP (value from memory).
    for (const peak of [-0.2, -6, -20, -60]) {
      for (const loudness of [-60, -30, -14, null]) {
        for (const target of [-14, -23, -47]) {
          const levels = {
            integratedLufs: loudness,
            momentaryMaxLufs: loudness === null ? -25 : loudness,
            truePeakDbtp: peak,
          };
          const { gainDb, heldBackDb } = matchLoudness(levels, target);
          expect(peak + gainDb).toBeLessThanOrEqual(CEILING_DB + 1e-9);
          expect(gainDb + heldBackDb).toBeCloseTo(target - (loudness ?? -25), 9);
          expect(heldBackDb).toBeGreaterThanOrEqual(-1e-9);
        }
      }
    }
    expect(matchLoudness({ integratedLufs: null, momentaryMaxLufs: null, truePeakDbtp: null }, -23).gainDb).toBe(0);
  });
});

describe('decoded previews', () => {
  it('stay within their limit of bytes; the least recently heard goes first and is loaded anew when wanted', async () => {
    const { outputFiles } = await build({
      stdin: {
        contents: `export { Previews } from './previews.ts';`,
        resolveDir: `${PROJECT}src/client`,
        loader: 'ts',
      },
      bundle: true,
      format: 'iife',
      globalName: 'kept',
      write: false,
    });
    await page.evaluate(outputFiles[0].text.replace(/^(["']use strict["'];\s*)?var kept/, '$1globalThis.kept'));
    const result = await page.evaluate(async (wav) => {
      const { kept } = globalThis as unknown as {
        kept: {
          Previews: new (
            load: (id: string, part: number) => Promise<object>,
            limit: number,
          ) => { part(id: string, part: number): Promise<unknown>; heldBytes: number };
        };
      };
      const asked: string[] = [];
      const load = async (id: string, part: number): Promise<object> => {
        asked.push(id);
        return { id, part, startSeconds: 0, durationSeconds: 1, mp3: wav };
      };
      // One second at 48 kHz decodes to 192,000 bytes: five fit into a million.
      const previews = new kept.Previews(load, 1_000_000);
      const most: number[] = [];
      for (const id of ['a', 'b', 'c', 'd', 'e', 'a', 'f', 'a', 'b']) {
        await previews.part(id, 0);
        most.push(previews.heldBytes);
      }
      return { asked: asked.join(''), most: Math.max(...most) };
    }, silentWav(48_000));
    // f pushed out b (a had been heard again since), so only b is loaded twice.
    expect(result.asked).toBe('abcdefb');
    expect(result.most).toBeLessThanOrEqual(1_000_000);
  });
});

/** One second of 16-bit mono silence as a canonical 44-byte-header WAV, base64. */
function silentWav(frames: number): string {
  const bytes = Buffer.alloc(44 + frames * 2);
  bytes.write('RIFF', 0);
  bytes.writeUInt32LE(bytes.length - 8, 4);
  bytes.write('WAVEfmt ', 8);
  bytes.writeUInt32LE(16, 16);
  bytes.writeUInt16LE(1, 20);
  bytes.writeUInt16LE(1, 22);
  bytes.writeUInt32LE(48_000, 24);
  bytes.writeUInt32LE(96_000, 28);
  bytes.writeUInt16LE(2, 32);
  bytes.writeUInt16LE(16, 34);
  bytes.write('data', 36);
  bytes.writeUInt32LE(frames * 2, 40);
  return bytes.toString('base64');
}
