import { defineConfig } from 'astro/config';
import { pageIntegration } from './scripts/publish/page-integration.ts';

export default defineConfig({
  outDir: 'site',
  build: { format: 'file' },
  compressHTML: true,
  devToolbar: { enabled: false },
  integrations: [pageIntegration()],
  // The workshop watches sources only.
  vite: {
    // Nothing is bundled for the workshop but the page's own files, by ourselves.
    optimizeDeps: { noDiscovery: true },
    server: { watch: { ignored: ['**/.cache/**', '**/site/**', '**/demo-archive/**', '**/.look/**'] } },
  },
});
