/** Where everything meets before the limiter: takes by way of a room, click and cue straight. */
import { roomImpulse } from '../../../shared/room.ts';

export interface RoomSetting {
  /** 0 is the sound alone, 1 the room alone. */
  amount: number;
  seconds: number;
}

export interface Bus {
  context: BaseAudioContext;
  takes: AudioNode;
  click: GainNode;
  cue: GainNode;
  /** null takes the room away; what rings, rings out. */
  setRoom: (room: RoomSetting | null) => void;
}

/** Levels change over some three times this. */
const GLIDE_SECONDS = 0.02;

export function buildBus(context: BaseAudioContext, into: AudioNode): Bus {
  const takes = new GainNode(context);
  const dry = new GainNode(context);
  const click = new GainNode(context);
  const cue = new GainNode(context);
  takes.connect(dry).connect(into);
  click.connect(into);
  cue.connect(into);
  const room = new RoomReturn(context, takes, into);
  return {
    context,
    takes,
    click,
    cue,
    setRoom: (setting) => {
      // Equal power: sound and room are strangers to each other, so their energies add up to what was there.
      glide(dry.gain, setting ? Math.cos((setting.amount * Math.PI) / 2) : 1, context);
      room.set(setting);
    },
  };
}

/** At once where nothing runs yet. */
export function glide(parameter: AudioParam, value: number, context: BaseAudioContext): void {
  if (context.currentTime === 0) parameter.value = value;
  else parameter.setTargetAtTime(value, context.currentTime, GLIDE_SECONDS);
}

interface Ringing {
  seconds: number;
  send: GainNode;
  convolver: ConvolverNode;
}

class RoomReturn {
  private readonly context: BaseAudioContext;
  private readonly from: AudioNode;
  private readonly wet: GainNode;
  private present: Ringing | null = null;
  /** The last one built: going in and out of a room builds it once. */
  private built: { seconds: number; buffer: AudioBuffer } | null = null;

  constructor(context: BaseAudioContext, from: AudioNode, into: AudioNode) {
    this.context = context;
    this.from = from;
    this.wet = new GainNode(context, { gain: 0 });
    this.wet.connect(into);
  }

  set(room: RoomSetting | null): void {
    const wanted = room !== null && room.amount > 0 ? room : null;
    if (wanted?.seconds !== this.present?.seconds) {
      this.letRing();
      if (wanted) this.present = this.enter(wanted.seconds);
    }
    if (wanted) glide(this.wet.gain, Math.sin((wanted.amount * Math.PI) / 2), this.context);
  }

  private enter(seconds: number): Ringing {
    const { context } = this;
    const buffer = this.built?.seconds === seconds ? this.built.buffer : impulseBuffer(seconds, context.sampleRate);
    this.built = { seconds, buffer };
    const send = new GainNode(context, { gain: 0 });
    const convolver = new ConvolverNode(context, { buffer, disableNormalization: true });
    this.from.connect(send).connect(convolver).connect(this.wet);
    glide(send.gain, 1, context);
    return { seconds, send, convolver };
  }

  /** Nothing more goes into the present room; it is taken down when it has rung out. */
  private letRing(): void {
    const { present, context } = this;
    this.present = null;
    if (!present) return;
    glide(present.send.gain, 0, context);
    window.setTimeout(() => {
      this.from.disconnect(present.send);
      present.convolver.disconnect();
    }, present.seconds * 1200);
  }
}

function impulseBuffer(seconds: number, sampleRate: number): AudioBuffer {
  const { left, right } = roomImpulse(seconds, sampleRate);
  const buffer = new AudioBuffer({ length: left.length, numberOfChannels: 2, sampleRate });
  buffer.copyToChannel(left, 0);
  buffer.copyToChannel(right, 1);
  return buffer;
}
