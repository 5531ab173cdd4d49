/** Adds a sentence unless it is already there: a stream may be read more than once. */
export function warnOnce(warnings: string[], sentence: string): void {
  if (!warnings.includes(sentence)) warnings.push(sentence);
}
