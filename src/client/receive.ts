/**
 * How data reaches a page that may be opened from a USB stick: each data file is a classic script that calls
 * `takeshelf.receive(kind, payload)`. Nothing is fetched, so file:// works as well as http.
 */

/** One part of a sound's preview; parts overlap a little so that they can be crossfaded into each other. */
export interface PreviewPart {
  id: string;
  part: number;
  startSeconds: number;
  durationSeconds: number;
  /** How much the preview was raised before encoding; to be taken back in playing. */
  gainDb?: number;
  /** MP3, base64. */
  mp3: string;
  /** Int8 minimum and maximum a column of the whole sound, base64; part 0 only. */
  waveform?: string;
}

/** What a missing file is called in words, and what to do. */
export class MissingData extends Error {
  override readonly name = 'MissingData';
}

const kept = new Map<string, unknown>();
const awaited = new Map<string, (part: PreviewPart) => void>();

/** Called by the data scripts. */
export function receive(kind: string, payload: unknown): void {
  if (kind !== 'preview') {
    kept.set(kind, payload);
    return;
  }
  const part = payload as PreviewPart;
  const key = `${part.id}.${part.part}`;
  awaited.get(key)?.(part);
  awaited.delete(key);
}

/** Hands over what arrived under `kind` and lets go of it; undefined where nothing came. */
export function take<T>(kind: string): T | undefined {
  const payload = kept.get(kind) as T | undefined;
  kept.delete(kind);
  return payload;
}

/** Loads one preview part by adding its script; the script is taken away again once it has spoken. */
export function loadPreviewPart(id: string, part: number): Promise<PreviewPart> {
  const address = `previews/${id.slice(0, 2)}/${id}.${part}.js`;
  return new Promise((resolve, reject) => {
    const script = document.createElement('script');
    const key = `${id}.${part}`;
    awaited.set(key, resolve);
    const fail = () => {
      awaited.delete(key);
      script.remove();
      reject(new MissingData(`${address} is missing or damaged. Copy the whole folder, or build again.`));
    };
    script.addEventListener('error', fail);
    script.addEventListener('load', () => {
      if (awaited.get(key) === resolve) fail();
      else script.remove();
    });
    script.src = address;
    document.head.append(script);
  });
}

export function bytesOf(base64: string): Uint8Array<ArrayBuffer> {
  const binary = atob(base64);
  const bytes = new Uint8Array(binary.length);
  for (let i = 0; i < binary.length; i++) bytes[i] = binary.charCodeAt(i);
  return bytes;
}
