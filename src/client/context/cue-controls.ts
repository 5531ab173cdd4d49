/** The Cue pane's lower half: the person's own cue, where it stands and how loud, and the room. */
import { FRAME_RATE_NAMES, type FrameRateName } from '../../../shared/timecode.ts';
import { byId, onClick, setPressed } from '../dom.ts';
import { decibels, seconds, share } from '../format.ts';
import { readSetting, writeSetting } from '../settings.ts';
import type { Store } from '../state.ts';
import { openCue } from './cue-file.ts';
import { readCueTime } from './cue-time.ts';
import type { PlaceSettings } from './settings.ts';

export class CueControls {
  private readonly store: Store;
  private readonly barOne = byId('cue-bar-one', HTMLInputElement);
  private readonly rates = byId('cue-rate', HTMLSelectElement);
  /** Files asked for; only the last one counts. */
  private asked = 0;

  /** `rateChanged`: timecodes are to be written anew. */
  constructor(store: Store, rateChanged: () => void) {
    this.store = store;
    this.listenFile();
    this.listenTimes(rateChanged);
    this.listenLevels();
  }

  /** Frames a second of all timecodes here. */
  get rate(): FrameRateName {
    return FRAME_RATE_NAMES.find((rate) => rate === this.rates.value) ?? '25';
  }

  show(): void {
    const { cue, cueMuted, cueLevelDb, room, roomAmount, roomSeconds } = this.store.get().place;
    byId('cue-held').hidden = cue === null;
    if (cue) {
      byId('cue-name').textContent = cue.name;
      byId('cue-length').textContent = seconds(cue.buffer.duration);
    }
    setPressed(byId('cue-mute'), cueMuted);
    setPressed(byId('room-on'), room);
    showRange('cue-level', cueLevelDb, decibels(cueLevelDb, 'dB', 0));
    showRange('room-amount', roomAmount * 100, share(roomAmount));
    showRange('room-seconds', roomSeconds, `${roomSeconds.toFixed(1)} s`);
  }

  private set(change: Partial<PlaceSettings>): void {
    this.store.set({ place: { ...this.store.get().place, ...change } });
  }

  private say(sentence: string): void {
    byId('cue-says').textContent = sentence;
  }

  private listenFile(): void {
    const input = byId('cue-file', HTMLInputElement);
    input.addEventListener('change', () => {
      const file = input.files?.[0];
      input.value = '';
      if (file) void this.take(file);
    });
    const pane = byId('pane-cue');
    const drop = byId('cue-drop');
    pane.addEventListener('dragover', (event) => {
      if (!event.dataTransfer?.types.includes('Files')) return;
      event.preventDefault();
      drop.toggleAttribute('data-over', true);
    });
    pane.addEventListener('dragleave', (event) => {
      if (!(event.relatedTarget instanceof Node && pane.contains(event.relatedTarget)))
        drop.removeAttribute('data-over');
    });
    pane.addEventListener('drop', (event) => {
      drop.removeAttribute('data-over');
      const file = event.dataTransfer?.files[0];
      if (!file) return;
      event.preventDefault();
      void this.take(file);
    });
    onClick(byId('cue-remove'), () => {
      this.asked++;
      this.set({ cue: null });
      this.say('');
      byId('cue-file').focus();
    });
    onClick(byId('cue-mute'), () => this.set({ cueMuted: !this.store.get().place.cueMuted }));
  }

  private async take(file: File): Promise<void> {
    const asked = ++this.asked;
    this.say(`Reading ${file.name}.`);
    try {
      const cue = await openCue(file, (sentence) => this.say(sentence));
      if (asked !== this.asked) return;
      this.set({ cue });
      this.say(cue.caution ?? '');
    } catch (problem) {
      if (asked === this.asked) this.say(problem instanceof Error ? problem.message : String(problem));
    }
  }

  private listenTimes(rateChanged: () => void): void {
    const { barOne, rates } = this;
    rates.value = FRAME_RATE_NAMES.find((rate) => rate === readSetting('frameRate')) ?? rates.value;
    const read = () => {
      const time = readCueTime(barOne.value === '' ? '0' : barOne.value, this.rate);
      barOne.setAttribute('aria-invalid', String(time === null));
      if (time === null) this.say('Write seconds, as 12.48, or a timecode, as 00:00:12:12.');
      else {
        this.set({ barOneSeconds: time });
        this.say(this.store.get().place.cue?.caution ?? '');
      }
    };
    barOne.addEventListener('change', read);
    rates.addEventListener('change', () => {
      writeSetting('frameRate', rates.value);
      read();
      rateChanged();
    });
  }

  private listenLevels(): void {
    const follow = (id: string, change: (value: number) => Partial<PlaceSettings>, event: 'input' | 'change') => {
      const input = byId(id, HTMLInputElement);
      input.addEventListener(event, () => this.set(change(Number(input.value))));
    };
    follow('cue-level', (value) => ({ cueLevelDb: value }), 'input');
    follow('room-amount', (value) => ({ roomAmount: value / 100 }), 'input');
    // A room is built anew for every length: when the hand rests.
    follow('room-seconds', (value) => ({ roomSeconds: value }), 'change');
    const length = byId('room-seconds', HTMLInputElement);
    length.addEventListener('input', () => sayRange('room-seconds', `${Number(length.value).toFixed(1)} s`));
    onClick(byId('room-on'), () => this.set({ room: !this.store.get().place.room }));
  }
}

function showRange(id: string, value: number, said: string): void {
  const input = byId(id, HTMLInputElement);
  if (document.activeElement !== input) input.value = String(value);
  sayRange(id, said);
}

function sayRange(id: string, said: string): void {
  byId(id, HTMLInputElement).setAttribute('aria-valuetext', said);
  byId(`${id}-value`).textContent = said;
}
