import { execFileSync } from 'node:child_process';
import fs from 'node:fs';
import { mkdir, mkdtemp, rm, symlink, truncate, writeFile } from 'node:fs/promises';
import type { Server } from 'node:http';
import { type AddressInfo, connect, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest';
import { createSiteServer, PATIENCE } from '../../scripts/serve/site-server.ts';
import { PAGE_POLICY } from '../../shared/page-policy.ts';

const TEN = '0123456789';
let home: string;
let server: Server;
let port: number;

beforeAll(async () => {
  home = await mkdtemp(join(tmpdir(), 'takeshelf-serve-'));
  const site = join(home, 'site');
  await mkdir(join(site, 'data'), { recursive: true });
  await mkdir(join(site, '.git'));
  await writeFile(join(home, 'private.js'), 'private');
  await writeFile(join(site, 'index.html'), '<title>Shelf</title>');
  await writeFile(join(site, 'takeshelf.css'), 'a {}');
  await writeFile(join(site, 'data/shelf.js'), TEN);
  await writeFile(join(site, 'data/50% #1?.js'), 'odd');
  await writeFile(join(site, '.git/config.js'), 'hidden');
  await writeFile(join(site, 'empty.js'), '');
  await symlink('../private.js', join(site, 'out.js'));
  await symlink('..', join(site, 'above'));
  await symlink('.git/config.js', join(site, 'seen.js'));
  await symlink('data/shelf.js', join(site, 'inside.js'));
  await symlink('round.js', join(site, 'round.js'));
  execFileSync('mkfifo', [join(site, 'pipe.js')]);
  server = createSiteServer(site);
  port = await listening(server);
});
afterEach(() => vi.restoreAllMocks());
afterAll(async () => {
  server.closeAllConnections();
  server.close();
  await rm(home, { recursive: true, force: true });
});

async function listening(one: Server): Promise<number> {
  await new Promise<void>((resolve) => one.listen(0, '127.0.0.1', resolve));
  return (one.address() as AddressInfo).port;
}

interface Answer {
  status: number;
  headers: Record<string, string>;
  body: string;
}

/** Sends the bytes as they are, and reads until the server closes. */
async function raw(text: string, to = port): Promise<string> {
  const socket: Socket = connect(to, '127.0.0.1');
  socket.write(text, 'latin1');
  let all = '';
  for await (const data of socket) all += (data as Buffer).toString('latin1');
  return all;
}

function parsed(all: string): Answer {
  const [head, ...rest] = all.split('\r\n\r\n');
  const [first, ...lines] = head.split('\r\n');
  const headers = Object.fromEntries(
    lines.map((line) => [line.slice(0, line.indexOf(':')).toLowerCase(), line.slice(line.indexOf(':') + 1).trim()]),
  );
  return { status: Number(first.split(' ')[1]), headers, body: rest.join('\r\n\r\n') };
}

async function ask(path: string, { method = 'GET', host = `127.0.0.1:${port}`, lines = '' } = {}): Promise<Answer> {
  return parsed(await raw(`${method} ${path} HTTP/1.1\r\nHost: ${host}\r\nConnection: close\r\n${lines}\r\n`));
}

const lives = async (): Promise<void> => expect((await ask('/')).status).toBe(200);

test('gives the files of the site, with their types, and tells the browser to keep them to this origin', async () => {
  const page = await ask('/');
  expect(page).toMatchObject({ status: 200, body: '<title>Shelf</title>' });
  expect(page.headers).toMatchObject({
    'content-type': 'text/html; charset=utf-8',
    'content-security-policy': `${PAGE_POLICY}; frame-ancestors 'none'`,
    'x-content-type-options': 'nosniff',
    'cross-origin-resource-policy': 'same-origin',
    'referrer-policy': 'no-referrer',
    'cache-control': 'no-cache',
  });
  expect(page.headers).not.toHaveProperty('x-powered-by');
  expect((await ask('/takeshelf.css')).headers['content-type']).toBe('text/css; charset=utf-8');
  const script = await ask('/data/shelf.js?again#there');
  expect(script).toMatchObject({ status: 200, body: TEN });
  expect(script.headers['content-type']).toBe('text/javascript; charset=utf-8');
  expect((await ask('/data/50%25%20%231%3F.js')).body).toBe('odd');
  expect((await ask('/inside.js')).body).toBe(TEN);
  expect(await ask('/empty.js')).toMatchObject({ status: 200, body: '' });
  const head = await ask('/data/shelf.js', { method: 'HEAD' });
  expect(head).toMatchObject({ status: 200, body: '' });
  expect(head.headers['content-length']).toBe('10');
  expect((await ask('/data/shelf.js', { lines: `If-None-Match: ${script.headers.etag}\r\n` })).status).toBe(304);
});

// RFC 9110, 14.1.2: both ends are inclusive, `-n` means the last n bytes, a range that begins after the end is unsatisfiable.
test.each<[range: string, status: number, body: string | null, contentRange: string | undefined]>([
  ['bytes=0-3', 206, '0123', 'bytes 0-3/10'],
  ['bytes=7-', 206, '789', 'bytes 7-9/10'],
  ['bytes=-3', 206, '789', 'bytes 7-9/10'],
  ['bytes=-99', 200, TEN, undefined],
  ['bytes=8-99', 206, '89', 'bytes 8-9/10'],
  ['bytes=10-', 416, null, 'bytes */10'],
  ['bytes=5-2', 416, null, 'bytes */10'],
  ['bytes=-0', 416, null, 'bytes */10'],
  ['bytes=x', 200, TEN, undefined],
  ['bytes=0-1,4-5', 200, TEN, undefined],
  ['lines=0-1', 200, TEN, undefined],
])('range %s is answered with %i', async (range, status, body, contentRange) => {
  const answer = await ask('/data/shelf.js', { lines: `Range: ${range}\r\n` });
  expect(answer.status).toBe(status);
  expect(answer.headers['content-range']).toBe(contentRange);
  if (body !== null) expect(answer.body).toBe(body);
  else expect(answer.headers['content-type']).toBe('text/plain; charset=utf-8');
  await lives();
});

test.each<[status: number, what: string, paths: string[]]>([
  [404, 'hidden files', ['/.git/config.js', '/%2egit/config.js', '/seen.js']],
  [404, 'what lies outside', ['/../private.js', '/..%2fprivate.js', '/data/%2e%2e/../../private.js', '//private.js']],
  [404, 'links that lead out', ['/out.js', '/above/private.js', '/above/site/index.html/']],
  [
    404,
    'what is no file',
    ['/data', '/data/', '/pipe.js', '/round.js', '/gone.js', '/index.html/x', '/data\\shelf.js'],
  ],
  [404, 'names beyond all measure', [`/${'a'.repeat(8000)}`, `/${'a/'.repeat(4000)}`]],
  [400, 'addresses that are none', ['/%', '/%zz', '/%c3%28', '/a%00.js', 'http://127.0.0.1/', '*']],
  [431, 'addresses that do not end', [`/${'a'.repeat(17_000)}`]],
])('%i for %s', async (status, _what, paths) => {
  for (const path of paths) {
    const answer = await ask(path);
    expect(answer.status, path.slice(0, 40)).toBe(status);
    expect(answer.body).not.toMatch(/private|hidden|title/);
  }
  await lives();
});

test('only reads: any other method is told which ones there are', async () => {
  for (const method of ['POST', 'PUT', 'DELETE', 'OPTIONS', 'TRACE', 'PATCH']) {
    const answer = await ask('/', { method });
    expect(answer.status, method).toBe(405);
    expect(answer.headers.allow).toBe('GET, HEAD');
    expect(answer.body).not.toContain('Shelf');
  }
  await raw(`CONNECT example.org:80 HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\n\r\n`);
  await lives();
});

test('answers to this machine’s own names and its own port only', async () => {
  for (const host of ['localhost', 'LocalHost', '[::1]']) {
    expect((await ask('/', { host: `${host}:${port}` })).status, host).toBe(200);
  }
  const foreign = [
    '127.0.0.1',
    'localhost:1',
    `example.org:${port}`,
    `localhost.example.org:${port}`,
    '',
    `0.0.0.0:${port}`,
  ];
  for (const host of foreign) {
    const answer = await ask('/data/shelf.js', { host });
    expect(answer.status, host).toBe(421);
    expect(answer.body).not.toContain(TEN);
  }
  expect(parsed(await raw('GET / HTTP/1.0\r\n\r\n')).status).toBe(421);
  const twice = `GET / HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\nHost: example.org\r\nConnection: close\r\n\r\n`;
  expect(parsed(await raw(twice)).status).toBe(421);
});

test('a file that may not be read is told so, and one that breaks off midway ends its connection, not the server', async () => {
  const open = fs.createReadStream;
  vi.spyOn(fs, 'createReadStream').mockImplementationOnce(() => open(home)); // A folder: EISDIR on reading.
  expect((await ask('/data/shelf.js')).status).toBe(500);
  const forbidden = Object.assign(new Error('EACCES'), { code: 'EACCES' });
  vi.spyOn(fs, 'createReadStream').mockImplementationOnce(() => {
    const stream = open(join(home, 'private.js'));
    stream.destroy(forbidden);
    return stream;
  });
  const refused = await ask('/data/shelf.js', { lines: 'Range: bytes=0-3\r\n' });
  expect(refused).toMatchObject({ status: 403, body: 'The file is in the site, but may not be read.\n' });
  expect(refused.headers).not.toHaveProperty('content-range');
  await lives();

  const long = join(home, 'site/long.js');
  await writeFile(long, '');
  await truncate(long, 4_000_000);
  vi.spyOn(fs, 'createReadStream').mockImplementationOnce((path) => {
    const stream = open(path);
    stream.once('data', () => stream.destroy(Object.assign(new Error('EIO'), { code: 'EIO' })));
    return stream;
  });
  const cut = await raw(`GET /long.js HTTP/1.1\r\nHost: 127.0.0.1:${port}\r\n\r\n`).catch(() => '');
  expect(cut.length).toBeLessThan(4_000_000);
  await lives();
});

test('requests that do not end are ended', async () => {
  const quick = { ...PATIENCE, headersMs: 30, requestMs: 60, checkEveryMs: 10 };
  const hasty = createSiteServer(join(home, 'site'), quick);
  const to = await listening(hasty);
  expect(await raw('GET / HT', to)).toMatch(/^HTTP\/1\.1 408 /);
  expect(await raw(`GET / HTTP/1.1\r\nHost: 127.0.0.1:${to}\r\nX-Slow: `, to)).toMatch(/^HTTP\/1\.1 408 /);
  hasty.closeAllConnections();
  hasty.close();
  // Those that are held in earnest have a limit, too.
  expect(server.headersTimeout).toBeLessThanOrEqual(10_000);
  expect(server.timeout).toBeGreaterThan(0);
  expect(server.maxConnections).toBeLessThan(1000);
});

test('what is no HTTP at all costs its own connection', async () => {
  for (const bytes of [
    '\x16\x03\x01\x02\x00\x01\x00',
    'GET /\r\n\r\n',
    '\r\n\r\n\r\n',
    `GET / HTTP/1.1\r\nHost: a\r\nContent-Length: -1\r\n\r\n`,
  ]) {
    const socket = connect(port, '127.0.0.1');
    socket.on('error', () => {});
    socket.end(bytes, 'latin1');
    await new Promise((resolve) => socket.resume().once('close', resolve));
  }
  await lives();
});
