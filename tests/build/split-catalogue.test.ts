/** What a person asks of the split: settings for folders, and takes set by hand. The recordings are put together here. */
import { copyFile, mkdir, readFile, rename, rm, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import wavefile from 'wavefile';
import { valueOfScript } from '../../scripts/publish/data-scripts.ts';
import type { BuildReport } from '../../shared/report.ts';
import { Shelf } from '../../shared/shelf.ts';
import { recordSlated } from '../archive/slated-recording.ts';
import { Random } from '../measure/random.ts';
import { struck } from '../measure/sources.ts';
import { cacheWithPage, takeshelf, temporaryFolder } from './command.ts';
import { tone, wav } from './small-archive.ts';

const RATE = 48_000;
const MINUTES = 60_000;
let home: string;
beforeAll(async () => {
  home = await temporaryFolder();
});
afterAll(() => rm(home, { recursive: true, force: true }));

/** Three tones of 0.8 s in digital silence, from 1, 4 and 7 s on; 9 s in all. */
const STARTS = [1, 4, 7];
function session(seed: number): Float64Array {
  const samples = new Float64Array(9 * RATE);
  STARTS.forEach((start, i) => {
    samples.set(tone(seed + i), start * RATE);
  });
  return samples;
}

interface Built {
  decoded: number;
  stderr: string;
  report: BuildReport;
  /** "folder/file" -> the starts of its takes, in seconds, and their names. */
  starts: Record<string, number[]>;
  names: Record<string, string[]>;
}

/** A home of its own for each test: archive folders, catalogue, cache. */
async function workplace(name: string) {
  const folder = join(home, name);
  const catalogue = join(folder, 'catalogue');
  await mkdir(join(catalogue, 'splits'), { recursive: true });
  const cache = await cacheWithPage(join(folder, 'cache'));
  const out = join(folder, 'site');
  const build = async (): Promise<Built> => {
    const { code, stderr } = await takeshelf(['build', '--out', out, '--cache', cache, '--catalogue', catalogue]);
    expect(code, stderr).toBe(0);
    const data = async (part: string): Promise<unknown> =>
      valueOfScript(await readFile(join(out, `data/${part}.js`), 'utf8'), part);
    const shelf = new Shelf(Buffer.from((await data('shelf')) as string, 'base64'));
    const takes = Array.from({ length: shelf.count }, (_, i) =>
      shelf.places(i).map((place) => ({ ...place, name: shelf.text('name', i) })),
    ).flat();
    takes.sort((a, b) => a.startSeconds - b.startSeconds);
    const built: Built = {
      decoded: Number(/\((\d+) decoded now\)/.exec(stderr)?.[1]),
      stderr,
      report: (await data('report')) as BuildReport,
      starts: {},
      names: {},
    };
    for (const take of takes) {
      const key = `${take.folder}/${take.file}`;
      built.starts[key] = [...(built.starts[key] ?? []), Number(take.startSeconds.toFixed(1))];
      built.names[key] = [...(built.names[key] ?? []), take.name];
    }
    return built;
  };
  return {
    folder,
    build,
    archiveYaml: (text: string) => writeFile(join(catalogue, 'archive.yaml'), text),
    splitsYaml: (text: string) => writeFile(join(catalogue, 'splits/by hand.yaml'), text),
    async put(path: string, bytes: Uint8Array): Promise<string> {
      const full = join(folder, path);
      await mkdir(join(full, '..'), { recursive: true });
      await writeFile(full, bytes);
      return full;
    },
  };
}

test(
  'settings hold for their folder and sub-folder only, and only those files are measured again',
  async () => {
    const { folder, build, archiveYaml, put } = await workplace('settings');
    const first = await put('quay/long.wav', wav(session(0)));
    await put('quay/loops/long too.wav', wav(session(10)));
    await mkdir(join(folder, 'loft'));
    await copyFile(first, join(folder, 'loft/long.wav'));
    const folders = (quay: string): Promise<void> =>
      archiveYaml(`folders:\n  - { name: Loft, path: ../loft }\n  - { name: Quay, path: ../quay${quay} }\n`);

    await folders('');
    const usual = await build();
    expect(usual.starts).toEqual({
      'Loft/long.wav': STARTS,
      'Quay/long.wav': STARTS,
      'Quay/loops/long too.wav': STARTS,
    });

    await folders(', split: { within: [{ files: loops, by: whole }, { files: lops, by: whole }] }');
    const within = await build();
    expect(within.starts).toEqual({ ...usual.starts, 'Quay/loops/long too.wav': [0] });
    expect(within.decoded).toBe(1);
    expect(within.stderr).toMatch(/"Quay".*lops/);

    // The same bytes in two folders are cut as each folder asks.
    await folders(', split: { leastPauseSeconds: 3 }');
    const long = await build();
    expect(long.starts).toEqual({ 'Loft/long.wav': STARTS, 'Quay/long.wav': [0], 'Quay/loops/long too.wav': [0] });
    expect(long.decoded).toBe(2);
    expect((await build()).decoded).toBe(0);

    // So does the entry that is printed for a file.
    const entries = async (path: string): Promise<number> => {
      const words = ['measure', join(folder, path), '--takes', '--catalogue', join(folder, 'catalogue')];
      return (await takeshelf(words)).stdout.match(/start:/g)?.length ?? 0;
    };
    expect([await entries('loft/long.wav'), await entries('quay/long.wav')]).toEqual([STARTS.length, 1]);

    await folders('');
    const back = await build();
    expect(back.starts).toEqual(usual.starts);
    expect(back.decoded).toBe(0);
  },
  2 * MINUTES,
);

test(
  'takes set by hand outlive renaming, moving and retagging, and change only their file',
  async () => {
    const { folder, build, archiveYaml, splitsYaml, put } = await workplace('by hand');
    const path = await put('quay/long.wav', wav(session(0)));
    await put('quay/other.wav', wav(session(20)));
    await archiveYaml('folders:\n  - { name: Quay, path: ../quay }\n');
    expect((await build()).decoded).toBe(2);

    // As the command line prints it, so that a person need only change the times.
    const printed = await takeshelf(['measure', path, '--takes']);
    expect(printed.stderr).toBe('');
    await splitsYaml(printed.stdout);
    const same = await build();
    expect(same.starts['Quay/long.wav']).toEqual(STARTS);
    expect(same.decoded).toBe(1);

    const audio = /"([0-9a-z]{16})"/.exec(printed.stdout)?.[1];
    await splitsYaml(
      `files:\n  "${audio}":\n    takes:\n      - { start: 3.5, name: Second and third }\n      - { start: 0.5, end: 2, name: First }\n`,
    );
    const changed = await build();
    expect(changed.starts).toEqual({ 'Quay/long.wav': [0.5, 3.5], 'Quay/other.wav': STARTS });
    expect(changed.names['Quay/long.wav']).toEqual(['First', 'Second and third']);
    expect(changed.decoded).toBe(1);
    expect((await build()).decoded).toBe(0);

    await mkdir(join(folder, 'quay/Monday'));
    const moved = join(folder, 'quay/Monday/bollards.wav');
    await rename(path, moved);
    const renamed = await build();
    expect(renamed.starts['Quay/Monday/bollards.wav']).toEqual([0.5, 3.5]);
    expect(renamed.decoded).toBe(0);

    const edited = new wavefile.WaveFile(await readFile(moved));
    edited.setTag('ICMT', 'a comment added later');
    await writeFile(moved, edited.toBuffer());
    const retagged = await build();
    expect(retagged.names['Quay/Monday/bollards.wav']).toEqual(['First', 'Second and third']);
    expect(retagged.decoded).toBe(1);
  },
  2 * MINUTES,
);

test(
  'what was taken for slates stands in the report, and a person may say that it is none: of a file, or of a folder',
  async () => {
    const { folder, build, archiveYaml, splitsYaml, put } = await workplace('slates');
    const plan = { rate: RATE, roomDbfs: -66, voicePeakDbfs: -12, soundPeakDbfs: -4, pauseSeconds: 2.5 } as const;
    const slated = (seed: number): Float64Array => {
      const random = new Random(seed);
      const hit = struck(random, 'struck plate', RATE, 0.002, 0.8);
      return Float64Array.from(recordSlated(random, [hit, hit], { ...plan, speaker: 'man', seed: `${seed}` }).samples);
    };
    const path = await put('quay/spoken.wav', wav(slated(3)));
    await put('quay/other.wav', wav(slated(4)));
    const quay = (split: string): Promise<void> => archiveYaml(`folders:\n  - { name: Quay, path: ../quay${split} }\n`);
    await quay('');
    const usual = await build();
    const slatesOf = ({ report }: Built): string[] => report.slates.map(({ place }) => place.file);
    expect(slatesOf(usual)).toEqual(['other.wav', 'other.wav', 'spoken.wav', 'spoken.wav']);
    for (const { place, endSeconds, id } of usual.report.slates) {
      expect(endSeconds).toBeGreaterThan(place.startSeconds + 0.5);
      expect(usual.report.untagged).toContain(id);
    }
    const printed = (await takeshelf(['report', '--site', join(folder, 'site')])).stdout;
    expect(printed).toMatch(
      /spoken slate.*\(4\)\n +\d+\.\d\d to \d+\.\d\d s of Quay\/other\.wav, before other, take 1/,
    );

    const audio = /"([0-9a-z]{16})"/.exec((await takeshelf(['measure', path, '--takes'])).stdout)?.[1];
    await splitsYaml(`files:\n  "${audio}":\n    slates: none\n`);
    const denied = await build();
    expect(slatesOf(denied)).toEqual(['other.wav', 'other.wav']);
    expect(denied.starts['Quay/spoken.wav'].length).toBeGreaterThan(usual.starts['Quay/spoken.wav'].length);
    expect(denied.decoded).toBe(1);

    await quay(', split: { within: [{ files: other.wav, slates: none }] }');
    const both = await build();
    expect(slatesOf(both)).toEqual([]);
    expect(both.decoded).toBe(1);
  },
  2 * MINUTES,
);

test(
  'times that make no sense are said with file and line, and the build goes on with the automatic split',
  async () => {
    const { build, archiveYaml, splitsYaml, put } = await workplace('wrong');
    const path = await put('quay/long.wav', wav(session(0)));
    await archiveYaml('folders:\n  - { name: Quay, path: ../quay }\n');
    const audio = /"([0-9a-z]{16})"/.exec((await takeshelf(['measure', path, '--takes'])).stdout)?.[1];
    for (const [takes, says] of [
      ['{ start: 1, end: 2 }\n      - { start: 7, end: 12 }', /by hand\.yaml, line 5: .*12 s.* ends at 9 s/],
      ['{ start: 1, end: 4 }\n      - { start: 3, end: 5 }', /by hand\.yaml, line 4: .*overlaps.*line 5/],
      ['{ start: 1, end: 2 }\n      - { start: 5, end: 4 }', /by hand\.yaml, line 5: .*ends at 4 s.*start at 5 s/],
    ] as const) {
      await splitsYaml(`files:\n  "${audio}":\n    takes:\n      - ${takes}\n`);
      const { starts, report, stderr } = await build();
      expect(starts['Quay/long.wav']).toEqual(STARTS);
      expect(report.warnings.map(({ file, message }) => `${file}: ${message}`)).toEqual([
        expect.stringMatching(/^long\.wav: /),
      ]);
      expect(report.warnings[0].message).toMatch(says);
      expect(stderr).toMatch(says);
    }
  },
  2 * MINUTES,
);
