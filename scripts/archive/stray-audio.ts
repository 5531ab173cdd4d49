/** Files whose names do not say that they can be read here: which of them hold sound, told by their first bytes. */
import { extname } from 'node:path';
import type { ByteSource } from './decode/byte-source.ts';
import { openFile } from './decode/file-bytes.ts';
import { isOtherAudioName } from './decode/open.ts';
import { sniff } from './decode/sniff.ts';

/** `readable`: it decodes like any other; `found`: sound of another format, in a sentence. */
export type StrayAudio = { readable: true } | { readable: false; found: string };

/** A name worth a look: it promises sound in a format that is not read here, or promises nothing. */
export const mayBeStray = (name: string): boolean => extname(name) === '' || isOtherAudioName(name);

/** null where it is no sound. A file that cannot be read is told by its name alone. */
export async function strayAudio(path: string): Promise<StrayAudio | null> {
  const promises = isOtherAudioName(path);
  const byName: StrayAudio = { readable: false, found: `Its name ends in "${extname(path)}".` };
  try {
    const file = await openFile(path);
    try {
      if (!promises && !(await mayBeAudio(file))) return null;
      const { kind, words, otherAudio } = await sniff(file);
      if (kind !== null) return { readable: true };
      return promises || otherAudio ? { readable: false, found: `This is ${words}.` } : null;
    } finally {
      await file.close();
    }
  } catch {
    return promises ? byName : null;
  }
}

/**
 * Of files without an ending there may be very many, and only a glance is worth it. In arbitrary bytes what looks like MPEG
 * frames can stand anywhere, so those must stand at the beginning.
 */
async function mayBeAudio(file: ByteSource): Promise<boolean> {
  const head = await file.read(0, 16);
  const text = String.fromCharCode(...head);
  return (
    /^(RIF[FX]|RF64|BW64|FORM|FRM8|fLaC|OggS|ID3|caff|wvpk|MAC |MPCK|MP\+|#!AMR|\.snd|riff|DSD |ADIF|\x30\x26\xb2\x75)/.test(
      text,
    ) ||
    text.startsWith('ftyp', 4) ||
    // MPEG layer III, or AAC in ADTS; two bytes that begin UTF-16 text would pass for layer I.
    (head[0] === 0xff && ((head[1] & 0xe6) === 0xe2 || (head[1] & 0xf6) === 0xf0))
  );
}
