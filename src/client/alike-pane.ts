/** Nearest by ear to the sound in hand, or to several together, with four weights and directions to go in. */
import {
  DIRECTIONS,
  type Direction,
  differences,
  EQUAL_WEIGHTS,
  type LikenessSource,
  type LikenessWeights,
  nearestTo,
  sourceOf,
} from '../../shared/query/likeness.ts';
import { VECTOR_GROUPS, type VectorGroup } from '../../shared/vectors.ts';
import { drawBlade } from './blade.ts';
import { archive, contextOf, make, onClick, setPressed } from './dom.ts';
import { number, seconds } from './format.ts';
import type { Shapes } from './shapes.ts';
import type { Store } from './state.ts';
import { colours } from './theme.ts';

const SHOWN = 24;
const GROUP_WORDS: Record<VectorGroup, string> = {
  timbre: 'Colour',
  movement: 'Movement',
  pitch: 'Pitch',
  length: 'Length',
};
const BLADE_WIDTH = 110;
const BLADE_HEIGHT = 30;

export class AlikePane {
  private readonly pane: HTMLElement;
  private readonly store: Store;
  private readonly shapes: Shapes;
  private readonly choose: (sound: number) => void;
  private readonly weights: LikenessWeights = { ...EQUAL_WEIGHTS };
  private readonly directions = new Set<Direction>();
  private readonly heading = make('h2');
  private readonly asked = make('ul', { class: 'asked', 'aria-label': 'Asked from' });
  private readonly add = make('button', { type: 'button', class: 'add-asked' });
  private readonly list = make('ul', { 'aria-label': 'Nearest sounds' });
  private readonly controls: HTMLElement;
  private sound = -1;

  constructor(pane: HTMLElement, store: Store, shapes: Shapes, choose: (sound: number) => void) {
    this.pane = pane;
    this.store = store;
    this.shapes = shapes;
    this.choose = choose;
    this.controls = make('div', {}, this.weightSliders(), this.directionButtons());
    onClick(this.add, () => {
      this.keep(this.sound);
      (this.asked.querySelector<HTMLElement>('li:last-child button') ?? this.pane).focus();
    });
  }

  show(sound: number): void {
    this.sound = sound;
    if (sound < 0 && this.kept.length === 0) {
      this.pane.replaceChildren(
        make('p', { class: 'empty-line' }, 'No sound in hand.'),
        make('p', { class: 'quiet' }, 'Choose one; what sounds most like it stands here.'),
      );
      return;
    }
    this.head();
    this.pane.replaceChildren(this.heading, this.asked, this.add, this.controls, this.list);
    this.fill();
  }

  /** Asks from this sound too, from now on; says what that came to. */
  keep(sound: number): string {
    if (sound < 0) return 'No sound in hand to ask from.';
    if (!this.kept.includes(sound)) this.store.set({ alikeFrom: [...this.kept, sound] });
    const others = this.kept.length - 1;
    return others === 0
      ? 'Alike now keeps asking from this sound.'
      : `Alike now asks from this sound and ${others === 1 ? 'one other' : `${others} others`}.`;
  }

  private leave(sound: number): void {
    this.store.set({ alikeFrom: this.kept.filter((other) => other !== sound) });
    (this.asked.querySelector('button') ?? this.add).focus();
  }

  /** What was kept to ask from; empty where the pane follows the sound in hand. */
  private get kept(): readonly number[] {
    return this.store.get().alikeFrom;
  }

  private from(): readonly number[] {
    return this.kept.length > 0 ? this.kept : [this.sound];
  }

