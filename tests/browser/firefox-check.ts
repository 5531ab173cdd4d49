/**
 * The page in Firefox, opened from file://: fonts load, typing finds, arrow down plays, a dropped sound is measured in a
 * worker and finds its take, nothing is complained about.
 * Run by hand: `node tests/browser/firefox-check.ts [path of firefox]`.
 */
import assert from 'node:assert/strict';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { Firefox } from './firefox.ts';
import { buildShell, makeMasters, writeSite } from './fixture-site.ts';
import { floatWav } from './fixture-sounds.ts';

/** WebDriver, "Keyboard actions": code points of keys without a character. */
const ARROW_DOWN = '\uE015';
const FACES = ['400 13px "IBM Plex Sans Condensed"', '500 15px "Source Serif 4"', 'italic 400 16px "Source Serif 4"'];

/** Index of a recipe that lasts 2.6 s, as no other does. */
const STRUCK = 5;

/** An expression that drops a file on the page. */
function dropOf(name: string, content: Uint8Array): string {
  const text = Buffer.from(content).toString('base64');
  return `(() => {
    const data = new DataTransfer();
    data.items.add(new File([Uint8Array.from(atob('${text}'), (letter) => letter.charCodeAt(0))], '${name}'));
    for (const kind of ['dragover', 'drop'])
      document.body.dispatchEvent(new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true }));
    return true;
  })()`;
}

const shell = await buildShell();
const site = await mkdtemp(join(tmpdir(), 'takeshelf-firefox-site-'));
await writeSite(shell, await makeMasters(), site, { count: 60, withAudio: 60 });
const firefox = await Firefox.start(process.argv[2] ?? '/usr/bin/firefox-esr');
try {
  await firefox.open(`${pathToFileURL(site).href}/index.html`);
  await firefox.until(`document.querySelectorAll('[role="option"]').length > 0`);
  for (const face of FACES) {
    await firefox.until(
      `document.fonts.check(${JSON.stringify(face)}) && [...document.fonts].some((font) => font.status === 'loaded')`,
    );
  }
  const failed = await firefox.evaluate(`[...document.fonts].filter((font) => font.status === 'error').length`);
  assert.equal(failed, 0, 'every font face loads from file://');
  assert.equal(await firefox.evaluate('document.activeElement.id'), 'ask', 'the question has the focus');
  await firefox.press('m', 'e', 't');
  await firefox.until(`/\\d+ of 60 sounds/.test(document.getElementById('count').textContent)`);
  await firefox.press(ARROW_DOWN);
  await firefox.until(`document.getElementById('play').textContent === 'Stop'`);
  const sounds = `Number(document.getElementById('meter').getAttribute('aria-valuenow')) > -60`;
  // Without a sound device Firefox never starts its audio clock; the preview was decoded all the same, and the page says so.
  const said = `document.getElementById('says').textContent.startsWith('Nothing can be heard')`;
  await firefox.until(`${sounds} || ${said}`);
  const heard = (await firefox.evaluate(said)) !== true;
  assert.match(
    String(await firefox.evaluate(`document.querySelector('[aria-selected="true"] .words').textContent`)),
    /, \d/,
  );
  await firefox.evaluate(dropOf('struck.wav', floatWav(STRUCK)));
  await firefox.until(`document.querySelector('.recorded-facts')?.textContent.startsWith('2.6 s · hit')`, 30_000);
  await firefox.evaluate(
    `[...document.querySelectorAll('.recorded .choice')].find((way) => way.textContent === 'by both').click()`,
  );
  await firefox.until(`document.getElementById('chips').textContent.includes('struck.wav, by both')`);
  await firefox.until(`document.querySelector('[role="option"] .figure').textContent.includes('2.6 s')`);
  await firefox.open(`${pathToFileURL(site).href}/report.html`);
  await firefox.until(`document.querySelectorAll('.report h2').length > 0`);
  assert.deepEqual(firefox.logs, [], 'nothing in the console');
  console.log(
    `Firefox ${await firefox.evaluate('navigator.userAgent')}: finds, decodes, measures a dropped sound, ${heard ? 'is heard' : 'has no sound device here'}, ${await firefox.evaluate('document.fonts.size')} font faces known, console empty.`,
  );
} finally {
  await firefox.close();
  await rm(shell, { recursive: true, force: true });
  await rm(site, { recursive: true, force: true });
}
