/**
 * The folders this program may change, and by what they are known: each carries a mark, a file with a text that only this
 * program writes, and holds names of known forms. Whatever else lies in them was put there by somebody else.
 */
import { TRUTH_MAGIC } from '../demo/truth.ts';

/** Which names below a marked folder are its own; forward slashes. */
export interface OwnNames {
  file(name: string): boolean;
  folder(name: string): boolean;
}

export interface FolderKind {
  /** As one says it in a sentence. */
  called: string;
  /** Name of the file that is the mark. */
  mark: string;
  /** null when the text is no mark of this kind. */
  namesOf(markText: string): OwnNames | null;
  /** Taken away first: a folder without it is on its way out and never put back into use. */
  first: string | null;
}

/** A file under way, beside its place: whose it is, and a random number. */
const UNDER_WAY = /\.(\d+)-[0-9a-f]{8}\.part$/;
/** Left in folders by file managers when somebody looks into them. */
const LITTER = /^(\.DS_Store|Thumbs\.db|desktop\.ini|\.directory)$/;

export const isLitter = (name: string): boolean => LITTER.test(name.slice(name.lastIndexOf('/') + 1));

/** The process that was writing the file or folder of this name; null when the name is that of a finished one. */
export function writerOf(name: string): number | null {
  const match = UNDER_WAY.exec(name);
  return match === null ? null : Number(match[1]);
}

export const finishedName = (name: string): string => name.replace(UNDER_WAY, '');

const SITE_ABOUT = 'A site built by Takeshelf. The next build replaces this folder.';
const CACHE_ABOUT = 'What Takeshelf keeps between builds. Never needed: without it all is computed again.';

/** What the sites had that were written before the mark listed it. */
const FORMER_SITE_FILES =
  /^((index|report|measured)\.html|licences\.txt|takeshelf(-[a-z]+)?\.(js|css)|fonts\/[\w-]+\.woff2|data\/[a-z]+\.js)$/;
const ID = '[0-9a-hjkmnp-tv-z]';
const PREVIEW = new RegExp(`^(${ID}{2})/\\1${ID}{1,14}\\.\\d+\\.js$`);

export const TRUTH_FILE = 'truth.json';
export const LOCK = 'build.lock';

export const SITE: FolderKind = {
  called: 'a site built here',
  mark: 'takeshelf-site.json',
  first: 'index.html',
  namesOf(text) {
    const said = parsed(text);
    if (said?.about !== SITE_ABOUT) return null;
    const listed = stringsOf(said.files);
    const files = new Set(listed);
    const folders = new Set(['previews', 'data', 'fonts', ...foldersOf(listed ?? [])]);
    return {
      file: (name) =>
        name === SITE.mark ||
        name === LOCK ||
        (listed === null ? FORMER_SITE_FILES.test(name) : files.has(name)) ||
        (name.startsWith('previews/') && PREVIEW.test(name.slice('previews/'.length))),
      folder: (name) => folders.has(name) || new RegExp(`^previews/${ID}{2}$`).test(name),
    };
  },
};

/** The mark of a site with these files; previews need no naming, their form is known. */
export const siteMark = (files: readonly string[]): string =>
  `${JSON.stringify({ about: SITE_ABOUT, files: [...files].sort() })}\n`;

const HEX = '[0-9a-f]{6,64}';
const CACHE_FILES = [
  new RegExp(`^takes/[0-9a-f]{2}/${HEX}(-away)?(-${HEX})*\\.(json|audio)$`),
  new RegExp(`^layouts/${HEX}\\.json$`),
  new RegExp(`^page/${HEX}/(complete|site/([\\w-]+/)*[\\w.-]+\\.(html|js|css|txt|woff2))$`),
  // What the program's bundler leaves when it is stopped half-way.
  new RegExp(
    `^page/${HEX}\\.\\d+-[0-9a-f]{8}\\.part/(complete|site/([\\w.-]+/)*[\\w.-]+\\.(html|m?js|css|txt|woff2|json))$`,
  ),
  // Node's own: vVERSION-MACHINE-.../HASH, and the same with six characters while it is written.
  /^compiled\/v[\w.-]+\/[0-9a-f]{8}(\.\w{6})?$/,
];
const CACHE_FOLDERS = new RegExp(
  `^(takes(/[0-9a-f]{2})?|layouts|previews(/${HEX}(/${ID}{2})?)?|page(/${HEX}(\\.\\d+-[0-9a-f]{8}\\.part)?(/site(/[\\w.-]+)*)?)?|compiled(/v[\\w.-]+)?)$`,
);

/** The same whatever the mark says: a cache without one, as older versions left it, is known by these names alone. */
export const CACHE_NAMES: OwnNames = {
  file(name) {
    const whole = finishedName(name);
    if (whole === LOCK || whole === 'files.json' || whole === 'seen.json' || whole === CACHE.mark) return true;
    const preview = new RegExp(`^previews/${HEX}/(.*)$`).exec(whole);
    return (preview !== null && PREVIEW.test(preview[1])) || CACHE_FILES.some((form) => form.test(whole));
  },
  folder: (name) => CACHE_FOLDERS.test(name),
};

export const CACHE: FolderKind = {
  called: 'a cache of builds',
  mark: 'takeshelf-cache.json',
  first: null,
  namesOf: (text) => (parsed(text)?.about === CACHE_ABOUT ? CACHE_NAMES : null),
};

export const CACHE_MARK = `${JSON.stringify({ about: CACHE_ABOUT })}\n`;

/** A demo archive is known by its truth, which lists its files. */
export const DEMO: FolderKind = {
  called: 'a demo archive',
  mark: TRUTH_FILE,
  first: null,
  namesOf(text) {
    const truth = parsed(text);
    if (truth?.magic !== TRUTH_MAGIC || !Array.isArray(truth.files)) return null;
    const paths = truth.files.flatMap((file: unknown) =>
      typeof file === 'object' && file !== null && 'path' in file ? [String(file.path)] : [],
    );
    const files = new Set(paths);
    const folders = foldersOf(paths);
    return {
      file: (name) => finishedName(name) === DEMO.mark || files.has(name),
      folder: (name) => folders.has(name),
    };
  },
};

export const KINDS: readonly FolderKind[] = [SITE, CACHE, DEMO];

function parsed(text: string): Record<string, unknown> | null {
  try {
    const value: unknown = JSON.parse(text);
    return typeof value === 'object' && value !== null ? (value as Record<string, unknown>) : null;
  } catch {
    return null;
  }
}

const stringsOf = (value: unknown): string[] | null =>
  Array.isArray(value) && value.every((name) => typeof name === 'string') ? value : null;

/** Every folder on the way to the files. */
function foldersOf(files: readonly string[]): Set<string> {
  const folders = new Set<string>();
  for (const file of files) {
    for (let at = file.lastIndexOf('/'); at > 0; at = file.lastIndexOf('/', at - 1)) folders.add(file.slice(0, at));
  }
  return folders;
}
