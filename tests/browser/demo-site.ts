/** The site of the demo archive, built by the command line as README says, with what the demo's maker says of its sounds. */
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { ArchiveTruth } from '../../scripts/demo/truth.ts';
import { demoFolder } from '../../scripts/paths.ts';
import { takeshelf } from '../build/command.ts';

/** What the archive was made to hold, by name of the sound. */
export interface MadeSound {
  name: string;
  lengthSeconds: number;
  accentSeconds: number | null;
  gesture: string;
  pitchHz: number | null;
  keywords: string[];
}

export interface DemoSite {
  /** What the build said. */
  said: string;
  made: Map<string, MadeSound>;
  truth: ArchiveTruth;
}

/** Builds into `out`, with the project's own cache; makes the demo archive where it is not there yet. */
export async function buildDemoSite(out: string): Promise<DemoSite> {
  const { code, stderr } = await takeshelf(['build', '--out', out]);
  if (code !== 0) throw new Error(`The demo site was not built: ${stderr}`);
  const truth = JSON.parse(await readFile(join(demoFolder, 'truth.json'), 'utf8')) as ArchiveTruth & {
    files: { sounds: MadeSound[] }[];
  };
  return {
    truth,
    said: stderr,
    made: new Map(truth.files.flatMap(({ sounds }) => sounds).map((sound) => [sound.name, sound])),
  };
}
