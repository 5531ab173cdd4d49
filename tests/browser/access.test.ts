/** No axe-core violation on any page, day and night, wide and narrow, with panes, panel and dialog open. */
import { readFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import type { Browser, Page } from 'playwright';
import { afterAll, beforeAll, describe, expect, inject, it } from 'vitest';
import { launch } from './chromium.ts';
import { fileAddress, open, ready } from './page.ts';

const sites = inject('sites');
let browser: Browser;
let axe: string;
beforeAll(async () => {
  browser = await launch();
  axe = await readFile(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
});
afterAll(() => browser.close());

async function violations(page: Page): Promise<string[]> {
  await page.evaluate(axe);
  return page.evaluate(async () => {
    const { axe } = window as unknown as {
      axe: {
        run: (
          where: Document,
        ) => Promise<{ violations: { id: string; help: string; nodes: { html: string; failureSummary: string }[] }[] }>;
      };
    };
    const result = await axe.run(document);
    return result.violations.flatMap(({ id, help, nodes }) =>
      nodes.map(({ html, failureSummary }) => `${id}: ${help}: ${html.slice(0, 160)} ${failureSummary}`),
    );
  });
}

describe.each(['light', 'dark'] as const)('%s', (colorScheme) => {
  it('Find: list, a sound in hand, every pane, the panel, the dialog', async () => {
    const { page, close } = await open(
      browser,
      `${fileAddress(sites.small)}index.html#q=metal%2C+2+bars+at+84%2C+accent+at+end`,
      { colorScheme },
    );
    await ready(page);
    expect(await violations(page)).toEqual([]);
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('s');
    for (const pane of ['sound', 'alike', 'cue', 'selects']) {
      await page.locator(`#tab-${pane}`).click();
      expect(await violations(page), pane).toEqual([]);
    }
    await page.locator('#show-controls').click();
    expect(await violations(page), 'by hand').toEqual([]);
    await page.locator('#show-keys').click();
    expect(await violations(page), 'keys').toEqual([]);
    await close();
  });

  it('Find: nothing found, nothing there, narrow', async () => {
    for (const address of [
      `${fileAddress(sites.small)}index.html#q=under+0.01+s`,
      `${fileAddress(sites.empty)}index.html`,
      `${fileAddress(sites.bare)}index.html`,
    ]) {
      const { page, close } = await open(browser, address, { colorScheme });
      await page.locator('#empty').waitFor();
      expect(await violations(page), address).toEqual([]);
      await close();
    }
    const { page, close } = await open(browser, `${fileAddress(sites.small)}index.html`, {
      colorScheme,
      viewport: { width: 390, height: 844 },
    });
    await ready(page);
    await page.locator('[role="option"]').first().click();
    await page.locator('#sheet').click();
    expect(await violations(page), 'narrow').toEqual([]);
    await close();
  });

  it('Report, full and empty', async () => {
    for (const site of [sites.small, sites.empty]) {
      const { page, close } = await open(browser, `${fileAddress(site)}report.html`, { colorScheme });
      await page.locator('#report-line:not(:empty)').waitFor();
      expect(await violations(page), site).toEqual([]);
      await close();
    }
  });
  it('How it is measured', async () => {
    const { page, close } = await open(browser, `${fileAddress(sites.small)}measured.html#roughness`, { colorScheme });
    expect(await violations(page)).toEqual([]);
    await close();
  });
});
