/**
 * The same take twice though not sample for sample: another format, another level, a copy with other dither.
 *
 * Two sounds are near duplicates when their active lengths differ by less than MOST_LENGTH_SHARE, their mean cepstra
 * (level left out) by less than MOST_CEPSTRUM_DB and their contours by less than MOST_CONTOUR, both as root mean square.
 * Set on real recordings: one recording in seven formats, lossy ones among them, differs by up to 1.7 dB and 0.02, while
 * the closest two of 230 different sounds (neighbouring notes of one piano) differ by 2.6 dB (own measuring, no source).
 */
import type { NearDuplicates } from '../../shared/report.ts';
import type { Sound } from '../../shared/sound.ts';

const MOST_LENGTH_SHARE = 0.015;
const MOST_CEPSTRUM_DB = 2;
const MOST_CONTOUR = 0.022;

interface Candidate {
  sound: Sound;
  seconds: number;
  cepstrum: number[];
}

/** Groups of two and more, each in the order of `sounds`; sounds without a spectrum have none. */
export function findNearDuplicates(sounds: readonly Sound[]): NearDuplicates[] {
  const candidates = sounds.flatMap((sound): Candidate[] =>
    sound.cepstrumMean === null || sound.activeSeconds === null || sound.faults.includes('silent')
      ? []
      : [{ sound, seconds: sound.activeSeconds, cepstrum: sound.cepstrumMean.slice(1) }],
  );
  candidates.sort((a, b) => a.seconds - b.seconds);
  const leader = candidates.map((_, index) => index);
  const find = (index: number): number => {
    let at = index;
    while (leader[at] !== at) at = leader[at];
    return at;
  };
  for (let a = 0; a < candidates.length; a++) {
    const limit = candidates[a].seconds * (1 + MOST_LENGTH_SHARE);
    for (let b = a + 1; b < candidates.length && candidates[b].seconds <= limit; b++) {
      if (alike(candidates[a], candidates[b])) leader[find(b)] = find(a);
    }
  }
  const groups = new Map<number, Set<Sound>>();
  candidates.forEach(({ sound }, index) => {
    const group = groups.get(find(index)) ?? new Set();
    groups.set(find(index), group.add(sound));
  });
  const together = [...groups.values()].filter((group) => group.size > 1);
  const order = new Map(sounds.map((sound, index) => [sound, index]));
  const place = (sound: Sound): number => order.get(sound) ?? 0;
  return together
    .map((group) => [...group].sort((a, b) => place(a) - place(b)))
    .sort(([a], [b]) => place(a) - place(b))
    .map((group) => ({ sounds: group.map(({ id, name, places }) => ({ id, name, place: places[0] })) }));
}

function alike(a: Candidate, b: Candidate): boolean {
  return (
    rootMeanSquare(a.cepstrum, b.cepstrum) < MOST_CEPSTRUM_DB &&
    rootMeanSquare(a.sound.contour, b.sound.contour) < MOST_CONTOUR
  );
}

function rootMeanSquare(a: readonly number[], b: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] - b[i]) ** 2;
  return Math.sqrt(sum / a.length);
}
