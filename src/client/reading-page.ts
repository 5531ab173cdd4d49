/** What pages that are only read have in common: day and night, the dialog, a key back to Find. */
import { byId } from './dom.ts';
import { startKeys } from './keys.ts';
import { startTheme } from './theme.ts';

/** `name` heads the page's keys in the dialog. */
export function startReadingPage(name: string): void {
  const nextTheme = startTheme(byId('theme'));
  const dialog = byId('keys', HTMLDialogElement);
  const toFind = () => window.location.assign('index.html');
  startKeys([
    { group: name, keys: ['f'], shown: ['f'], does: 'to Find', run: toFind },
    { group: name, keys: ['d'], shown: ['d'], does: 'day, night, or as the system has it', run: nextTheme },
    { group: name, keys: ['?'], shown: ['?'], does: 'this list', run: () => dialog.showModal() },
  ]);
}
