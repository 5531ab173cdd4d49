/** A headless Chromium: an installed one first, else the one that comes from npm. */
import { existsSync } from 'node:fs';
import { type Browser, chromium } from 'playwright';

const INSTALLED = [
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
  '/usr/bin/google-chrome-stable',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
];

export async function executablePath(): Promise<string> {
  const installed = INSTALLED.find((path) => existsSync(path));
  if (installed) return installed;
  const { default: packaged } = await import('@sparticuz/chromium');
  return packaged.executablePath();
}

/** `switches` of the command line beside the usual ones. */
export async function launch(...switches: string[]): Promise<Browser> {
  return chromium.launch({
    executablePath: await executablePath(),
    args: ['--no-sandbox', '--autoplay-policy=user-gesture-required', ...switches],
  });
}
