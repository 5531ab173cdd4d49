/** Selects and pick-ups as this browser keeps them: the same for all its windows, and never losing what it cannot read. */
import { mergePickUps } from './pick-up-list.ts';
import { fromJson, type Lists, merge, toJson, tooMany } from './select-list.ts';

const KEY = 'takeshelf.selects.1';
/** Where a text goes that stood under KEY and could not be read, so that the next change does not write over it. */
const ASIDE_KEY = `${KEY}.unreadable`;

const NOTHING: Lists = { selects: [], pickUps: [] };

export class KeptLists {
  private lists: Lists = NOTHING;
  private readonly listeners: (() => void)[] = [];
  private isKept = true;

  constructor() {
    this.lists = this.read();
    // Another window of the same page may add to them; none of that may be lost.
    window.addEventListener('storage', (event) => {
      if (event.key !== KEY || event.newValue === null) return;
      this.lists = this.read();
      this.tell();
    });
  }

  get(): Lists {
    return this.lists;
  }

  /** False where the browser refuses to keep anything: then they last as long as the page. */
  get kept(): boolean {
    return this.isKept;
  }

  onChange(act: () => void): void {
    this.listeners.push(act);
  }

  change(patch: Partial<Lists>): void {
    this.changeQuietly(patch);
    this.tell();
  }

  /** Without telling anybody: while a note is being typed its field must stay as it is. */
  changeQuietly(patch: Partial<Lists>): void {
    this.lists = { ...this.lists, ...patch };
    this.isKept = keep(this.lists);
  }

  /** What a file brings in joins what is here; throws a sentence, and changes nothing, where that would be too much. */
  add({ selects, pickUps }: Lists): void {
    const together: Lists = {
      selects: merge(this.lists.selects, selects),
      pickUps: mergePickUps(this.lists.pickUps, pickUps),
    };
    const refusal = tooMany(together);
    if (refusal !== null) throw new Error(refusal);
    if (this.isKept && !keep(together)) {
      throw new Error(
        'Nothing was brought in: the browser has no room to keep it. Divide the list, or remove some first.',
      );
    }
    this.change(together);
  }

  private read(): Lists {
    let stored: string | null = null;
    try {
      stored = localStorage.getItem(KEY);
      return stored === null ? NOTHING : fromJson(stored);
    } catch {
      this.isKept = stored !== null && setAside(stored);
      return this.lists;
    }
  }

  private tell(): void {
    for (const act of this.listeners) act();
  }
}

/** False where the browser refuses. */
function keep(lists: Lists): boolean {
  try {
    localStorage.setItem(KEY, toJson(lists));
    return true;
  } catch {
    return false;
  }
}

function setAside(stored: string): boolean {
  try {
    localStorage.setItem(ASIDE_KEY, stored);
    return true;
  } catch {
    return false;
  }
}
