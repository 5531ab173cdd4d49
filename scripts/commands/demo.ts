import { Command, InvalidArgumentError } from 'commander';
import { count } from '../messages.ts';
import { fromCaller } from '../paths.ts';
import { showProgress } from '../progress.ts';
import { tell } from '../terminal.ts';
import { positiveWhole } from './build.ts';

export function demoCommand(): Command {
  return new Command('demo')
    .description('writes the demo archive: synthesised recordings for an invented film, with truth.json')
    .requiredOption('--to <folder>', 'a new or empty folder')
    .option('--sounds <number>', 'about how many sounds', positiveWhole)
    .option('--seed <number>', 'the same seed gives the same archive', seed)
    .action(async ({ to, sounds, seed: chosen }: { to: string; sounds?: number; seed?: number }) => {
      const folder = fromCaller(to);
      let progress: ReturnType<typeof showProgress> | null = null;
      const { writeDemoArchive } = await import('../demo/demo-archive.ts');
      const written = await writeDemoArchive(folder, {
        ...(sounds === undefined ? {} : { sounds }),
        ...(chosen === undefined ? {} : { seed: chosen }),
        onProgress: (done, total) => {
          progress ??= showProgress('Synthesising', total);
          progress.update(done);
        },
      });
      (progress as ReturnType<typeof showProgress> | null)?.stop();
      tell(`${count(written.files, 'file')} with ${count(written.sounds, 'sound')} in ${folder}`);
    });
}

function seed(text: string): number {
  const number = Number(text);
  if (Number.isSafeInteger(number) && number >= 0) return number;
  throw new InvalidArgumentError('A whole number from 0 was expected.');
}
