/** The report: what could not be read, what is wrong with sounds and where, what is twice, what still lacks words. */
import { awaySentence } from '../../shared/away-words.ts';
import type { BuildReport, SoundFault } from '../../shared/report.ts';
import { Shelf } from '../../shared/shelf.ts';
import type { Place, Severity } from '../../shared/sound.ts';
import { archive, byId, make } from './dom.ts';
import { count, plural, seconds, trueMinus } from './format.ts';
import { startReadingPage } from './reading-page.ts';
import { bytesOf, take } from './receive.ts';
import { writeLink } from './state.ts';

const SEVERITIES: readonly Severity[] = ['serious', 'warning', 'note'];
/** More rows than this stay folded until wanted. */
const SHOWN_ROWS = 200;

export function startReport(): void {
  startReadingPage('Report');
  const main = byId('report');
  const heading = make('h1', {}, 'Report');
  const report = take<BuildReport>('report');
  if (!report) {
    main.replaceChildren(heading, ...missing('data/report.js'));
    return;
  }
  main.replaceChildren(heading, ...content(report, namesFrom(take<string>('shelf'))));
  byId('report-line').textContent = `${plural(report.sounds, 'sound')}, ${seconds(report.seconds)}`;
}

export function missing(file: string): HTMLElement[] {
  return [
    make('p', { class: 'empty-line' }, `${file} is missing.`),
    make(
      'p',
      {},
      'Copy the whole folder, not this page alone: it needs the folders data and previews beside it. If they are there, build the site again.',
    ),
  ];
}

type NameOf = (id: string) => string;

function namesFrom(packed: string | undefined): NameOf {
  if (packed === undefined) return (id) => id;
  try {
    const shelf = new Shelf(bytesOf(packed));
    return (id) => {
      const index = shelf.find(id);
      return index < 0 ? id : shelf.text('name', index) || id;
    };
  } catch {
    return (id) => id;
  }
}

function content(report: BuildReport, nameOf: NameOf): HTMLElement[] {
  const away = report.away ?? [];
  const sections = [
    section(
      'away',
      'Away',
      away.length,
      'Could not be looked into at the last build. Their sounds stay here, marked as away, as they were last measured.',
      () =>
        table(
          ['Folder'],
          away.map((place) => row(make('span', {}, path(place), make('br'), archive(awaySentence(place))))),
        ),
    ),
    section(
      'unreadable',
      'Files that could not be read',
      report.problems.length,
      'What was found, what was expected, and what puts it right. All other files are in.',
      () =>
        table(
          ['File', 'Found', 'Expected', 'Remedy'],
          report.problems.map(({ folder, file, found, expected, remedy }) =>
            row(path({ folder, file }), archive(found), archive(expected), archive(remedy)),
          ),
        ),
    ),
    section(
      'faults',
      'Faults',
      report.faults.length,
      'Most serious first. A time leads to the place in the sound.',
      () => faultTable(report.faults),
    ),
    section(
      'slates',
      'Taken for spoken slates',
      report.slates.length,
      'A voice before a take, played with it but not measured. Listen: where it is none, the Sound pane says what to write into the catalogue.',
      () =>
        table(
          ['Before', 'File', 'From', 'To'],
          report.slates.map(({ id, name, place, endSeconds }) =>
            row(
              link(id, name, 0),
              path(place),
              document.createTextNode(seconds(place.startSeconds)),
              document.createTextNode(seconds(endSeconds)),
            ),
          ),
        ),
    ),
    section(
      'warnings',
      'Warnings',
      report.warnings.length,
      'These files are in, but something is not as it seems: in what they say, or in where links lead.',
      () =>
        table(
          ['File', 'What'],
          report.warnings.map(({ folder, file, message }) => row(path({ folder, file }), archive(message))),
        ),
    ),
    section(
      'duplicates',
      'The same audio in several places',
      report.duplicates.length,
      'Each is one sound here; tags and selects hold for all its files.',
      () =>
        table(
          ['Sound', 'Files'],
          report.duplicates.map(({ id, name, places }) =>
            row(link(id, name), make('ul', {}, ...places.map((place) => make('li', {}, path(place))))),
          ),
        ),
    ),
    section(
      'near-duplicates',
      'Likely one take in several versions',
      report.nearDuplicates.length,
      'Alike in length, colour and movement: another format, level or copy. Keep the best, rest the others.',
      () =>
        table(
          ['Sounds', 'Files'],
          report.nearDuplicates.map(({ sounds }) =>
            row(
              make('ul', {}, ...sounds.map(({ id, name }) => make('li', {}, link(id, name)))),
              make('ul', {}, ...sounds.map(({ place }) => make('li', {}, path(place)))),
            ),
          ),
        ),
    ),
    section(
      'untagged',
      'Without tags',
      report.untagged.length,
      'These can be found by name, folder, length and sound only.',
      () => soundList(report.untagged, nameOf),
    ),
    section(
      'rights',
      'Rights not stated',
      report.rightsMissing.length,
      'Nobody can tell from the archive whether these may be used.',
      () => soundList(report.rightsMissing, nameOf),
    ),
  ].filter((part) => part !== null);
  const read = `${count(report.filesRead)} of ${plural(report.filesFound, 'file')} read`;
  const summary = make(
    'p',
    {},
    `${read}, ${plural(report.sounds, 'sound')}, ${seconds(report.seconds)} in all. `,
    report.folders.length > 0 ? (report.folders.length === 1 ? 'Folder: ' : 'Folders: ') : null,
    report.folders.length > 0 ? archive(report.folders.join(', ')) : null,
  );
  if (report.sounds === 0 && sections.length === 0)
    return [summary, make('p', { class: 'empty-line' }, 'The archive is empty: no sounds, and nothing to report.')];
  if (sections.length === 0)
    return [
      summary,
      make(
        'p',
        { class: 'empty-line' },
        'All is well: every file was read, every sound is sound, tagged, and has its rights.',
      ),
    ];
  const contents = make(
    'ul',
    { class: 'contents', 'aria-label': 'On this page' },
    ...sections.map(({ id, title, tally }) => make('li', {}, make('a', { href: `#${id}` }, title), ` ${tally}`)),
  );
  return [summary, contents, ...sections.map(({ element }) => element)];
}

