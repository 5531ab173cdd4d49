/**
 * What is kept between builds carries the digest of its own text in its last line, so that a damaged, empty or half-written
 * file is told from a whole one. The line is a comment in JavaScript, so that a sealed script is still a script.
 */
import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';

const SEAL = '//sha256:';
const SEAL_BYTES = SEAL.length + 64 + 1;

const digestOf = (body: string | Uint8Array): string => createHash('sha256').update(body).digest('hex');

/** `text` ends with a line feed, or is given one. */
export function sealed(text: string): string {
  const body = text.endsWith('\n') ? text : `${text}\n`;
  return `${body}${SEAL}${digestOf(body)}\n`;
}

/** The text without its seal; null when the seal is not that of the text, or there is none. */
export function unsealed(bytes: Uint8Array): string | null {
  if (bytes.length < SEAL_BYTES) return null;
  const body = bytes.subarray(0, bytes.length - SEAL_BYTES);
  const seal = Buffer.from(bytes.subarray(bytes.length - SEAL_BYTES)).toString('latin1');
  return seal === `${SEAL}${digestOf(body)}\n` ? Buffer.from(body).toString('utf8') : null;
}

/** The same for a file; null when it cannot be read either. */
export async function readSealed(path: string): Promise<string | null> {
  const bytes = await readFile(path).catch(() => null);
  return bytes === null ? null : unsealed(bytes);
}
