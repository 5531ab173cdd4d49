import { Command } from 'commander';
import { WrongUsage } from '../messages.ts';
import { siteOption } from '../paths.ts';
import { serveSite } from '../serve/serve-site.ts';

export function serveCommand(): Command {
  return new Command('serve')
    .description('serves the built site on this machine only and prints its address')
    .option('--site <folder>', 'a built site', 'site in the project')
    .option('--port <number>', 'port; without, the first free one', Number)
    .action(run);
}

async function run({ port }: { port?: number }, command: Command): Promise<void> {
  if (port !== undefined && !(Number.isInteger(port) && port > 0 && port < 65_536)) {
    throw new WrongUsage('--port: a whole number from 1 to 65535 was expected.');
  }
  await serveSite(siteOption(command), port);
}