function section(
  id: string,
  title: string,
  tally: number,
  about: string,
  body: () => HTMLElement,
): { id: string; title: string; tally: number; element: HTMLElement } | null {
  if (tally === 0) return null;
  const heading = make('h2', { id }, title, make('span', { class: 'tally' }, String(tally)));
  return {
    id,
    title,
    tally,
    element: make('section', { 'aria-labelledby': id }, heading, make('p', {}, about), body()),
  };
}

interface Row {
  cells: readonly Node[];
  severity?: Severity;
}

const row = (...cells: Node[]): Row => ({ cells });

function table(headings: readonly string[], rows: readonly Row[]): HTMLElement {
  const make1 = ({ cells, severity }: Row): HTMLElement =>
    make(
      'tr',
      { 'data-severity': severity },
      // Where rows stand as blocks on a narrow screen, each cell says its heading itself.
      ...cells.map((cell, at) =>
        make('td', { class: severity && at === 0 ? 'severity' : undefined, 'data-heading': headings[at] }, cell),
      ),
    );
  const body = make('tbody', {}, ...rows.slice(0, SHOWN_ROWS).map(make1));
  const whole = make(
    'table',
    {},
    make('thead', {}, make('tr', {}, ...headings.map((heading) => make('th', { scope: 'col' }, heading)))),
    body,
  );
  if (rows.length <= SHOWN_ROWS) return whole;
  const more = make('button', { type: 'button' }, `Show all ${rows.length}`);
  more.addEventListener('click', () => {
    body.append(...rows.slice(SHOWN_ROWS).map(make1));
    more.remove();
  });
  return make('div', {}, whole, make('p', {}, more));
}

function faultTable(faults: readonly SoundFault[]): HTMLElement {
  const ordered = [...faults].sort((a, b) => SEVERITIES.indexOf(a.severity) - SEVERITIES.indexOf(b.severity));
  return table(
    ['Severity', 'Sound', 'What', 'Where'],
    ordered.map(({ id, name, place, severity, seconds: at, message }) => ({
      severity,
      cells: [
        document.createTextNode(severity),
        make('span', {}, link(id, name), make('br'), make('span', { class: 'sub' }, path(place))),
        archive(trueMinus(message)),
        at === null ? document.createTextNode('whole sound') : link(id, `at ${seconds(at)}`, at),
      ],
    })),
  );
}

function soundList(ids: readonly string[], nameOf: NameOf): HTMLElement {
  const item = (id: string): HTMLElement => make('li', {}, link(id, nameOf(id)));
  const list = make('ul', { class: 'columns' }, ...ids.slice(0, SHOWN_ROWS).map(item));
  if (ids.length <= SHOWN_ROWS) return list;
  const more = make('button', { type: 'button' }, `Show all ${ids.length}`);
  more.addEventListener('click', () => {
    list.append(...ids.slice(SHOWN_ROWS).map(item));
    more.remove();
  });
  return make('div', {}, list, make('p', {}, more));
}

function link(id: string, words: string, atSeconds: number | null = null): HTMLElement {
  const hash = writeLink({
    question: '',
    shape: null,
    soundId: id,
    alikeIds: [],
    speed: null,
    alsoAt: [],
    pane: 'sound',
    mapView: null,
    atSeconds,
  });
  return make('a', { href: `index.html${hash}`, class: 'name' }, archive(words));
}

const path = ({ folder, file }: Pick<Place, 'folder' | 'file'>): HTMLElement =>
  archive([folder, file].filter((piece) => piece !== '').join('/'));
