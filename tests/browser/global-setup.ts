/** Builds the shell and the sites the tests open, once. */
import { cp, mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { TestProject } from 'vitest/node';
import { buildShell, makeMasters, NOTHING_WRONG, writeSite } from './fixture-site.ts';

declare module 'vitest' {
  interface ProvidedContext {
    sites: Sites;
  }
}

/** Folders of built sites. */
export interface Sites {
  /** 60 sounds, all with previews. */
  small: string;
  /** No sound, nothing wrong. */
  empty: string;
  /** Pages without their data folder. */
  bare: string;
  /** As small, but one sound's preview is missing and one is damaged. */
  damaged: { folder: string; missingId: string; damagedId: string };
}

export default async function setup(project: TestProject): Promise<() => Promise<void>> {
  const root = await mkdtemp(join(tmpdir(), 'takeshelf-sites-'));
  const [shell, from] = await Promise.all([buildShell(), makeMasters()]);
  const site = (name: string): string => join(root, name);
  await writeSite(shell, from, site('small'), { count: 60, withAudio: 60 });
  await writeSite(shell, from, site('empty'), {
    count: 0,
    withAudio: 0,
    report: { ...NOTHING_WRONG, filesFound: 0, filesRead: 0 },
  });
  await cp(shell, site('bare'), { recursive: true });
  const { sounds } = await writeSite(shell, from, site('damaged'), { count: 30, withAudio: 30 });
  const [missingId, damagedId] = [sounds[0].id, sounds[1].id];
  const preview = (id: string): string => join(site('damaged'), 'previews', id.slice(0, 2), `${id}.0.js`);
  await rm(preview(missingId));
  await mkdir(join(preview(damagedId), '..'), { recursive: true });
  await writeFile(
    preview(damagedId),
    `takeshelf.receive("preview",{"id":"${damagedId}","part":0,"startSeconds":0,"durationSeconds":6,"mp3":"bm90IGFuIE1QMw=="});\n`,
  );
  project.provide('sites', {
    small: site('small'),
    empty: site('empty'),
    bare: site('bare'),
    damaged: { folder: site('damaged'), missingId, damagedId },
  });
  return async () => {
    await rm(root, { recursive: true, force: true });
    await rm(shell, { recursive: true, force: true });
  };
}
