/**
 * The question box: text that becomes chips, and chips that become text again.
 *
 * What was typed is searched at once. A piece turns into a chip on a comma or Enter, and a number or trait also when the
 * next word has been typed after it; plain words stay text until then.
 */
import type { Chip } from '../../shared/query/chips.ts';
import type { Asking } from './asking.ts';
import { archive, byId, make, onClick } from './dom.ts';
import { trueMinus } from './format.ts';
import type { OtherChip } from './other-chip.ts';
import { questionText, type Store } from './state.ts';

/** Words after which a length or accent may still go on: "2 bars at", "accent on". */
const GOES_ON = new Set([
  'at',
  'in',
  'on',
  'of',
  'to',
  'and',
  'or',
  'with',
  'around',
  'about',
  'by',
  'up',
  'than',
  'the',
  'a',
  'bpm',
  'st',
]);
const SHORT_DETAIL = 14;

export class Question {
  private readonly store: Store;
  private readonly asking: Asking;
  readonly input = byId('ask', HTMLInputElement);
  private readonly list = byId('chips');
  private readonly settled: () => void;
  private readonly others: () => readonly OtherChip[];
  private readonly example = this.input.placeholder;

  /**
   * `settled` is called when a piece was taken, added or removed: a state worth going back to. `others` gives the chips
   * beside the text; `draw` shows them anew.
   */
  constructor(store: Store, asking: Asking, settled: () => void, others: () => readonly OtherChip[] = () => []) {
    this.store = store;
    this.asking = asking;
    this.settled = settled;
    this.others = others;
    this.input.addEventListener('input', () => this.typed());
    this.input.addEventListener('keydown', (event) => this.key(event));
    this.input.addEventListener('blur', () => this.takeTraits(true));
    store.on(['pieces', 'query'], () => this.draw());
    store.on(['typed'], ({ typed }) => {
      if (this.input.value !== typed) this.input.value = typed;
    });
  }

  focus(): void {
    this.input.focus();
    this.input.setSelectionRange(this.input.value.length, this.input.value.length);
  }

  /** Adds a piece at the end; one that is there already is not said twice. */
  add(piece: string): void {
    const { pieces } = this.store.get();
    if (!pieces.includes(piece)) this.setPieces([...pieces, piece]);
    this.settled();
  }

  /**
   * Puts `piece` in the place of those whose chips `matches` (or removes them when it is empty), also out of what is
   * still text in the box.
   */
  replace(matches: (chip: Chip) => boolean, piece: string): void {
    this.takeAll();
    const { pieces } = this.store.get();
    const kept: string[] = [];
    let at = -1;
    for (const old of pieces) {
      if (!this.asking.parse(old).chips.some(matches)) kept.push(old);
      else if (at < 0) at = kept.length;
    }
    if (piece !== '') kept.splice(at < 0 ? kept.length : at, 0, piece);
    this.setPieces(kept);
    this.settled();
  }

  /**
   * Writes every piece anew: `rewrite` gives the text for a piece's chips, or null to leave it as it is. When nothing
   * was rewritten, `otherwise` is added.
   */
  rewrite(rewrite: (chips: readonly Chip[]) => string | null, otherwise: string): void {
    this.takeAll();
    const { pieces } = this.store.get();
    const written = pieces.map((piece) => rewrite(this.asking.parse(piece).chips));
    const changed = pieces.map((piece, at) => written[at] ?? piece);
    this.setPieces(written.every((text) => text === null) ? [...changed, otherwise] : changed);
    this.settled();
  }

  /** Everything typed becomes chips. */
  takeAll(): void {
    const { typed, pieces } = this.store.get();
    if (typed.trim() === '') return;
    this.setPieces([...pieces, typed], '');
    this.settled();
  }

  clear(): void {
    this.store.set({ pieces: [], typed: '' });
    this.settled();
  }

  /**
   * Numbers and traits become chips, words stay. While typing goes on (`whole` false) only what cannot go on any more:
   * a trait with a further whole word behind it.
   */
  takeTraits(whole: boolean): void {
    const { typed, pieces } = this.store.get();
    const traits = this.asking
      .parse(typed)
      .chips.filter(({ kind, span }) => kind !== 'word' && (whole || isOver(typed, span[1])));
    if (traits.length === 0) return;
    let rest = typed;
    for (const { span } of [...traits].reverse()) rest = rest.slice(0, span[0]) + rest.slice(span[1]);
    rest = rest
      .replace(/\s*[,;]\s*/g, ' ')
      .replace(/\s{2,}/g, ' ')
      .replace(/^\s+/, '');
    this.setPieces([...pieces, ...traits.map(({ span }) => typed.slice(span[0], span[1]))], rest);
    if (whole) this.settled();
  }

