import { readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { defineConfig } from 'astro/config';
import { build } from 'esbuild';
import { licencesPage, shippedPackages } from './scripts/publish/licences.ts';

/**
 * The page must work from a USB stick: opened from file://, under any sub-path, with no module scripts and no fetch.
 * So the client is one classic script and one style sheet beside the pages, every address relative.
 */
function oneClassicScript() {
  const source = (path) => fileURLToPath(new URL(path, import.meta.url));
  return {
    name: 'one-classic-script',
    hooks: {
      'astro:build:done': async ({ dir }) => {
        const common = {
          bundle: true,
          minify: true,
          legalComments: 'none',
          logLevel: 'warning',
          charset: 'utf8',
          metafile: true,
        };
        const script = await build({
          ...common,
          entryPoints: [source('src/client/main.ts')],
          outfile: fileURLToPath(new URL('takeshelf.js', dir)),
          format: 'iife',
          globalName: 'takeshelf',
          // Without `var takeshelf` on the window the data scripts could not hand over what they carry.
          target: ['es2022', 'chrome105', 'firefox104', 'safari16'],
        });
        const worker = await build({
          ...common,
          entryPoints: [source('scripts/in-page/worker.ts')],
          write: false,
          format: 'iife',
          platform: 'browser',
          target: ['es2022', 'chrome105', 'firefox104', 'safari16'],
        });
        // A page opened from file:// may not start a worker from a file: its text comes as data, when it is first needed.
        const workerText = JSON.stringify(worker.outputFiles[0].text);
        writeFileSync(new URL('takeshelf-measure.js', dir), `takeshelf.receive("measure",${workerText});\n`);
        const styles = await build({
          ...common,
          entryPoints: [source('src/styles/takeshelf.css')],
          outfile: fileURLToPath(new URL('takeshelf.css', dir)),
          loader: { '.woff2': 'file' },
          assetNames: 'fonts/[name]',
          target: ['chrome105', 'firefox104', 'safari16'],
        });
        const parts = [script, worker, styles].flatMap(({ metafile }) => Object.keys(metafile.inputs)).map(source);
        const page = licencesPage(shippedPackages(parts), readFileSync(source('LICENSE'), 'utf8'));
        writeFileSync(new URL('licences.txt', dir), page);
      },
    },
  };
}

export default defineConfig({
  outDir: 'site',
  build: { format: 'file' },
  compressHTML: true,
  devToolbar: { enabled: false },
  integrations: [oneClassicScript()],
});
