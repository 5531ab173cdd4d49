/**
 * Drives a Firefox through WebDriver BiDi (W3C Working Draft), the protocol it speaks over a WebSocket when started with
 * --remote-debugging-port. Only what the check needs.
 */
import { type ChildProcess, spawn } from 'node:child_process';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

type Json = Record<string, unknown>;

export class Firefox {
  readonly logs: string[] = [];
  private readonly process: ChildProcess;
  private readonly profile: string;
  private readonly socket: WebSocket;
  private readonly waiting = new Map<number, (message: Json) => void>();
  private context = '';
  private last = 0;

  private constructor(process: ChildProcess, profile: string, socket: WebSocket) {
    this.process = process;
    this.profile = profile;
    this.socket = socket;
    socket.addEventListener('message', ({ data }) => this.receive(JSON.parse(String(data)) as Json));
  }

  static async start(binary: string): Promise<Firefox> {
    const profile = await mkdtemp(join(tmpdir(), 'takeshelf-firefox-'));
    await writeFile(join(profile, 'user.js'), `user_pref("media.autoplay.default", 0);\n`);
    const process = spawn(binary, ['--headless', '--no-remote', '--profile', profile, '--remote-debugging-port', '0'], {
      stdio: ['ignore', 'ignore', 'pipe'],
    });
    const address = await new Promise<string>((resolve, reject) => {
      let said = '';
      process.stderr?.on('data', (chunk: Buffer) => {
        said += chunk.toString();
        const found = /WebDriver BiDi listening on (ws:\S+)/.exec(said);
        if (found) resolve(found[1]);
      });
      process.once('exit', () => reject(new Error(`Firefox ended before it listened:\n${said}`)));
    });
    const socket = new WebSocket(`${address}/session`);
    await new Promise((resolve, reject) => {
      socket.addEventListener('open', resolve, { once: true });
      socket.addEventListener('error', () => reject(new Error(`No connection to ${address}.`)), { once: true });
    });
    const firefox = new Firefox(process, profile, socket);
    await firefox.send('session.new', { capabilities: {} });
    await firefox.send('session.subscribe', { events: ['log.entryAdded'] });
    const { contexts } = (await firefox.send('browsingContext.getTree', {})) as { contexts: { context: string }[] };
    firefox.context = contexts[0].context;
    return firefox;
  }

  async open(address: string): Promise<void> {
    await this.send('browsingContext.navigate', { context: this.context, url: address, wait: 'complete' });
  }

  /** Keys one after the other; special ones by their WebDriver code points. */
  async press(...keys: string[]): Promise<void> {
    const actions = keys.flatMap((value) => [
      { type: 'keyDown', value },
      { type: 'keyUp', value },
    ]);
    await this.send('input.performActions', {
      context: this.context,
      actions: [{ type: 'key', id: 'keyboard', actions }],
    });
  }

  /** Value of an expression that gives a string, number, boolean or null. */
  async evaluate(expression: string): Promise<unknown> {
    const answer = (await this.send('script.evaluate', {
      expression,
      target: { context: this.context },
      awaitPromise: true,
      userActivation: false,
    })) as {
      result?: { value?: unknown };
      exceptionDetails?: { text: string };
    };
    if (answer.exceptionDetails) throw new Error(answer.exceptionDetails.text);
    return answer.result?.value ?? null;
  }

  /** Waits until the expression is true; the frame's own clock asks, not ours. */
  async until(expression: string, milliseconds = 10_000): Promise<void> {
    const loop = `new Promise((resolve) => { const end = performance.now() + ${milliseconds}; const look = () => { if (${expression}) resolve(true); else if (performance.now() > end) resolve(false); else requestAnimationFrame(look); }; look(); })`;
    if ((await this.evaluate(loop)) !== true) throw new Error(`Never true: ${expression}`);
  }

  async close(): Promise<void> {
    const ended = new Promise((resolve) => this.process.once('exit', resolve));
    this.socket.close();
    this.process.kill();
    await ended;
    await rm(this.profile, { recursive: true, force: true });
  }

  private async send(method: string, params: Json): Promise<Json> {
    const id = ++this.last;
    const answer = new Promise<Json>((resolve) => this.waiting.set(id, resolve));
    this.socket.send(JSON.stringify({ id, method, params }));
    const message = await answer;
    if (message.type === 'error') throw new Error(`${method}: ${String(message.error)}: ${String(message.message)}`);
    return message.result as Json;
  }

  private receive(message: Json): void {
    if (typeof message.id === 'number') {
      this.waiting.get(message.id)?.(message);
      this.waiting.delete(message.id);
    } else if (message.method === 'log.entryAdded') {
      const { level, text } = message.params as { level: string; text: string };
      if (level === 'error' || level === 'warn') this.logs.push(`${level}: ${text}`);
    }
  }
}