  private typed(): void {
    this.store.set({ typed: this.input.value });
    if (/[,;\n]\s*$/.test(this.input.value)) this.takeAll();
    else if (this.input.selectionStart === this.input.value.length) this.takeTraits(false);
  }

  private key(event: KeyboardEvent): void {
    if (event.key === 'Enter' && !event.isComposing) {
      event.preventDefault();
      this.takeAll();
    } else if (event.key === 'Backspace' && this.input.value === '') {
      const { pieces } = this.store.get();
      const other = this.others().at(-1);
      if (!other && pieces.length === 0) return;
      event.preventDefault();
      if (other) this.removeOther(other);
      else {
        this.setPieces(pieces.slice(0, -1));
        this.settled();
      }
    }
  }

  /** One piece a chip, as the whole question is understood: a tempo said beside a length belongs to it. */
  private setPieces(pieces: readonly string[], typed = this.store.get().typed): void {
    const text = questionText({ pieces, typed: '' });
    this.store.set({ pieces: this.asking.pieces(text), typed });
  }

  draw(): void {
    const { pieces } = this.store.get();
    const others = this.others();
    const focused = this.list.contains(document.activeElement);
    this.input.placeholder = pieces.length + others.length === 0 ? this.example : '';
    this.list.replaceChildren(
      ...pieces.map((piece, at) => this.chip(piece, at)),
      ...others.map((other) => this.otherChip(other)),
    );
    if (focused) this.input.focus();
  }

  private chip(piece: string, at: number): HTMLElement {
    const chips = this.chipsOf(piece, at);
    const label = trueMinus(chips.map((chip) => chip.label).join(', ') || piece);
    const detail = chips
      .map((chip) => chip.detail)
      .filter((text) => text !== '')
      .join(', ');
    const shown = detail.length <= SHORT_DETAIL ? detail : '';
    return chipElement(chips[0]?.kind ?? 'word', label, detail, shown, {
      edit: () => this.edit(at),
      remove: () => {
        this.setPieces(this.store.get().pieces.filter((_, other) => other !== at));
        this.input.focus();
        this.settled();
      },
    });
  }

  private otherChip(other: OtherChip): HTMLElement {
    const { kind, label, detail, edit } = other;
    return chipElement(kind, label, detail, detail, { edit, remove: () => this.removeOther(other) });
  }

  private removeOther(other: OtherChip): void {
    other.remove();
    this.input.focus();
    this.settled();
  }

  /** The chips of one piece as the whole question counts them: "2 bars" knows the tempo of another piece. */
  private chipsOf(piece: string, at: number): Chip[] {
    const { pieces, query } = this.store.get();
    const start = pieces.slice(0, at).reduce((sum, other) => sum + other.length + 2, 0);
    const within = query.chips.filter(({ span }) => span[0] >= start && span[1] <= start + piece.length);
    return within.length > 0 ? within : this.asking.parse(piece).chips;
  }

  /** A chip goes back to being text, selected, ready to be written over. */
  private edit(at: number): void {
    const { pieces, typed } = this.store.get();
    const piece = pieces[at];
    const others = pieces.filter((_, other) => other !== at);
    this.setPieces([...others, typed], piece);
    this.input.focus();
    this.input.setSelectionRange(0, piece.length);
  }
}

function chipElement(
  kind: string,
  label: string,
  detail: string,
  shown: string,
  { edit, remove }: { edit: () => void; remove: () => void },
): HTMLElement {
  const text = make(
    'button',
    { type: 'button', class: 'text', title: detail || undefined },
    make('span', { class: 'unseen' }, 'Edit '),
    archive(label),
    shown ? ' ' : null,
    shown ? make('span', { class: 'detail' }, shown) : null,
  );
  onClick(text, edit);
  const cross = make('button', { type: 'button', class: 'remove', 'aria-label': `Remove ${label}` }, '×');
  onClick(cross, remove);
  return make('li', { class: 'chip', 'data-kind': kind }, text, cross);
}

/** True when a whole further word stands behind `end` that cannot belong to what stood before it. */
function isOver(text: string, end: number): boolean {
  const next = /^[\s]+(\S+)\s/.exec(text.slice(end));
  return next !== null && !GOES_ON.has(next[1].toLowerCase()) && !/^[\d+\-−.]/.test(next[1]);
}
