import { defineConfig } from 'vitest/config';

const root = new URL('..', import.meta.url).pathname;

export default defineConfig({
  test: {
    root,
    reporters: ['default', './tests/closing-line.ts'],
    projects: [
      {
        test: {
          root,
          name: 'pure',
          include: ['tests/**/*.test.ts'],
          exclude: ['tests/browser/**', 'tests/build/**', 'node_modules/**'],
          // Only what hangs is ended: a busy machine may take ten times as long.
          testTimeout: 300_000,
          hookTimeout: 300_000,
        },
      },
      {
        // Real builds and a real browser: one file after the other, so that times measured in them mean something.
        test: {
          root,
          name: 'whole',
          include: ['tests/build/**/*.test.ts', 'tests/browser/**/*.test.ts'],
          globalSetup: ['tests/browser/global-setup.ts'],
          fileParallelism: false,
          testTimeout: 300_000,
          hookTimeout: 300_000,
        },
      },
    ],
  },
});
