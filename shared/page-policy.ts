/**
 * What a page of the site may load and run: nothing but what lies beside it. Archive text can therefore never act. Each page
 * says it of itself, and `serve` says it again in a header.
 */
export const PAGE_POLICY = [
  "default-src 'none'",
  // WebAssembly, and nothing else, may be made by a script: contours are warped eight at a time (contour-kernel.ts).
  "script-src 'self' 'wasm-unsafe-eval'",
  "style-src 'self'",
  "font-src 'self' data:",
  "img-src 'self' data: blob:",
  'media-src blob:',
  // The worker that measures a dropped or sung sound: its text comes with the site, for file:// starts no file as worker.
  'worker-src blob:',
  "base-uri 'none'",
  "form-action 'none'",
].join('; ');
