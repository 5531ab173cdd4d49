/** Where things are: the project, and the folder the person called from. */

import { join, resolve } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Command } from 'commander';

/** The folder with package.json. */
export const projectFolder = fileURLToPath(new URL('..', import.meta.url)).replace(/[/\\]$/, '');

export const defaultSite = join(projectFolder, 'site');
export const defaultCache = join(projectFolder, '.cache');
export const demoFolder = join(projectFolder, 'demo-archive');
export const catalogueFolder = join(projectFolder, 'catalogue');

/** npm runs scripts in the project's folder and keeps the caller's in INIT_CWD; any other start leaves the folder as it is. */
const callerFolder = (process.cwd() === projectFolder && process.env.INIT_CWD) || process.cwd();

export function fromCaller(path: string): string {
  return resolve(callerFolder, path);
}

/** The folder named by --site, counted from where the person called; without it the project's own site. */
export function siteOption(command: Command): string {
  return command.getOptionValueSource('site') === 'default' ? defaultSite : fromCaller(command.getOptionValue('site'));
}
