/** Reads the text and musical data that recorders and editors embed in audio files. */
import type { EmbeddedText } from '../audio-stream.ts';
import { type ByteSource, partOf } from '../decode/byte-source.ts';
import { openFile } from '../decode/file-bytes.ts';
import { tagsBefore } from '../decode/id3-bounds.ts';
import { sniff } from '../decode/sniff.ts';
import { describeAiff } from './aiff-text.ts';
import { type Findings, merged } from './findings.ts';
import { describeFlac } from './flac-text.ts';
import { readId3v1, readId3v2 } from './id3.ts';
import { describeOgg } from './ogg-text.ts';
import { describeWav, ID3_BYTES } from './wave-text.ts';

/**
 * What the file says about itself, whatever its format. Never throws over what stands in the file: broken parts are
 * left out, and a file without any text gives empty fields. Throws UnreadableAudio for what is no file, and the system's
 * errors as they are.
 */
export async function describeAudio(path: string): Promise<EmbeddedText> {
  const file = await openFile(path);
  try {
    return await descriptionIn(file);
  } finally {
    await file.close();
  }
}

/** As `describeAudio`, of bytes already at hand. */
export async function descriptionIn(source: ByteSource): Promise<EmbeddedText> {
  return merged(await describeSource(source));
}

async function describeSource(source: ByteSource): Promise<Findings[]> {
  const { kind, start } = await sniff(source);
  if (kind === null) return [];
  const content = start > 0 ? partOf(source, start, source.size - start) : source;
  const tags = await describeTags(source);
  switch (kind) {
    case 'wav':
      return [...(await describeWav(content)), ...tags];
    case 'aiff':
      return [...(await describeAiff(content)), ...tags];
    case 'flac':
      return [...(await describeFlac(content)), ...tags];
    case 'ogg':
      return [...(await describeOgg(content)), ...tags];
    case 'mp3':
      return tags;
  }
}

/** ID3 tags at either end of the file. */
async function describeTags(source: ByteSource): Promise<Findings[]> {
  const found: Findings[] = [];
  for (const tag of (await tagsBefore(source)).tags) {
    found.push(readId3v2(await source.read(tag.start, Math.min(tag.size, ID3_BYTES))));
  }
  if (source.size >= 128) found.push(readId3v1(await source.read(source.size - 128, 128)));
  return found;
}
