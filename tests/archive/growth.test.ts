/** What grows with the length or number of things has a bound, or grows no faster than they do. Counted, not timed. */
import { afterEach, describe, expect, it, test } from 'vitest';
import {
  type Chapter,
  ChapterFollower,
  chapterWarning,
  inSounds,
  LONGEST_SOUND_SECONDS,
  takesOfChapter,
} from '../../scripts/archive/chapters.ts';
import { markedTakes } from '../../scripts/archive/marked-takes.ts';
import type { Region } from '../../scripts/archive/split.ts';
import { splitTakes } from '../../scripts/archive/split.ts';
import { readYamlText } from '../../scripts/archive/yaml-text.ts';
import { SlowWork } from '../../scripts/progress.ts';
import { type Envelope, EnvelopeFollower } from '../../shared/measure/envelope.ts';
import { pulseOf } from '../../shared/measure/periodicity.ts';
import { Random } from '../measure/random.ts';
import { roomNoise, struck } from '../measure/sources.ts';

const bytesBehind = ({ levelDb, lowPower, midPower, highPower }: Envelope): number =>
  [levelDb, lowPower, midPower, highPower].reduce((sum, values) => sum + values.buffer.byteLength, 0);

describe('a recording of many hours', () => {
  it('is followed in chapters no longer than told, with no more behind the last of many than behind the second', () => {
    const longestSeconds = 60;
    const most = (minutes: number): number => {
      let largest = 0;
      const follow = ({ envelope }: { envelope: Envelope }): void => {
        expect(envelope.frames * envelope.hopSeconds).toBeLessThanOrEqual(longestSeconds);
        largest = Math.max(largest, bytesBehind(envelope));
      };
      // At 1 kHz a step of the envelope is one frame.
      const follower = new ChapterFollower(1000, 1, follow, longestSeconds);
      for (let block = 0; block < minutes * 60; block++) follower.push([new Float32Array(1000)]);
      const { envelope, chapters } = follower.finish();
      expect(chapters).toBeGreaterThan(minutes - 1);
      expect(envelope.audioFrames).toBe(minutes * 60_000);
      // Of the whole a tenth of the steps is kept.
      expect(bytesBehind(envelope)).toBe(minutes * 6000 * 16);
      return largest;
    };
    expect(most(12)).toBe(most(2));
    expect(LONGEST_SOUND_SECONDS).toBeLessThanOrEqual(3600);
  });

  it('gives the takes it gives as a whole, and the same envelope where it is one chapter', () => {
    const rate = 8000;
    const random = new Random(3);
    const blow = struck(random, 'white noise', rate, 0.002, 0.5);
    const recording = roomNoise(random, 12 * 3 * rate, rate, 2e-4);
    for (let sound = 0; sound < 12; sound++) {
      for (let i = 0; i < blow.length; i++) recording[Math.round((3 * sound + 0.8) * rate) + i] += 0.5 * blow[i];
    }
    const whole = new EnvelopeFollower(rate, 1);
    whole.push([recording]);
    const envelope = whole.finish();
    const expected = splitTakes(envelope, [], recording.length);
    expect(expected).toHaveLength(12);
    for (const [longestSeconds, chapters] of [
      [10, 4],
      [3600, 1],
    ]) {
      const takes: Region[] = [];
      const onChapter = (chapter: Chapter): void => void takes.push(...takesOfChapter(chapter, [], {}));
      const follower = new ChapterFollower(rate, 1, onChapter, longestSeconds);
      for (let at = 0; at < recording.length; at += 1777) follower.push([recording.subarray(at, at + 1777)]);
      const followed = follower.finish();
      expect(followed.chapters).toBeGreaterThanOrEqual(chapters);
      expect(takes).toHaveLength(12);
      takes.forEach((take, i) => {
        const laid = Math.round((3 * i + 0.8) * rate);
        expect(take.startFrame).toBeLessThanOrEqual(laid);
        expect(take.endFrame).toBeGreaterThan(laid + 0.3 * rate);
      });
      expect(followed.envelope.audioFrames).toBe(recording.length);
      if (chapters === 1) expect(followed.envelope).toEqual(envelope);
    }
  });

  it('has takes that a person set for longer cut into equal parts, and says so of long files', () => {
    const region: Region = { startFrame: 10, endFrame: 10 + 9000 * 1000, label: 'Rain', note: null, reason: 'person' };
    const parts = inSounds([region], 1000);
    expect(parts.map(({ startFrame, endFrame }) => endFrame - startFrame)).toEqual([3_000_000, 3_000_000, 3_000_000]);
    expect(parts[0].startFrame).toBe(10);
    expect(inSounds([{ ...region, endFrame: 20 }], 1000)).toHaveLength(1);
    expect(chapterWarning(3_600_000, 1000)).toBeNull();
    expect(chapterWarning(3_600_000 * 12, 1000)).toMatch(
      /^The file is 12\.0 hours long\..*splits\/.*divide the file\.$/,
    );
  });
});

