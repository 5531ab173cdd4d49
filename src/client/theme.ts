/** Day, night, or as the system has it; and the colours canvases draw with. */
import { make } from './dom.ts';
import { readSetting, writeSetting } from './settings.ts';

export type Theme = 'system' | 'day' | 'night';
const GLYPHS: Record<Theme, string> = { system: '◐', day: '○', night: '●' };
const WORDS: Record<Theme, string> = { system: 'Auto', day: 'Day', night: 'Night' };
const SPOKEN: Record<Theme, string> = { system: 'as the system has it', day: 'day', night: 'night' };
const THEMES: readonly Theme[] = ['system', 'day', 'night'];
const TOKENS = ['paper', 'sheet', 'ink', 'soft', 'faded', 'line', 'faint', 'edge', 'signal'] as const;

export type Palette = Record<(typeof TOKENS)[number], string>;

let palette: Palette | null = null;
const repaints: (() => void)[] = [];

export function currentTheme(): Theme {
  return THEMES.find((theme) => theme === readSetting('theme')) ?? 'system';
}

/** Before the first paint, so that nobody's dim room is lit by a white page. */
export function applyTheme(theme: Theme = currentTheme()): void {
  if (theme === 'system') document.documentElement.removeAttribute('data-theme');
  else document.documentElement.dataset.theme = theme;
  palette = null;
}

/** The style sheet's colours as they stand now. */
export function colours(): Palette {
  if (palette) return palette;
  const style = getComputedStyle(document.documentElement);
  palette = Object.fromEntries(TOKENS.map((token) => [token, style.getPropertyValue(`--${token}`).trim()])) as Palette;
  return palette;
}

/** Called whenever colours changed. */
export function onRepaint(act: () => void): void {
  repaints.push(act);
}

function repaint(): void {
  palette = null;
  for (const act of repaints) act();
}

export function startTheme(button: HTMLElement): () => void {
  const say = () => {
    const theme = currentTheme();
    button.replaceChildren(
      make('span', { class: 'glyph', 'aria-hidden': 'true' }, GLYPHS[theme]),
      make('span', { class: 'words' }, WORDS[theme]),
    );
    button.setAttribute('aria-label', `${WORDS[theme]}. Light: ${SPOKEN[theme]}, change`);
  };
  const next = () => {
    const theme = THEMES[(THEMES.indexOf(currentTheme()) + 1) % THEMES.length];
    writeSetting('theme', theme);
    applyTheme(theme);
    say();
    repaint();
  };
  button.addEventListener('click', next);
  matchMedia('(prefers-color-scheme: dark)').addEventListener('change', repaint);
  say();
  return next;
}
