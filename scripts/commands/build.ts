import { existsSync } from 'node:fs';
import { availableParallelism } from 'node:os';
import { basename, join } from 'node:path';
import { Command, InvalidArgumentError } from 'commander';
import { type CataloguedFolder, readCatalogue } from '../archive/catalogue.ts';
import { buildSite, passingProblems, summaryLines } from '../build.ts';
import { catalogueFolder, defaultCache, defaultSite, demoFolder, fromCaller } from '../paths.ts';
import { showProgress } from '../progress.ts';
import { whenParentIsGone } from '../serve/parent-watch.ts';
import { serveSite } from '../serve/serve-site.ts';
import { answerJson, tell } from '../terminal.ts';

const INTERRUPTED = 1;
/** The site is there, but something that was known is away, or could not be measured this time. */
const INCOMPLETE = 1;

export function buildCommand(): Command {
  return new Command('build')
    .description('measures the recordings in the folders and builds the site')
    .argument(
      '[folders...]',
      'folders with recordings; without: those in catalogue/archive.yaml, else the demo archive',
    )
    .option('--out <folder>', 'where the site goes', 'site in the project')
    .option('--catalogue <folder>', 'folder with names, tags and synonyms', 'catalogue in the project')
    .option('--cache <folder>', 'where results are kept between builds', '.cache in the project')
    .option('--threads <number>', 'worker threads', positiveWhole, availableParallelism())
    .option('--json', 'prints the report as JSON lines')
    .option('--serve', 'serves the site afterwards, on this machine only, and prints its address')
    .action(run);
}

interface Options {
  out: string;
  catalogue: string;
  cache: string;
  threads: number;
  json?: boolean;
  serve?: boolean;
}

async function run(paths: string[], _options: Options, command: Command): Promise<void> {
  const given = (name: keyof Options, fallback: string): string =>
    command.getOptionValueSource(name) === 'default' ? fallback : fromCaller(String(command.getOptionValue(name)));
  const say = tell;
  const out = given('out', defaultSite);
  const catalogued = given('catalogue', catalogueFolder);
  const catalogue = await readCatalogue(catalogued);
  const folders =
    paths.length > 0 ? named(paths.map(fromCaller), catalogue.folders) : await usualFolders(catalogue.folders, say);

  const stop = new AbortController();
  const onSignal = (): void => {
    say('Stopping. What is done is kept.');
    stop.abort();
  };
  process.once('SIGINT', onSignal);
  process.once('SIGTERM', onSignal);
  const unwatch = whenParentIsGone(onSignal);
  try {
    const summary = await buildSite({
      folders,
      out,
      catalogue,
      catalogueFolder: catalogued,
      cacheFolder: given('cache', defaultCache),
      threads: command.getOptionValue('threads') as number,
      signal: stop.signal,
      say,
    });
    if (summary.interrupted) {
      say(`Stopped after ${summary.decoded} files. The next build goes on from there; the site is as it was.`);
      process.exitCode = INTERRUPTED;
      return;
    }
    for (const line of summaryLines(summary, out)) say(line);
    const { report } = summary;
    if (passingProblems(report) > 0 || (report.away ?? []).length > 0) process.exitCode = INCOMPLETE;
    if (command.getOptionValue('json')) {
      answerJson(JSON.stringify({ site: join(out, 'index.html'), decoded: summary.decoded, ...summary.report }));
    }
  } finally {
    unwatch();
    process.off('SIGINT', onSignal);
    process.off('SIGTERM', onSignal);
  }
  if (command.getOptionValue('serve') && !stop.signal.aborted) await serveSite(out);
}

/**
 * Each folder goes by its own name; two of one name are told apart by a number. One that the catalogue knows is cut into
 * takes as the catalogue says.
 */
function named(paths: readonly string[], catalogued: readonly CataloguedFolder[]): CataloguedFolder[] {
  const used = new Map<string, number>();
  return [...new Set(paths)].map((path) => {
    const name = basename(path) || 'archive';
    const number = (used.get(name) ?? 0) + 1;
    used.set(name, number);
    const split = catalogued.find((folder) => folder.path === path)?.split;
    return { name: number === 1 ? name : `${name} ${number}`, path, split };
  });
}

async function usualFolders(catalogued: CataloguedFolder[], say: (line: string) => void): Promise<CataloguedFolder[]> {
  if (catalogued.length > 0) return catalogued;
  if (!existsSync(demoFolder)) {
    say('No folder given: making the demo archive.');
    const progress = showProgress('Synthesising', 1);
    const { writeDemoArchive } = await import('../demo/demo-archive.ts');
    await writeDemoArchive(demoFolder, {});
    progress.stop();
  }
  return [{ name: 'demo archive', path: demoFolder }];
}

export function positiveWhole(text: string): number {
  const number = Number(text);
  if (Number.isInteger(number) && number > 0) return number;
  throw new InvalidArgumentError('A whole number above 0 was expected.');
}
