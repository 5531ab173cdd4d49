/** The licences of what a built site contains, from the list of files its bundles were made of. */
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

/** Licences that ask nothing but to be named. Anything else must not get into the page. */
const PERMISSIVE = new Set(['MIT', 'ISC', 'BSD-2-Clause', 'BSD-3-Clause', 'Apache-2.0', '0BSD', 'CC0-1.0', 'OFL-1.1']);

export interface ShippedPackage {
  name: string;
  version: string;
  licence: string;
  text: string;
}

/** `files`: paths of all that went into the bundles. Throws when one belongs to a package that may not ship. */
export function shippedPackages(files: Iterable<string>): ShippedPackage[] {
  const folders = new Set<string>();
  for (const file of files) {
    const [, name] = /^(.*node_modules\/(?:@[^/]+\/)?[^/]+)\//.exec(file.replaceAll('\\', '/')) ?? [];
    if (name !== undefined) folders.add(name);
  }
  return [...folders].sort().map((folder) => {
    const about = JSON.parse(readFileSync(join(folder, 'package.json'), 'utf8')) as Record<string, string>;
    if (!PERMISSIVE.has(about.license)) {
      throw new Error(`${about.name} is under ${about.license ?? 'no stated licence'} and would get into the page.`);
    }
    return { name: about.name, version: about.version, licence: about.license, text: licenceText(folder) };
  });
}

export function licencesPage(packages: readonly ShippedPackage[], ownLicence: string): string {
  const parts = packages.map(
    ({ name, version, licence, text }) => `${name} ${version} (${licence})\n\n${text.trim()}\n`,
  );
  const rule = `\n${'-'.repeat(72)}\n\n`;
  return [`Takeshelf (MIT)\n\n${ownLicence.trim()}\n`, ...parts].join(rule);
}

/** The package's licence file; where it has none, the last part of its README under the heading "License". */
function licenceText(folder: string): string {
  const files = readdirSync(folder);
  const name = files.find((file) => /^licen[cs]e/i.test(file));
  if (name !== undefined) return readFileSync(join(folder, name), 'utf8');
  const readme = files.find((file) => /^readme/i.test(file));
  const text = readme && /^#+ *licen[cs]e\s*\n([\s\S]+)/im.exec(readFileSync(join(folder, readme), 'utf8'))?.[1];
  if (!text) throw new Error(`${folder} has no licence text to pass on.`);
  return text;
}
