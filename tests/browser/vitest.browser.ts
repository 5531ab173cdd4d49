import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    root: new URL('../..', import.meta.url).pathname,
    include: ['tests/browser/**/*.test.ts'],
    globalSetup: ['tests/browser/global-setup.ts'],
    testTimeout: 30_000,
    hookTimeout: 60_000,
    // One browser at a time: the timings below would otherwise measure the neighbours.
    fileParallelism: false,
  },
});
