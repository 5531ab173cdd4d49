#!/usr/bin/env node
/**
 * Starts the command line from any folder, under whatever Node the machine has: by the Node in this project's own
 * packages, whose hash stands in package-lock.json. Plain JavaScript, since an older Node must be able to read it.
 */
import { spawn } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { constants } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const project = fileURLToPath(new URL('..', import.meta.url));
const commandLine = join(project, 'scripts', 'takeshelf.ts');

const own = ownNode();
if (own !== null && own.version !== process.versions.node) handOver(own.path);
else if (process.features.typescript) await import('./takeshelf.ts');
else {
  process.stderr.write(
    `Node ${process.versions.node} cannot run this program, and its own Node is not installed. ` +
      `Run "npm ci" in ${project}, or start it with Node 24 or newer.\n`,
  );
  process.exitCode = 1;
}

/** The one platform package that npm installed; null where there is none for this machine. */
function ownNode() {
  const { optionalDependencies } = JSON.parse(readFileSync(join(project, 'package.json'), 'utf8'));
  for (const [name, version] of Object.entries(optionalDependencies)) {
    const folder = join(project, 'node_modules', name, 'bin');
    for (const path of [join(folder, 'node'), join(folder, 'node.exe')]) if (existsSync(path)) return { path, version };
  }
  return null;
}

/** Runs the command line under another Node as if this process were it: same folder, input, output, signals and exit code. */
function handOver(path) {
  const child = spawn(path, [commandLine, ...process.argv.slice(2)], { stdio: 'inherit' });
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP']) process.on(signal, () => child.kill(signal));
  child.on('error', (error) => {
    process.stderr.write(`${path} cannot be started (${error.message}). Run "npm ci" in ${project}.\n`);
    process.exitCode = 1;
  });
  child.on('exit', (code, signal) => {
    // 128 + number is what a shell says of a command that a signal ended.
    process.exitCode = code ?? 128 + (constants.signals[signal] ?? 0);
  });
}
