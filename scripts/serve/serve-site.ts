/** Serves a site on a free port of this machine until it is told to stop. */
import { existsSync } from 'node:fs';
import type { Server } from 'node:http';
import { join } from 'node:path';
import { WrongUsage } from '../messages.ts';
import { restoreSite } from '../publish/site.ts';
import { answer, tell } from '../terminal.ts';
import { whenParentIsGone } from './parent-watch.ts';
import { createSiteServer } from './site-server.ts';

const FIRST_PORT = 4_173;
const PORTS_TRIED = 20;

/** Prints the address. Ends, and lets the process end, on SIGINT and SIGTERM, and when the npm that started it has gone. */
export async function serveSite(site: string, port?: number): Promise<void> {
  await restoreSite(site);
  if (!existsSync(join(site, 'index.html'))) {
    throw new WrongUsage(`${site} holds no site. Build one first: npm run takeshelf -- build`);
  }
  const server = createSiteServer(site);
  const address = await listen(server, port);
  const stop = (): void => {
    unwatch();
    process.off('SIGINT', stop);
    process.off('SIGTERM', stop);
    server.close();
    server.closeAllConnections();
  };
  const unwatch = whenParentIsGone(stop);
  process.on('SIGINT', stop);
  process.on('SIGTERM', stop);
  tell('Serving on this machine only. Stop with Ctrl-C.');
  answer(address);
}

async function listen(server: Server, port: number | undefined): Promise<string> {
  const ports = port === undefined ? Array.from({ length: PORTS_TRIED }, (_, i) => FIRST_PORT + i) : [port];
  for (const candidate of ports) {
    const problem = await new Promise<NodeJS.ErrnoException | null>((resolve) => {
      const settle = (error: NodeJS.ErrnoException | null): void => {
        server.off('error', settle);
        server.off('listening', onListening);
        resolve(error);
      };
      const onListening = (): void => settle(null);
      server.on('error', settle);
      server.on('listening', onListening);
      server.listen(candidate, '127.0.0.1');
    });
    if (problem === null) return `http://127.0.0.1:${candidate}/`;
    if (problem.code !== 'EADDRINUSE') throw problem;
  }
  throw new WrongUsage(`Port ${ports.join(', ')} in use. Choose another with --port.`);
}
