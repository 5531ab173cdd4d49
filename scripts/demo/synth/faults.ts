/** Faults put into finished files on purpose, each as it happens in real archives. */
import type { FaultKind } from '../../../shared/sound.ts';

const DC_OFFSET = 0.035;
/** Mains hum: 50 Hz and its odd harmonics stronger than the even ones. */
const HUM_PARTIALS = [1, 0.35, 0.7, 0.12, 0.4, 0.06, 0.2];
const HUM_DBFS = -42;
const DROPOUT_SECONDS = 0.045;

/**
 * Puts one fault into the channels in place. `fullFrame` is where the first sound is near its loudest: dropouts fall there.
 * Faults of level, floor and tail are made by the plan's own levels and when the file is laid out, not here.
 */
export function putFault(channels: readonly Float32Array[], fault: FaultKind, rateHz: number, fullFrame: number): void {
  switch (fault) {
    case 'clipping':
      for (const channel of channels) {
        for (let index = 0; index < channel.length; index += 1)
          channel[index] = Math.max(-1, Math.min(1, channel[index]));
      }
      return;
    case 'dc-offset':
      addEverywhere(channels, () => DC_OFFSET);
      return;
    case 'hum': {
      const level = 10 ** (HUM_DBFS / 20);
      addEverywhere(channels, (index) =>
        HUM_PARTIALS.reduce(
          (sum, gain, partial) => sum + level * gain * Math.sin((2 * Math.PI * 50 * (partial + 1) * index) / rateHz),
          0,
        ),
      );
      return;
    }
    case 'dropout': {
      for (const channel of channels) channel.fill(0, fullFrame, fullFrame + Math.round(DROPOUT_SECONDS * rateHz));
      return;
    }
    case 'dead-channel':
      channels[1].fill(0);
      return;
    case 'inverted-channel':
      for (let index = 0; index < channels[0].length; index += 1) channels[1][index] = -channels[0][index];
      return;
    case 'mono-as-stereo':
      channels[1].set(channels[0]);
      return;
    case 'silent':
      for (const channel of channels) channel.fill(0);
      return;
    case 'low-level':
    case 'high-noise-floor':
    case 'truncated-tail':
      return;
  }
}

function addEverywhere(channels: readonly Float32Array[], value: (index: number) => number): void {
  for (let index = 0; index < channels[0].length; index += 1) {
    const add = value(index);
    for (const channel of channels) channel[index] += add;
  }
}
