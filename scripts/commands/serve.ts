import { existsSync } from 'node:fs';
import { createServer } from 'node:http';
import { join } from 'node:path';
import { Command } from 'commander';
import sirv from 'sirv';
import { WrongUsage } from '../messages.ts';
import { siteOption } from '../paths.ts';
import { restoreSite } from '../publish/site.ts';
import { answer, tell } from '../terminal.ts';

const FIRST_PORT = 4_173;
const PORTS_TRIED = 20;

export function serveCommand(): Command {
  return new Command('serve')
    .description('serves the built site on this machine only and prints its address')
    .option('--site <folder>', 'a built site', 'site in the project')
    .option('--port <number>', 'port; without, the first free one', Number)
    .action(run);
}

async function run({ port }: { port?: number }, command: Command): Promise<void> {
  const site = siteOption(command);
  if (port !== undefined && !(Number.isInteger(port) && port > 0 && port < 65_536)) {
    throw new WrongUsage('--port: a whole number from 1 to 65535 was expected.');
  }
  await restoreSite(site);
  if (!existsSync(join(site, 'index.html'))) {
    throw new WrongUsage(`${site} holds no site. Build one first: npm run takeshelf -- build`);
  }
  const address = await listen(site, port);
  tell('Serving on this machine only. Stop with Ctrl-C.');
  answer(address);
}

async function listen(site: string, port: number | undefined): Promise<string> {
  // `dev`: files are read anew each time, so that a rebuilt site is served at once.
  const files = sirv(site, { dev: true, dotfiles: false });
  const server = createServer((request, response) => {
    response.setHeader('X-Content-Type-Options', 'nosniff');
    files(request, response, () => {
      response.statusCode = 404;
      response.end('Not found');
    });
  });
  const ports = port === undefined ? Array.from({ length: PORTS_TRIED }, (_, i) => FIRST_PORT + i) : [port];
  for (const candidate of ports) {
    const problem = await new Promise<NodeJS.ErrnoException | null>((resolve) => {
      server.once('error', resolve);
      server.listen(candidate, '127.0.0.1', () => {
        server.removeAllListeners('error');
        resolve(null);
      });
    });
    if (problem === null) return `http://127.0.0.1:${candidate}/`;
    server.removeAllListeners('error');
    if (problem.code !== 'EADDRINUSE') throw problem;
  }
  throw new WrongUsage(`Port ${ports.join(', ')} in use. Choose another with --port.`);
}
