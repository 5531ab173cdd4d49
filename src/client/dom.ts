/** Small helpers for building the page. Archive text only ever enters as a text node. */

type Kind<T extends Element> = abstract new (...args: never[]) => T;

/** The element with this id, checked to be of the wanted class. */
export function byId<T extends Element = HTMLElement>(id: string, kind?: Kind<T>): T {
  const found = document.getElementById(id);
  if (!found || (kind && !(found instanceof kind))) throw new Error(`The page lacks #${id}.`);
  return found as unknown as T;
}

type Child = Node | string | null;

export interface Attributes {
  [attribute: string]: string | number | boolean | undefined;
}

/** An element with attributes and children; text children become text nodes, never markup. */
export function make<K extends keyof HTMLElementTagNameMap>(
  tag: K,
  attributes: Attributes = {},
  ...children: Child[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === undefined || value === false) continue;
    element.setAttribute(name, value === true ? '' : String(value));
  }
  for (const child of children) if (child !== null) element.append(child);
  return element;
}

/** Text from the archive, isolated so that right-to-left marks in it cannot reorder what stands beside it. */
export function archive(text: string, className = 'archive'): HTMLElement {
  return make('bdi', { class: className }, text);
}

export function onClick(element: HTMLElement, act: (event: MouseEvent) => void): void {
  element.addEventListener('click', act);
}

export function setPressed(button: HTMLElement, pressed: boolean): void {
  button.setAttribute('aria-pressed', String(pressed));
}

/** A canvas sized to its box in device pixels; returns a context that draws in CSS pixels, or null when it has no size. */
export function contextOf(
  canvas: HTMLCanvasElement,
  width: number,
  height: number,
  settings?: CanvasRenderingContext2DSettings,
): CanvasRenderingContext2D | null {
  const ratio = window.devicePixelRatio || 1;
  const [pixelsWide, pixelsHigh] = [Math.round(width * ratio), Math.round(height * ratio)];
  if (pixelsWide < 1 || pixelsHigh < 1) return null;
  if (canvas.width !== pixelsWide || canvas.height !== pixelsHigh) {
    canvas.width = pixelsWide;
    canvas.height = pixelsHigh;
  }
  const context = canvas.getContext('2d', settings);
  if (!context) return null;
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  context.clearRect(0, 0, width, height);
  return context;
}

/** Does one step after another whenever the page has nothing else to do; never before anything else. */
export function inIdleMoments(steps: Iterator<void>): void {
  const step = () => {
    if (!steps.next().done) later();
  };
  // Safari has no idle callback.
  const later = () => (window.requestIdleCallback ? window.requestIdleCallback(step) : window.setTimeout(step, 200));
  later();
}
