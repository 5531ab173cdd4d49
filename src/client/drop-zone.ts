/**
 * Where a sound file is dropped or chosen. A file dropped anywhere on the page is taken too, and never opened in the page's
 * place, save where another part of the page takes files itself.
 */
import { make } from './dom.ts';

/** Parts of the page that take dropped files themselves. */
const TAKEN_ELSEWHERE = '#pane-cue';

/** The visible zone: a file input under words, so that it works by keyboard, by click and by drop. */
export function dropZone(take: (file: File) => void): HTMLElement {
  const input = make('input', {
    type: 'file',
    id: 'sound-file',
    class: 'unseen',
    accept: 'audio/*,.wav,.wave,.bwf,.aif,.aiff,.aifc,.flac,.mp3,.ogg,.oga,.opus,.m4a',
  });
  input.addEventListener('change', () => {
    const file = input.files?.[0];
    // The same file can be chosen again, after it was changed.
    input.value = '';
    if (file) take(file);
  });
  return make('label', { class: 'drop-zone', for: 'sound-file' }, input, 'Drop a sound here, or choose a file');
}

/** Files dropped anywhere else than on parts that take them are handed to `take`; several at once give the first. */
export function takeDrops(take: (file: File, others: number) => void): void {
  const { body } = document;
  const isElsewhere = ({ target }: Event): boolean =>
    target instanceof Element && target.closest(TAKEN_ELSEWHERE) !== null;
  const carriesFiles = ({ dataTransfer }: DragEvent): boolean => dataTransfer?.types.includes('Files') ?? false;
  const leave = () => body.removeAttribute('data-dropping');
  document.addEventListener('dragover', (event) => {
    if (!carriesFiles(event)) return;
    event.preventDefault();
    body.toggleAttribute('data-dropping', !isElsewhere(event));
  });
  document.addEventListener('dragleave', (event) => {
    // Without a related target the pointer has left the window.
    if (event.relatedTarget === null) leave();
  });
  document.addEventListener('drop', (event) => {
    if (!carriesFiles(event)) return;
    leave();
    event.preventDefault();
    const files = event.dataTransfer?.files;
    const file = files?.[0];
    if (file && files && !isElsewhere(event)) take(file, files.length - 1);
  });
}
