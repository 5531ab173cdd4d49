/** Figures in words: one way of writing a length, a level, a frequency everywhere on the page. */

/** "none" stands for a value that has no meaning for a sound. */
export const NONE = 'none';

const THIN = '\u2009';
const minus = (text: string): string => text.replace('-', '−');

/** 4 ms · 0.34 s · 6.3 s · 1 min 04 s */
export function seconds(value: number): string {
  if (value > 0 && value < 0.0995) return `${Math.max(1, Math.round(value * 1000))} ms`;
  if (value < 0.9995) return `${value.toFixed(2)} s`;
  if (value < 99.95) return `${value.toFixed(1)} s`;
  const whole = Math.round(value);
  const minutes = Math.floor(whole / 60);
  if (minutes < 60) return `${minutes} min ${String(whole % 60).padStart(2, '0')} s`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')} min`;
}

/** Milliseconds under a second, else seconds, always with its sign. */
export function signedTime(value: number): string {
  const magnitude = Math.abs(value);
  if (magnitude < 0.0005) return '0 ms';
  const sign = value < 0 ? '−' : '+';
  if (Math.round(magnitude * 1000) < 100) return `${sign}${Math.round(magnitude * 1000)} ms`;
  return `${sign}${magnitude.toFixed(magnitude < 10 ? 2 : 1)} s`;
}

export function hertz(value: number): string {
  if (value >= 1000) return `${(value / 1000).toFixed(value >= 10_000 ? 1 : 2)} kHz`;
  return `${value >= 100 ? Math.round(value) : value.toFixed(1)} Hz`;
}

export const decibels = (value: number, unit: string, digits = 1): string => `${minus(value.toFixed(digits))} ${unit}`;

export const semitones = (value: number): string =>
  `${value > 0 ? '+' : ''}${minus(String(Number(value.toFixed(2))))} st`;

export const count = (value: number): string => value.toLocaleString('en-GB');

export const plural = (value: number, one: string, many = `${one}s`): string =>
  `${count(value)} ${value === 1 ? one : many}`;

export const share = (value: number): string => `${Math.round(value * 100)}${THIN}%`;

/** A number with its unit, or "none". */
export const orNone = (value: number | null, write: (value: number) => string): string =>
  value === null ? NONE : write(value);

export const number = (value: number, digits = 2): string => minus(String(Number(value.toFixed(digits))));

/** A hyphen before a figure becomes a minus sign, in text written elsewhere. */
export const trueMinus = (text: string): string => text.replace(/(^|[\s(])-(?=\d)/g, '$1−');

/** A figure and its unit stay on one line, in text written elsewhere. */
export const unbroken = (text: string): string => text.replace(/(\d) (?=(?:s|ms|Hz|kHz|st|dB)\b)/g, '$1\u00a0');
