/**
 * Runs one synchronous call of a WebAssembly decoder. The decoders print every damaged packet with console.error, and
 * some go on for ever over an error that does not pass; this keeps the terminal clean and ends such a loop.
 * Returns null when the call failed.
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
  } catch {
    return null;
  } finally {
    console.error = print;
  }
}

const MOST_ERRORS = 32;
