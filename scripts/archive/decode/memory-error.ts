/** True when V8 found no memory for a buffer of its own or of WebAssembly: it throws RangeError, told only by its words. */
export const isMemoryError = (error: unknown): boolean =>
  error instanceof RangeError && /allocation failed|could not allocate memory/.test(error.message);
