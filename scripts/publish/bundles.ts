/**
 * The page's own files, made of its source: one classic script, the text of the measuring worker as a data script, one
 * style sheet with its fonts, and the licences of all that went into them.
 *
 * The page must work from a USB stick: opened from file://, under any sub-path, with no module scripts and no fetch.
 */
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { type BuildOptions, build } from 'esbuild';
import { projectFolder } from '../paths.ts';
import { licencesPage, shippedPackages } from './licences.ts';

const SCRIPTS_FOR = ['es2022', 'chrome105', 'firefox104', 'safari16'];
const STYLES_FOR = ['chrome105', 'firefox104', 'safari16'];

/** Name below the site -> content. Throws where the source has errors, or a package may not ship. */
export async function bundlePage(): Promise<Map<string, Uint8Array>> {
  const script = await bundle({
    entryPoints: ['src/client/main.ts'],
    outfile: 'takeshelf.js',
    format: 'iife',
    // Without `var takeshelf` on the window the data scripts could not hand over what they carry.
    globalName: 'takeshelf',
    target: SCRIPTS_FOR,
  });
  const worker = await bundle({
    entryPoints: ['scripts/in-page/worker.ts'],
    outfile: 'worker.js',
    format: 'iife',
    platform: 'browser',
    target: SCRIPTS_FOR,
  });
  const styles = await bundle({
    entryPoints: ['src/styles/takeshelf.css'],
    outfile: 'takeshelf.css',
    loader: { '.woff2': 'file' },
    assetNames: 'fonts/[name]',
    target: STYLES_FOR,
  });
  // A page opened from file:// may not start a worker from a file: its text comes as data, when it is first needed.
  const workerText = new TextDecoder().decode(worker.files.get('worker.js'));
  const sources = [script, worker, styles].flatMap(({ inputs }) => inputs);
  const licences = licencesPage(shippedPackages(sources), readFileSync(join(projectFolder, 'LICENSE'), 'utf8'));
  const text = (content: string): Uint8Array => new TextEncoder().encode(content);
  return new Map([
    ...script.files,
    ['takeshelf-measure.js', text(`takeshelf.receive("measure",${JSON.stringify(workerText)});\n`)],
    ...styles.files,
    ['licences.txt', text(licences)],
  ]);
}

interface Bundle {
  files: Map<string, Uint8Array>;
  /** Every file it was made of, with its whole path. */
  inputs: string[];
}

async function bundle(options: BuildOptions): Promise<Bundle> {
  const folder = join(projectFolder, 'bundled');
  const { outputFiles = [], metafile } = await build({
    ...options,
    absWorkingDir: projectFolder,
    outfile: join(folder, options.outfile ?? ''),
    write: false,
    bundle: true,
    minify: true,
    legalComments: 'none',
    logLevel: 'warning',
    charset: 'utf8',
    metafile: true,
  });
  return {
    files: new Map(
      outputFiles.map(({ path, contents }) => [path.slice(folder.length + 1).replaceAll('\\', '/'), contents]),
    ),
    inputs: Object.keys(metafile?.inputs ?? {}).map((path) => join(projectFolder, path)),
  };
}
