/** Selects: the takes chosen, in order, with a note each; and the forms they and the pick-ups leave the page in. Pure. */
import { figure, oneLine, text } from './carried.ts';
import { type PickUp, readPickUp } from './pick-up-list.ts';

export interface Select {
  id: string;
  name: string;
  session: string;
  /** Path below the archive folder, and that folder's name. */
  file: string;
  folder: string;
  startSeconds: number;
  /** Of the whole, as the file has it from `startSeconds` on. */
  durationSeconds: number;
  /** Of what is heard of it, as the page shows it. */
  heardSeconds: number;
  /** Varispeed it was chosen at. */
  semitones: number;
  note: string;
  rights: string | null;
}

/** What a person chose and wished for: kept in the browser together, and carried away together. */
export interface Lists {
  selects: readonly Select[];
  pickUps: readonly PickUp[];
}

/** Version 1 had no pick-ups. */
export const LIST_VERSION = 2;
const READABLE_VERSIONS: readonly unknown[] = [1, LIST_VERSION];

export function toJson({ selects, pickUps }: Lists): string {
  return `${JSON.stringify({ takeshelfSelects: LIST_VERSION, selects, pickUps }, null, 2)}\n`;
}

/** Reads what `toJson` wrote; throws a sentence for anything else. Fields it does not know it leaves out. */
export function fromJson(json: string): Lists {
  let read: unknown;
  try {
    read = JSON.parse(json);
  } catch {
    throw new Error('This is not a list of selects: it is not JSON. Choose a file exported here as JSON.');
  }
  const { takeshelfSelects: version, selects, pickUps = [] } = (read ?? {}) as Record<string, unknown>;
  if (!READABLE_VERSIONS.includes(version) || !Array.isArray(selects) || !Array.isArray(pickUps)) {
    throw new Error(`This is not a list of selects of version ${LIST_VERSION} or before (found ${version ?? 'none'}).`);
  }
  return {
    selects: readSelects(selects),
    pickUps: pickUps.map(readPickUp).filter((pickUp) => pickUp !== null),
  };
}

function readSelects(selects: readonly unknown[]): Select[] {
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
      // Lists kept before had the one length only.
      heardSeconds: figure(select.heardSeconds) || figure(select.durationSeconds),
      semitones: figure(select.semitones),
      note: text(select.note),
      rights: typeof select.rights === 'string' ? select.rights : null,
    }));
}

/** `incoming` joins `present`: new ones at the end; of one held already only an empty note is filled. */
export function merge(present: readonly Select[], incoming: readonly Select[]): Select[] {
  const out = new Map(present.map((select) => [select.id, { ...select }]));
  for (const select of incoming) {
    const held = out.get(select.id);
    if (!held) out.set(select.id, { ...select });
    else if (held.note === '') held.note = select.note;
  }
  return [...out.values()];
}

/** What a browser keeps with room to spare; beyond it nothing more is taken in, rather than taken in and lost. */
export const MOST_SELECTS = 5000;
export const MOST_PICK_UPS = 1000;

/** Why lists cannot be kept here, as a sentence; null where they can. */
export function tooMany({ selects, pickUps }: Lists): string | null {
  const over = (found: number, most: number, what: string): string | null =>
    found <= most
      ? null
      : `Nothing was brought in: there would be ${found} ${what}, and this page keeps ${most} at most. Divide the list, or remove some first.`;
  return over(selects.length, MOST_SELECTS, 'selects') ?? over(pickUps.length, MOST_PICK_UPS, 'pick-ups');
}

/** A row of the table; a pick-up has no file, a select no wish. */
interface Row {
  kind: 'select' | 'pick-up';
  order: number;
  select?: Select;
  pickUp?: PickUp;
}

const COLUMNS: readonly (readonly [heading: string, value: (row: Row) => string | number | null | undefined])[] = [
  ['kind', ({ kind }) => kind],
  ['order', ({ order }) => order],
  ['name', ({ select, pickUp }) => select?.name ?? pickUp?.wish],
  ['note', ({ select, pickUp }) => (select ?? pickUp)?.note],
  ['session', ({ select }) => select?.session],
  ['folder', ({ select }) => select?.folder],
  ['file', ({ select }) => select?.file],
  ['startSeconds', ({ select }) => select && round(select.startSeconds)],
  ['heardSeconds', ({ select, pickUp }) => roundOrNone(select?.heardSeconds ?? pickUp?.lengthSeconds)],
  ['durationSeconds', ({ select, pickUp }) => roundOrNone(select?.durationSeconds ?? pickUp?.lengthSeconds)],
  ['semitones', ({ select }) => select?.semitones],
  ['rights', ({ select }) => select?.rights],
  ['id', ({ select, pickUp }) => (select ?? pickUp)?.id],
  ['accentSeconds', ({ pickUp }) => roundOrNone(pickUp?.accentSeconds)],
  ['tempoBpm', ({ pickUp }) => pickUp?.tempoBpm],
  ['metre', ({ pickUp }) => pickUp?.metre],
  ['figures', ({ pickUp }) => pickUp?.figures.join('; ')],
  ['nearest', ({ pickUp }) => pickUp?.nearest],
  ['askedOn', ({ pickUp }) => pickUp?.askedOn],
];

const round = (seconds: number): number => Number(seconds.toFixed(6));
const roundOrNone = (seconds: number | null | undefined): number | null => (seconds == null ? null : round(seconds));

/** RFC 4180: CRLF, quotes doubled, a header line; selects first, then pick-ups. */
export function toCsv({ selects, pickUps }: Lists): string {
  const rows: Row[] = [
    ...selects.map((select, at): Row => ({ kind: 'select', order: at + 1, select })),
    ...pickUps.map((pickUp, at): Row => ({ kind: 'pick-up', order: at + 1, pickUp })),
  ];
  const lines = [
    COLUMNS.map(([heading]) => heading),
    ...rows.map((row) => COLUMNS.map(([, value]) => cell(value(row) ?? ''))),
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
  const entries = selects.map((select) => {
    const place = `# sound ${select.id} from ${round(select.startSeconds)} s for ${round(select.durationSeconds)} s`;
    const path = [select.folder, select.file].filter((piece) => piece !== '').join('/');
    return `#EXTINF:${Math.round(select.durationSeconds)},${oneLine(select.name)}\n${place}\n${oneLine(path)}\n`;
  });
  return `#EXTM3U\n${entries.join('')}`;
}
