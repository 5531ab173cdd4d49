import { isMemoryError } from './memory-error.ts';

/**
 * Runs one synchronous call of a WebAssembly decoder. The decoders print every damaged packet with console.error, and
 * some go on for ever over an error that does not pass; this keeps the terminal clean and ends such a loop.
 * Returns null when the call failed over what it was given.
 */
export function quietly<Result>(call: () => Result): Result | null {
  const print = console.error;
  let errors = 0;
  console.error = () => {
    errors++;
    if (errors > MOST_ERRORS) throw new Error('The decoder found nothing but errors.');
  };
  try {
    return call();
  } catch (error) {
    passMemoryErrors(error);
    return null;
  } finally {
    console.error = print;
  }
}

const MOST_ERRORS = 32;

/** Rethrows what says nothing of the content: V8 found no memory for a buffer (in its own words). */
export function passMemoryErrors(error: unknown): void {
  if (isMemoryError(error)) throw error;
}
