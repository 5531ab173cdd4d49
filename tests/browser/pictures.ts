/**
 * Draws README's pictures from the built demo site: `npm run pictures`. The question is asked and a result played as a
 * person would.
 */
import { mkdir, rm, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { project, temporaryFolder } from '../build/command.ts';
import { launch } from './chromium.ts';
import { buildDemoSite } from './demo-site.ts';
import { fileAddress, heard, open, ready } from './page.ts';

const QUESTION = 'metal, 2 bars at 84,';
const LARGEST_BYTES = 300_000;

const folder = await temporaryFolder();
const pictures = join(project, 'src/pictures');
const browser = await launch();
try {
  const site = join(folder, 'site');
  await buildDemoSite(site);
  await mkdir(pictures, { recursive: true });
  for (const [name, colorScheme] of [
    ['day', 'light'],
    ['night', 'dark'],
  ] as const) {
    const { page, close } = await open(browser, `${fileAddress(site)}index.html`, { colorScheme });
    await ready(page);
    await page.keyboard.type(QUESTION);
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('ArrowDown');
    await heard(page);
    await page.keyboard.press('Space');
    await page.evaluate(() => document.fonts.ready);
    // Map and list follow the question when the hands rest; the picture is taken once nothing changes any more.
    let picture = await page.screenshot();
    for (let before: Buffer = Buffer.alloc(0); !picture.equals(before); ) {
      before = picture;
      await page.waitForTimeout(400);
      picture = await page.screenshot();
    }
    const file = join(pictures, `${name}.png`);
    await writeFile(file, picture);
    const { size } = await stat(file);
    if (size > LARGEST_BYTES) throw new Error(`${file} has ${size} bytes, more than ${LARGEST_BYTES}.`);
    console.log(`${file}: ${size} bytes`);
    await close();
  }
} finally {
  await browser.close();
  await rm(folder, { recursive: true, force: true });
}
