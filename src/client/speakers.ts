/** The one way to the loudspeakers: opened by the first key or click, shared by all that plays. */
import { type Bus, buildBus } from './context/bus.ts';
import { buildOutput } from './output.ts';

/** A browser that may play and has an output starts its clock well within this. */
const PATIENCE_MILLISECONDS = 1500;
export const NO_OUTPUT =
  'Nothing can be heard: this browser has no sound output, or may not play yet. Check the output, then press Space.';

export interface OpenSpeakers {
  context: AudioContext;
  bus: Bus;
  analyser: AnalyserNode;
}

export class Speakers {
  private opened: OpenSpeakers | null = null;
  private readonly whenOpened: ((speakers: OpenSpeakers) => void)[] = [];

  /** Call from a key or click: browsers let sound begin only then. */
  open(): OpenSpeakers {
    if (!this.opened) {
      const context = new AudioContext({ latencyHint: 'interactive' });
      const output = buildOutput(context);
      this.opened = { context, bus: buildBus(context, output.input), analyser: output.analyser };
      for (const act of this.whenOpened) act(this.opened);
    }
    if (this.opened.context.state === 'suspended') void this.opened.context.resume();
    return this.opened;
  }

  /** null until opened. */
  get present(): OpenSpeakers | null {
    return this.opened;
  }

  get awake(): boolean {
    return this.opened?.context.state === 'running';
  }

  /** Done at once where they are open, else when they open. */
  onOpen(act: (speakers: OpenSpeakers) => void): void {
    if (this.opened) act(this.opened);
    else this.whenOpened.push(act);
  }

  /** Calls `silent` where the clock does not run after a while, unless `isOver` by then. */
  checkLater(isOver: () => boolean, silent: () => void): void {
    window.setTimeout(() => {
      if (!isOver() && !this.awake) silent();
    }, PATIENCE_MILLISECONDS);
  }
}
