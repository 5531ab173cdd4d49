/** Opening the page in tests: what it says to the console and asks of the network is noted; waiting is for states. */

import { readFile } from 'node:fs/promises';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { extname, join, normalize } from 'node:path';
import { pathToFileURL } from 'node:url';
import type { Browser, BrowserContextOptions, Page } from 'playwright';

export const fileAddress = (folder: string): string => `${pathToFileURL(folder).href}/`;

const TYPES: Record<string, string> = {
  '.html': 'text/html',
  '.js': 'text/javascript',
  '.css': 'text/css',
  '.woff2': 'font/woff2',
};

/** Serves a folder below a sub-path, as any web space would. */
export async function serve(folder: string, subPath = '/music/shelf/'): Promise<{ address: string; server: Server }> {
  const server = createServer(async ({ url = '/' }, response) => {
    const path = new URL(url, 'http://localhost').pathname;
    const file = path.startsWith(subPath) ? normalize(path.slice(subPath.length)) : null;
    try {
      if (file === null || file.startsWith('..')) throw new Error('outside');
      const body = await readFile(join(folder, file === '.' ? 'index.html' : file));
      response.writeHead(200, { 'content-type': TYPES[extname(file)] ?? 'application/octet-stream' }).end(body);
    } catch {
      response.writeHead(404).end();
    }
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return { address: `http://127.0.0.1:${(server.address() as AddressInfo).port}${subPath}`, server };
}

export interface Opened {
  page: Page;
  /** Errors and warnings of the console, uncaught exceptions. */
  complaints: string[];
  requests: string[];
  close: () => Promise<void>;
}

export async function open(browser: Browser, address: string, options: BrowserContextOptions = {}): Promise<Opened> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 800 }, ...options });
  const page = await context.newPage();
  const complaints: string[] = [];
  const requests: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') complaints.push(message.text());
  });
  page.on('pageerror', (error) => complaints.push(error.stack ?? error.message));
  page.on('request', (request) => requests.push(request.url()));
  await page.goto(address);
  return { page, complaints, requests, close: () => context.close() };
}

export async function ready(page: Page): Promise<void> {
  await page.locator('[role="option"]').first().waitFor();
}

/** Until what was last done stands on the screen: what waits for a frame is done in the first, and drawn by the second. */
export async function painted(page: Page): Promise<void> {
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
}

/** Until sound leaves the page's own meter. */
export async function heard(page: Page): Promise<void> {
  await page.waitForFunction(() => Number(document.getElementById('meter')?.getAttribute('aria-valuenow')) > -60);
}

/** The text of the one element that matches; empty where it has none. */
export const textOf = async (page: Page, selector: string): Promise<string> =>
  (await page.locator(selector).textContent()) ?? '';

export const said = (page: Page): Promise<string> => textOf(page, '#says');

/** The chips as text. */
export const chips = (page: Page): Promise<string[]> => page.locator('.chip .text bdi').allTextContents();