  private head(): void {
    const from = this.from();
    if (from.length === 1) this.heading.replaceChildren('Alike to ', archive(this.shapes.name(from[0])));
    else this.heading.replaceChildren(`Alike to these ${from.length} together`);
    this.asked.hidden = this.kept.length === 0;
    this.asked.replaceChildren(...this.kept.map((sound) => this.askedRow(sound)));
    this.add.hidden = this.sound < 0 || this.kept.includes(this.sound);
    if (this.kept.length === 0) this.add.replaceChildren('Keep asking from it', make('kbd', {}, 'a'));
    else this.add.replaceChildren('Ask from ', archive(this.shapes.name(this.sound)), ' too', make('kbd', {}, 'a'));
  }

  private askedRow(sound: number): HTMLElement {
    const name = this.shapes.name(sound);
    const open = make('button', { type: 'button', class: 'open' }, archive(name));
    const remove = make('button', { type: 'button', class: 'remove', 'aria-label': `No longer ask from ${name}` }, '×');
    onClick(open, () => this.choose(sound));
    onClick(remove, () => this.leave(sound));
    return make('li', {}, open, remove);
  }

  private fill(): void {
    const from = sourceOf(this.shapes.shelf, this.from());
    const near = nearestTo(this.shapes.shelf, from, SHOWN, this.weights, [...this.directions]);
    if (near.length === 0) {
      const why =
        from.sounds.length === 0
          ? 'Nothing is heard in this sound, so that no other is like it.'
          : 'No sound lies that way. Take a direction back.';
      this.list.replaceChildren(make('li', { class: 'quiet' }, why));
      return;
    }
    this.list.replaceChildren(...near.map(({ index, distance }) => make('li', {}, this.row(index, distance, from))));
  }

  private row(index: number, distance: number, from: LikenessSource): HTMLElement {
    const canvas = make('canvas', { 'aria-hidden': 'true' });
    const context = contextOf(canvas, BLADE_WIDTH, BLADE_HEIGHT);
    const longest = Math.max(0.01, ...[index, ...from.sounds].map((sound) => this.shapes.duration(sound)));
    const palette = colours();
    const width = (this.shapes.duration(index) / longest) * (BLADE_WIDTH - 4);
    if (context) {
      const box = { x: 2, y: 17, width, height: 20, wedge: 6 };
      drawBlade(context, this.shapes.of(index), box, { ink: palette.ink, ground: palette.sheet });
    }
    const words = [seconds(this.shapes.heardSeconds(index)), ...differences(this.shapes.shelf, from, index)];
    const button = make(
      'button',
      { type: 'button', class: 'near', title: `Distance ${number(distance)} (0 the same, about 1 as far as chance)` },
      make(
        'span',
        {},
        make('span', { class: 'name' }, archive(this.shapes.name(index))),
        make('span', { class: 'sub' }, words.join(' · ')),
      ),
      canvas,
    );
    onClick(button, () => this.choose(index));
    return button;
  }

  private weightSliders(): HTMLElement {
    const box = make('div', { class: 'weights', role: 'group', 'aria-label': 'What likeness goes by' });
    for (const group of VECTOR_GROUPS) {
      const id = `weight-${group}`;
      const input = make('input', { id, type: 'range', min: 0, max: 3, step: 0.25, value: this.weights[group] });
      const output = make('output', { for: id }, '×1');
      input.addEventListener('input', () => {
        this.weights[group] = Number(input.value);
        output.textContent = `×${number(Number(input.value))}`;
        input.setAttribute('aria-valuetext', `${number(Number(input.value))} times`);
        this.fill();
      });
      box.append(make('label', { for: id, class: 'quiet' }, GROUP_WORDS[group]), input, output);
    }
    return box;
  }

  private directionButtons(): HTMLElement {
    const box = make('div', { class: 'directions', role: 'group', 'aria-label': 'Only those that are' });
    for (const direction of DIRECTIONS) {
      const button = make('button', { type: 'button', 'aria-pressed': 'false' }, direction);
      onClick(button, () => {
        if (!this.directions.delete(direction)) this.directions.add(direction);
        setPressed(button, this.directions.has(direction));
        this.fill();
      });
      box.append(button);
    }
    return box;
  }
}
