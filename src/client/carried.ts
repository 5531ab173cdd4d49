/** Values out of a file that somebody brings in: nothing about them is certain. */

export const text = (value: unknown): string => (typeof value === 'string' ? value : '');

export const figureOrNull = (value: unknown): number | null =>
  typeof value === 'number' && Number.isFinite(value) ? value : null;

export const figure = (value: unknown): number => figureOrNull(value) ?? 0;

/** Line breaks of any kind become spaces. */
export const oneLine = (value: string): string => value.replace(/[\r\n\u0085\u2028\u2029]+/g, ' ').trim();