const plain = Array.prototype[Symbol.iterator];
afterEach(() => {
  Array.prototype[Symbol.iterator] = plain;
});

test('a pulse of thousands of even beats becomes one take without copying the beats before', () => {
  const hop = { sampleRateHz: 1000, hopFrames: 1, hopSeconds: 0.001 };
  const beats = 1500;
  const frames = beats * 1000;
  // A beat of 0.2 s each second in digital silence: parts by themselves, joined by their even distance.
  const power = Float32Array.from({ length: frames }, (_, i) => (i % 1000 < 200 ? 0.01 : 0));
  const levelDb = power.map((value) => (value > 0 ? -20 : -120));
  const envelope = { ...hop, frames, audioFrames: frames, levelDb, lowPower: power, midPower: power, highPower: power };
  let spread = 0;
  Array.prototype[Symbol.iterator] = function (this: unknown[]) {
    spread += this.length;
    return plain.call(this);
  };
  const takes = splitTakes(envelope, [], frames, {
    longestBeatSeconds: 2,
    leastPauseSeconds: 0.3,
    longestPauseSeconds: 0.5,
  });
  Array.prototype[Symbol.iterator] = plain;
  expect(takes).toHaveLength(1);
  expect(spread).toBeLessThan(50 * beats);
});

test('an hour of uneven strikes has a look at its grid that is bounded (and not one of arguments by the hundred thousand)', () => {
  const random = new Random(8);
  let seconds = 0;
  let reads = 0;
  const strikes = Array.from({ length: 3000 }, () => {
    seconds += random.between(0.2, 2.2);
    const at = seconds;
    return {
      step: Math.round(at * 1000),
      get seconds() {
        reads++;
        return at;
      },
      strengthDb: 10,
      liftDb: 10,
      peakPower: 0.1,
      topsBand: false,
    };
  });
  expect(pulseOf(strikes, [], null)).toBeNull();
  expect(reads).toBeLessThan(10 * strikes.length);
});

test('each of 5,000 markers looks at a few sounds, not at all of them', () => {
  const count = 5000;
  let reads = 0;
  const sounds = Array.from({ length: count }, (_, i) => ({
    startFrame: i * 1000 + 100,
    get endFrame() {
      reads++;
      return i * 1000 + 600;
    },
  }));
  const markers = sounds.map(({ startFrame }, i) => ({
    startFrame: startFrame - 20,
    lengthFrames: null,
    label: `${i}`,
    note: null,
  }));
  const takes = markedTakes(markers, [], sounds, count * 1000, 1000);
  expect(takes).toHaveLength(count);
  expect(takes[17]).toMatchObject({ startFrame: 17_080, endFrame: 17_600, label: '17' });
  expect(reads).toBeLessThan(10 * count);
});

test('a key that stands twice is told with both lines, also where YAML takes the two for different ones', () => {
  expect(() => readYamlText('sounds:\n  "12": {}\n  x: {}\n  12: {}\n')).toThrow('"12" stands twice, in lines 2 and 4');
  expect(() => readYamlText('a: 1\nb:\n  - {c: 1, c: 2}\n')).toThrow('"c" stands twice, in lines 3 and 3');
  // "Billion laughs": names for names for names.
  const laughs = Array.from(
    { length: 12 },
    (_, i) => `l${i}: &l${i} [${Array(9).fill(i === 0 ? 'ha' : `*l${i - 1}`)}]`,
  ).join('\n');
  expect(() => readYamlText(laughs)).toThrow(/alias/);
  expect(readYamlText('a:\n  - x\n  - {b: 2}\n').lineOf(['a', 1, 'b', 'none'])).toBe(3);
});

test('a file that takes long is named after ten seconds, and again when it has taken twice as long', () => {
  const slow = new SlowWork();
  slow.begin('quay/rain.wav', 0);
  slow.begin('quay/short.wav', 5000);
  expect(slow.news(9000)).toEqual([]);
  expect(slow.news(12_000)).toEqual([{ name: 'quay/rain.wav', seconds: 12 }]);
  slow.end('quay/short.wav');
  expect(slow.news(20_000)).toEqual([]);
  expect(slow.since(20_000)).toEqual([{ name: 'quay/rain.wav', seconds: 20 }]);
  expect(slow.news(25_000)).toEqual([{ name: 'quay/rain.wav', seconds: 25 }]);
  slow.end('quay/rain.wav');
  expect(slow.since(99_000)).toEqual([]);
});
