/** "Three blows at 84": a take that is named by the tempo asked for was played to it. */
import type { Tempo } from '../music.ts';
import type { Criterion, Scene } from './criterion.ts';

/** Leaves none out: most takes tell no tempo, and a tempo asked for also counts bars. */
export function namedTempoCriterion(tempo: Tempo, { columns, index }: Scene): Criterion {
  const figure = index.exactly(String(tempo.bpm));
  // "three at 84" tells a tempo, the 84 of "Audio 12-84" does not.
  const at = index.exactly('at');
  const scores = new Float32Array(columns.count);
  for (let sound = 0; sound < scores.length; sound++) {
    scores[sound] = figure.scores[sound] > 0 && at.scores[sound] > 0 ? 1 : 0;
  }
  return {
    weight: 0.3,
    measured: false,
    scores,
    full: 1,
    said: null,
    reason: (sound) => (scores[sound] > 0 ? { text: `named at ${tempo.bpm}`, fits: true } : null),
  };
}
