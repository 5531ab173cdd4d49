/** Thread that renders the files it is handed, one at a time. */
import { parentPort } from 'node:worker_threads';
import { type RenderTask, renderTask } from './render-pool.ts';

const port = parentPort;
if (port === null) throw new Error('render-worker.ts runs as a worker thread only.');
port.on('message', async (task: RenderTask) => {
  port.postMessage(await renderTask(task));
});
