/**
 * A server for one built site, for the browsers of this machine.
 *
 * The archive is private, and any page in the browser may send requests to this machine: so a request must name this server
 * by a loopback name and its own port (a foreign name that was made to lead here is refused), and answers may be used by no
 * other origin. It gives regular files that really lie in the site and nothing else; what is asked in any other way is
 * refused with a sentence, and the server lives on. Ranges, conditions and content types are the work of `send`.
 */
import { realpath, stat } from 'node:fs/promises';
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http';
import { extname, join, relative, sep } from 'node:path';
import send from 'send';
import { PAGE_POLICY } from '../../shared/page-policy.ts';

/** Milliseconds a connection may take over each part of a request; a browser on this machine needs none of them. */
export interface Patience {
  headersMs: number;
  requestMs: number;
  keptAliveMs: number;
  /** Without a byte either way, such as a reader that stopped reading. */
  silentMs: number;
  /** How often headers and requests that do not end are looked for. */
  checkEveryMs: number;
}

export const PATIENCE: Patience = {
  headersMs: 10_000,
  requestMs: 20_000,
  keptAliveMs: 5_000,
  silentMs: 60_000,
  checkEveryMs: 5_000,
};

/** A browser holds six connections to one server. */
const MOST_CONNECTIONS = 200;
const LOOPBACK_NAMES = ['127.0.0.1', 'localhost', '[::1]'];
const USUAL_PORT = 80;
const METHODS = 'GET, HEAD';

const HEADERS: Readonly<Record<string, string>> = {
  // A page cannot say of itself that no other may frame it.
  'Content-Security-Policy': `${PAGE_POLICY}; frame-ancestors 'none'`,
  'X-Content-Type-Options': 'nosniff',
  'Cross-Origin-Resource-Policy': 'same-origin',
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Referrer-Policy': 'no-referrer',
  // A rebuilt site is shown at once.
  'Cache-Control': 'no-cache',
};

/** Why a request gets no file. */
class Refused extends Error {
  readonly status: number;
  readonly headers: Readonly<Record<string, string>>;
  constructor(status: number, message: string, headers: Readonly<Record<string, string>> = {}) {
    super(message);
    this.status = status;
    this.headers = headers;
  }
}

/** Not listening yet. Failures after listening (too many open files) cost the connection, not the server. */
export function createSiteServer(site: string, patience: Patience = PATIENCE): Server {
  const server = createServer(
    {
      headersTimeout: patience.headersMs,
      requestTimeout: patience.requestMs,
      keepAliveTimeout: patience.keptAliveMs,
      connectionsCheckingInterval: patience.checkEveryMs,
    },
    (request, response) => {
      answer(site, request, response).catch((error: unknown) => refuse(response, error));
    },
  );
  server.timeout = patience.silentMs;
  server.maxConnections = MOST_CONNECTIONS;
  server.on('error', () => {});
  return server;
}

async function answer(site: string, request: IncomingMessage, response: ServerResponse): Promise<void> {
  for (const [name, value] of Object.entries(HEADERS)) response.setHeader(name, value);
  assertAllowed(request);
  const root = await realpath(site);
  const { file, bytes } = await fileAsked(root, request.url ?? '/');
  mendSuffixRange(request, bytes);
  send(request, encodeURI(file).replace(/[?#]/g, encodeURIComponent), { root, index: false, cacheControl: false })
    .on('error', (error: unknown) => refuse(response, error))
    .pipe(response);
}

function assertAllowed({ method, headersDistinct, socket }: IncomingMessage): void {
  const port = socket.localPort;
  const allowed = LOOPBACK_NAMES.flatMap((name) => (port === USUAL_PORT ? [name, `${name}:80`] : [`${name}:${port}`]));
  const hosts = headersDistinct.host ?? [];
  if (hosts.length !== 1 || !allowed.includes(hosts[0].toLowerCase())) {
    throw new Refused(421, `This server answers to http://${allowed[0]}/ only.`);
  }
  if (method !== 'GET' && method !== 'HEAD') throw new Refused(405, 'Files can only be read.', { Allow: METHODS });
}

/**
 * RFC 9110, 14.1.2: of a file shorter than the suffix asked for, the whole is meant. The parser that `send` uses takes it for
 * a range that cannot be met.
 */
function mendSuffixRange({ headers }: IncomingMessage, bytes: number): void {
  const suffix = /^ *bytes= *- *(\d+) *$/.exec(headers.range ?? '');
  if (suffix && Number(suffix[1]) > bytes) delete headers.range;
}

/** The regular file that a request is for: its path below the site, with slashes, and its size. */
async function fileAsked(root: string, target: string): Promise<{ file: string; bytes: number }> {
  const path = decoded(target.replace(/[?#].*$/s, ''));
  const pieces = path.slice(1).split('/');
  if (pieces.at(-1) === '' && pieces.length === 1) pieces[0] = 'index.html';
  if (pieces.some((piece) => piece === '' || piece.startsWith('.') || piece.includes('\\'))) throw notThere();
  const real = await realpath(join(root, ...pieces));
  const info = await stat(real);
  if (!info.isFile()) throw notThere();
  const file = relative(root, real).split(sep).join('/');
  if (file.split('/').some((piece) => piece.startsWith('.')) || relative(root, real) === real) throw notThere();
  // The type is told by the ending, which a link must not change.
  if (extname(file) !== extname(pieces.at(-1) ?? '')) throw notThere();
  return { file, bytes: info.size };
}

function decoded(target: string): string {
  if (!target.startsWith('/')) throw new Refused(400, 'A path that begins with a slash was expected.');
  let path: string;
  try {
    path = decodeURIComponent(target);
  } catch {
    throw new Refused(400, 'The address holds a percent sign that is followed by no character.');
  }
  if (path.includes('\0')) throw new Refused(400, 'The address holds a NUL character.');
  return path;
}

const notThere = (): Refused => new Refused(404, 'There is no such file in the site.');

function asRefusal(error: unknown): Refused {
  if (error instanceof Refused) return error;
  const { code, status, headers } = error as NodeJS.ErrnoException & { status?: number; headers?: Refused['headers'] };
  if (code === 'EACCES' || code === 'EPERM') return new Refused(403, 'The file is in the site, but may not be read.');
  if (code === 'ENOENT' || code === 'ENOTDIR' || code === 'ENAMETOOLONG' || code === 'ELOOP') return notThere();
  if (status === 416) return new Refused(416, 'The file has no such part.', headers);
  if (status === 412) return new Refused(412, 'The file is not as the request expects it.');
  return new Refused(500, 'The file cannot be read.');
}

/** Nothing of the file that might have been meant stays in the answer. */
function refuse(response: ServerResponse, error: unknown): void {
  if (response.headersSent) {
    response.destroy();
    return;
  }
  const { status, message, headers } = asRefusal(error);
  for (const name of ['Content-Range', 'Accept-Ranges', 'ETag', 'Last-Modified']) response.removeHeader(name);
  for (const [name, value] of Object.entries(headers)) response.setHeader(name, value);
  const body = `${message}\n`;
  response.statusCode = status;
  response.setHeader('Content-Type', 'text/plain; charset=utf-8');
  response.setHeader('Content-Length', Buffer.byteLength(body));
  response.end(body);
}
