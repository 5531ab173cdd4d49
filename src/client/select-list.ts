/** Selects: the takes chosen, in order, with a note each; and the three forms they leave the page in. Pure. */

export interface Select {
  id: string;
  name: string;
  session: string;
  /** Path below the archive folder, and that folder's name. */
  file: string;
  folder: string;
  startSeconds: number;
  durationSeconds: number;
  /** Varispeed it was chosen at. */
  semitones: number;
  note: string;
  rights: string | null;
}

export const LIST_VERSION = 1;

export function toJson(selects: readonly Select[]): string {
  return `${JSON.stringify({ takeshelfSelects: LIST_VERSION, selects }, null, 2)}\n`;
}

const text = (value: unknown): string => (typeof value === 'string' ? value : '');
const figure = (value: unknown): number => (typeof value === 'number' && Number.isFinite(value) ? value : 0);

/** Reads what `toJson` wrote; throws a sentence for anything else. Fields it does not know it leaves out. */
export function fromJson(json: string): Select[] {
  let read: unknown;
  try {
    read = JSON.parse(json);
  } catch {
    throw new Error('This is not a list of selects: it is not JSON. Choose a file exported here as JSON.');
  }
  const { takeshelfSelects: version, selects } = (read ?? {}) as Record<string, unknown>;
  if (version !== LIST_VERSION || !Array.isArray(selects)) {
    throw new Error(`This is not a list of selects of version ${LIST_VERSION} (found ${version ?? 'none'}).`);
  }
  return (selects as Record<string, unknown>[])
    .filter((select) => select !== null && typeof select === 'object' && text(select.id) !== '')
    .map((select) => ({
      id: text(select.id),
      name: text(select.name),
      session: text(select.session),
      file: text(select.file),
      folder: text(select.folder),
      startSeconds: figure(select.startSeconds),
      durationSeconds: figure(select.durationSeconds),
      semitones: figure(select.semitones),
      note: text(select.note),
      rights: typeof select.rights === 'string' ? select.rights : null,
    }));
}

/** `incoming` joins `present`: new ones at the end; of one held already only an empty note is filled. */
export function merge(present: readonly Select[], incoming: readonly Select[]): Select[] {
  const out = present.map((select) => ({ ...select }));
  for (const select of incoming) {
    const held = out.find(({ id }) => id === select.id);
    if (!held) out.push({ ...select });
    else if (held.note === '') held.note = select.note;
  }
  return out;
}

const COLUMNS: readonly (readonly [heading: string, value: (select: Select, index: number) => string | number])[] = [
  ['order', (_, index) => index + 1],
  ['name', (select) => select.name],
  ['note', (select) => select.note],
  ['session', (select) => select.session],
  ['folder', (select) => select.folder],
  ['file', (select) => select.file],
  ['startSeconds', (select) => round(select.startSeconds)],
  ['durationSeconds', (select) => round(select.durationSeconds)],
  ['semitones', (select) => select.semitones],
  ['rights', (select) => select.rights ?? ''],
  ['id', (select) => select.id],
];

const round = (seconds: number): number => Number(seconds.toFixed(6));

/** RFC 4180: CRLF, quotes doubled, a header line. */
export function toCsv(selects: readonly Select[]): string {
  const lines = [
    COLUMNS.map(([heading]) => heading),
    ...selects.map((select, index) => COLUMNS.map(([, value]) => cell(value(select, index)))),
  ];
  return lines.map((line) => `${line.join(',')}\r\n`).join('');
}

/**
 * A text that a spreadsheet would take for a formula gets an apostrophe before it (OWASP, "CSV Injection"); figures stay
 * figures.
 */
function cell(value: string | number): string {
  if (typeof value === 'number') return String(value);
  const safe = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** Extended M3U in UTF-8: the archive's own files, the sound's id and its place in the file as comments. */
export function toPlaylist(selects: readonly Select[]): string {
  const oneLine = (value: string): string => value.replace(/[\r\n\u0085\u2028\u2029]+/g, ' ').trim();
  const entries = selects.map((select) => {
    const place = `# sound ${select.id} from ${round(select.startSeconds)} s for ${round(select.durationSeconds)} s`;
    const path = [select.folder, select.file].filter((piece) => piece !== '').join('/');
    return `#EXTINF:${Math.round(select.durationSeconds)},${oneLine(select.name)}\n${place}\n${oneLine(path)}\n`;
  });
  return `#EXTM3U\n${entries.join('')}`;
}
