/**
 * What Astro is told beside the pages themselves. Built, the pages get the bundled files beside them. In the workshop
 * (`npm run dev`) the same files are bundled anew whenever they are asked for, the data come from the site built last,
 * and the page is loaded again when a source is saved.
 */
import { createReadStream, existsSync } from 'node:fs';
import { mkdir } from 'node:fs/promises';
import { dirname, join, normalize, sep } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { AstroIntegration } from 'astro';
import { writeNew } from '../atomic-file.ts';
import { defaultSite, projectFolder } from '../paths.ts';
import { bundlePage } from './bundles.ts';

const TYPES: Record<string, string> = {
  js: 'text/javascript',
  css: 'text/css',
  woff2: 'font/woff2',
  txt: 'text/plain',
};

export function pageIntegration(): AstroIntegration {
  return {
    name: 'page-files',
    hooks: {
      'astro:config:setup': ({ command, updateConfig }) => {
        updateConfig({ vite: { define: { __WORKSHOP__: command === 'dev' } } });
      },
      'astro:build:done': async ({ dir }) => {
        for (const [name, content] of await bundlePage()) {
          const path = join(fileURLToPath(dir), name);
          await mkdir(dirname(path), { recursive: true });
          await writeNew(path, content);
        }
      },
      'astro:server:setup': ({ server }) => {
        let bundled: ReturnType<typeof bundlePage> | null = null;
        server.watcher.on('change', (path) => {
          const isSource = ['src', 'shared', 'scripts'].some((folder) =>
            path.startsWith(join(projectFolder, folder) + sep),
          );
          if (!isSource) return;
          bundled = null;
          server.ws.send({ type: 'full-reload' });
        });
        server.middlewares.use(async (request, response, next) => {
          const path = decodeURIComponent(new URL(request.url ?? '/', 'http://localhost').pathname).slice(1);
          response.setHeader('Content-Type', TYPES[path.split('.').at(-1) ?? ''] ?? 'text/html');
          if (/^(data|previews)\//.test(path)) {
            const file = join(defaultSite, normalize(path));
            if (file.startsWith(defaultSite + sep) && existsSync(file)) createReadStream(file).pipe(response);
            else response.writeHead(404).end();
            return;
          }
          if (!/^(takeshelf|fonts\/|licences)/.test(path)) return next();
          try {
            bundled ??= bundlePage();
            const content = (await bundled).get(path);
            if (content) response.end(content);
            else response.writeHead(404).end();
          } catch (error) {
            bundled = null;
            next(error);
          }
        });
      },
    },
  };
}
