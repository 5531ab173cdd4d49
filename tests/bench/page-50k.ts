/**
 * From a key to the painted answer over 50,000 sounds, in headless Chromium, beside two plain pages over the same texts in
 * the same browser: one that scans all texts for the words as substrings, one that asks FlexSearch alone. The plain pages
 * answer words only (no lengths, no accents, no slips, no reasons, no order but the shelf's) and paint twenty names.
 * Run: node tests/bench/page-50k.ts [SOUNDS]
 */
import { copyFile, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Sound } from '../../shared/sound.ts';
import { launch } from '../browser/chromium.ts';
import { buildShell, makeMasters, PROJECT, writeSite } from '../browser/fixture-site.ts';
import { fileAddress, open, ready, textOf } from '../browser/page.ts';
import { keystrokeTimes, type Series } from './page-times.ts';

const SOUNDS = Number(process.argv[2] ?? 50_000);
const ROUNDS = 3;
const PROMISED_P95_MILLISECONDS = 50;

const PLAIN_ANSWERS = {
  'plain substring scan': `
    const folded = texts.map((text) => text.toLowerCase());
    const answer = (question) => {
      const words = question.toLowerCase().split(/\\s+/).filter(Boolean);
      const found = [];
      for (let sound = 0; sound < folded.length; sound++)
        if (words.every((word) => folded[sound].includes(word))) found.push(sound);
      return found;
    };`,
  'FlexSearch alone': `
    const index = new FlexSearch.Index({ tokenize: 'forward' });
    texts.forEach((text, sound) => index.add(sound, text));
    const answer = (question) => index.search(question, { limit: texts.length });`,
};

function plainPage(answers: string): string {
  return `<!doctype html><meta charset="utf-8"><title>yardstick</title>
<input id="ask"><p id="count"></p><ol id="rows"></ol>
<script src="flexsearch.js"></script><script src="texts.js"></script>
<script>${answers}
  document.getElementById('ask').addEventListener('input', (event) => {
    const found = answer(event.target.value);
    document.getElementById('count').textContent = found.length + ' of ' + texts.length;
    document.getElementById('rows').replaceChildren(...found.slice(0, 20).map((sound) => {
      const row = document.createElement('li');
      row.textContent = texts[sound].slice(0, 60);
      return row;
    }));
  });
  document.body.dataset.ready = '';
</script>`;
}

/** The texts that search looks into, one a sound. */
function textOfSound({ name, tags, session, description, places }: Sound): string {
  return [name, tags.join(' '), session, description, places[0].file].join(' ');
}

async function best(measure: () => Promise<Series>): Promise<Series> {
  const rounds: Series[] = [];
  for (let round = 0; round < ROUNDS; round++) rounds.push(await measure());
  return rounds.sort((a, b) => a.p95 - b.p95)[0];
}

function line(what: string, { p95, median, most, times }: Series): void {
  const figures = [p95, median, most].map((time) => time.toFixed(1).padStart(8)).join('');
  console.log(`${what.padEnd(24)}${figures}   ${times.length} keys`);
}

const folder = await mkdtemp(join(tmpdir(), 'takeshelf-50k-'));
const shell = await buildShell();
const browser = await launch();
try {
  const { sounds } = await writeSite(shell, await makeMasters(), join(folder, 'site'), { count: SOUNDS, withAudio: 8 });
  await copyFile(join(PROJECT, 'node_modules/flexsearch/dist/flexsearch.bundle.min.js'), join(folder, 'flexsearch.js'));
  await writeFile(join(folder, 'texts.js'), `const texts = ${JSON.stringify(sounds.map(textOfSound))};`);

  const ours = await open(browser, `${fileAddress(join(folder, 'site'))}index.html`);
  await ready(ours.page);
  console.log(`${await textOf(ours.page, '#count')}, Chromium ${browser.version()}, load ${loadavg()[0].toFixed(1)}`);
  console.log(`${'key to paint, ms'.padEnd(24)}${'p95'.padStart(8)}${'median'.padStart(8)}${'worst'.padStart(8)}`);
  const kept = await best(() => keystrokeTimes(ours.page));
  line('this page', kept);
  await ours.close();
  for (const [name, answers] of Object.entries(PLAIN_ANSWERS)) {
    await writeFile(join(folder, 'plain.html'), plainPage(answers));
    const plain = await open(browser, `${fileAddress(folder)}plain.html`);
    await plain.page.locator('body[data-ready]').waitFor();
    line(name, await best(() => keystrokeTimes(plain.page)));
    await plain.close();
  }
  const verdict = kept.p95 <= PROMISED_P95_MILLISECONDS ? 'kept' : 'BROKEN';
  console.log(`promised: p95 of ${PROMISED_P95_MILLISECONDS} ms, ${verdict}`);
} finally {
  await browser.close();
  await Promise.all([folder, shell].map((path) => rm(path, { recursive: true })));
}
