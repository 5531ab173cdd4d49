/** The classic scripts that hand data to the page: one call each, so that a page opened by double click may load them. */
import type { BuildReport } from '../../shared/report.ts';
import type { PreviewOfTake } from '../archive/process-file.ts';
import { sealed } from '../own/seal.ts';
import type { PreviewPart } from './preview.ts';

const base64 = (bytes: Uint8Array): string =>
  Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength).toString('base64');

/** JSON that is also safe JavaScript: the two line separators are escaped, and so is anything that could end a script. */
const json = (value: unknown): string =>
  JSON.stringify(value).replace(
    /[\u2028\u2029<]/g,
    (character) => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`,
  );

const call = (name: string, value: unknown): string => `takeshelf.receive(${json(name)},${json(value)});\n`;

export const shelfScript = (pack: Uint8Array): string => call('shelf', base64(pack));
export const wordsScript = (index: Uint8Array): string => call('words', base64(index));
export const reportScript = (report: BuildReport): string => call('report', report);

/** Sealed with its own digest, in a comment: the cache keeps it, and the site shows it, in this form. */
export function previewScript({ id, gainDb, waveform }: PreviewOfTake, part: PreviewPart): string {
  const script = call('preview', {
    id,
    part: part.part,
    startSeconds: part.startSeconds,
    durationSeconds: part.durationSeconds,
    gainDb: Number(gainDb.toFixed(2)),
    mp3: base64(part.mp3),
    ...(part.part === 0
      ? { waveform: base64(new Uint8Array(waveform.buffer, waveform.byteOffset, waveform.byteLength)) }
      : {}),
  });
  return sealed(script);
}

/** Whether a script, without its seal, is that of this part. */
export const isPreviewScript = (script: string | null, id: string, part: number): boolean =>
  script?.startsWith(`takeshelf.receive("preview",{"id":${json(id)},"part":${part},`) ?? false;

/** The value a data script hands over. */
export function valueOfScript(script: string, name: string): unknown {
  const start = `takeshelf.receive(${json(name)},`;
  if (!script.startsWith(start) || !script.endsWith(');\n')) throw new Error(`not a ${name} data script`);
  return JSON.parse(script.slice(start.length, -3));
}
