/**
 * Text as it stands in files: UTF-8 where it is valid, else Windows-1252 (which covers Latin-1), UTF-16 where a mark
 * says so. Control characters are taken out; lines are kept.
 */

/** Text longer than this is cut: no note is that long, but a broken size may say so. */
const LONGEST_TEXT = 20_000;

/** Decodes bytes up to their end, NULs included (they are taken out as control characters). */
export function decodeText(bytes: Uint8Array): string {
  return tidy(rawText(bytes));
}

/** As decodeText, but at full length and with all characters, for text that is still to be parsed. */
export function rawText(bytes: Uint8Array): string {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return utf16(bytes.subarray(2), 'utf-16le');
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return utf16(bytes.subarray(2), 'utf-16be');
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}

/** Decodes a field that ends at its first NUL, or at its full length when there is none. */
export function decodeField(bytes: Uint8Array): string {
  const end = bytes.indexOf(0);
  return decodeText(end < 0 ? bytes : bytes.subarray(0, end));
}

/** Decodes UTF-16 without its mark; an odd last byte is dropped. */
export function utf16(bytes: Uint8Array, order: 'utf-16le' | 'utf-16be'): string {
  return new TextDecoder(order).decode(bytes.subarray(0, bytes.length & ~1));
}

/** Lines end with a line feed; other control characters and the replacement character go; blanks at the ends go. */
export function tidy(text: string): string {
  let clean = '';
  for (const character of text.slice(0, LONGEST_TEXT).replace(/\r\n?/g, '\n')) {
    const code = character.codePointAt(0) ?? 0;
    const isControl = code < 0x20 || (code >= 0x7f && code < 0xa0) || code === 0xfffd || code === 0xfeff;
    const isLoneSurrogate = code >= 0xd800 && code <= 0xdfff;
    if ((!isControl && !isLoneSurrogate) || character === '\n' || character === '\t') clean += character;
  }
  return clean.trim();
}

/** `yyyy-mm-dd` from text that begins with a full date in any separators (or none); null for anything less. */
export function dateFrom(text: string): string | null {
  const found = /^\s*(\d{4})[^0-9]?(\d{2})[^0-9]?(\d{2})(?!\d)/.exec(text);
  if (!found) return null;
  const [, year, month, day] = found;
  const date = `${year}-${month}-${day}`;
  // A day that the month does not have moves the date on, so the text would come back different.
  const time = Date.parse(`${date}T00:00:00Z`);
  if (Number(year) === 0 || Number.isNaN(time)) return null;
  return new Date(time).toISOString().slice(0, 10) === date ? date : null;
}

/** `hh:mm:ss` from text in any separators; null when it is no time of day. */
export function timeFrom(text: string): string | null {
  const found = /^\s*(\d{2})[^0-9]?(\d{2})[^0-9]?(\d{2})(?!\d)/.exec(text);
  if (!found) return null;
  const [, hours, minutes, seconds] = found;
  if (Number(hours) > 23 || Number(minutes) > 59 || Number(seconds) > 59) return null;
  return `${hours}:${minutes}:${seconds}`;
}

/** Keywords from one text: separated by semicolons, else by commas, else by lines. */
export function keywordsFrom(text: string): string[] {
  const separator = text.includes(';') ? ';' : text.includes(',') ? ',' : '\n';
  return text
    .split(separator)
    .map((word) => word.trim())
    .filter((word) => word.length > 0);
}
