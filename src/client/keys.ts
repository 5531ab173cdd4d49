/** Every action by key, and the dialog that lists them. While text is being written only Escape acts. */
import { byId, make, onClick } from './dom.ts';
import { readSetting, writeSetting } from './settings.ts';

export interface KeyAction {
  /** As `KeyboardEvent.key` has it; several mean the same. */
  keys: readonly string[];
  /** How the dialog writes them. */
  shown: readonly string[];
  does: string;
  group: string;
  run: (key: string) => void;
  /** Listed, but handled by the element that has the focus. */
  elsewhere?: boolean;
}

/** Single letters can be switched off (WCAG 2.2, 2.1.4): speech input may set them off by accident. */
export function lettersAreOn(): boolean {
  return readSetting('letters') !== 'off';
}

export function startKeys(actions: readonly KeyAction[]): void {
  const byKey = new Map(
    actions.filter(({ elsewhere }) => !elsewhere).flatMap((action) => action.keys.map((key) => [key, action] as const)),
  );
  document.addEventListener('keydown', (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (document.querySelector('dialog[open]')) return;
    const action = byKey.get(event.key);
    if (!action || belongsToElement(event)) return;
    const printable = event.key.length === 1 && event.key !== ' ';
    if (printable && !lettersAreOn()) return;
    event.preventDefault();
    action.run(event.key);
  });
  startDialog(actions);
}

/** What the focused element does with this key itself. */
function belongsToElement(event: KeyboardEvent): boolean {
  const { target, key } = event;
  if (!(target instanceof Element)) return false;
  if (target.matches('textarea, select, input:not([type="range"], [type="checkbox"], [type="file"])')) {
    return key !== 'Escape' || target.matches('select');
  }
  if (target.matches('input[type="range"], [role="tab"]'))
    return key.startsWith('Arrow') || key === 'Home' || key === 'End' || key === ' ';
  return target.matches('button, a, summary, input, label') && (key === ' ' || key === 'Enter');
}

function startDialog(actions: readonly KeyAction[]): void {
  const dialog = byId('keys', HTMLDialogElement);
  const groups = [...new Set(actions.map(({ group }) => group))];
  byId('key-list').replaceChildren(
    ...groups.map((group) => {
      const list = make('dl');
      for (const action of actions.filter((other) => other.group === group)) {
        const keys = action.shown.flatMap((key, at) => [at > 0 ? ' ' : null, make('kbd', {}, key)]);
        list.append(make('dt', {}, ...keys), make('dd', {}, action.does));
      }
      return make('section', {}, make('h3', {}, group), list);
    }),
  );
  onClick(byId('show-keys'), () => dialog.showModal());
  onClick(byId('close-keys'), () => dialog.close());
  const letters = byId('letters', HTMLInputElement);
  letters.checked = lettersAreOn();
  letters.addEventListener('change', () => writeSetting('letters', letters.checked ? 'on' : 'off'));
}
