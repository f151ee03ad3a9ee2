// Plays a word on the audio clock, never louder than it was prepared.
//
// A word counts as heard only if the clock ran from its start to its end and nothing came between:
// a page out of sight, a lost focus, an output that went to sleep.

import { askSound } from "./ask.js";
import { keep, kept } from "./keep.js";

const RATE = 48000;
// An output may take seconds to wake; a browser that refuses never does.
const WAKES_WITHIN_MS = 6000;
const START_AHEAD_S = 0.1;
const FADE_S = 0.02;
// A clock that is further behind when a word has ended has left a hole in it; engines may tell the
// time late, so that it is asked for a while. One that is this far behind on the way stands still.
const CLOCK_MAY_LAG_MS = 250;
const CLOCK_IS_ASKED_MS = 500;
// Asked there how late its output is while sound flows, Gecko can hang for good.
const LATENCY_HANGS = /(X11|Linux|Android).* Gecko\//.test(navigator.userAgent);
const CLOCK_STANDS_MS = 2000;
// White noise far below any room's own (about 80 dB under full scale): it keeps outputs awake.
const AWAKE_PEAK = 0.0001;
const QUIETEST_DB = -24;
// Where everybody begins: quietly.
const FIRST_DB = -18;
const LEVEL = "fairhearing.level";

/** The browser has not let the sound start. */
export class Blocked extends Error {}
/** Something came between the start of a word and its end. `sounded`: some of it may have been heard. */
export class Interrupted extends Error {
  constructor(sounded) {
    super();
    this.sounded = sounded;
  }
}

/** The server cannot be reached. */
export class Unreached extends Error {}

/** Which sentence tells why a sound was not heard to its end. */
export function troubleOf(error) {
  if (error instanceof Blocked) return "blocked";
  return error instanceof Interrupted ? "interrupted" : "unreached";
}

/** Fetches a sound; resolves to an AudioBuffer. No gesture is needed. */
export async function fetchSound(address) {
  return new OfflineAudioContext(1, 1, RATE).decodeAudioData(await bytesOf(address));
}

async function bytesOf(address) {
  const { answer, said } = await askSound(address).catch(() => {
    throw new Unreached();
  });
  if (answer.ok) return said;
  if (answer.status >= 500) throw new Unreached();
  throw new Error(String(answer.status));
}

export class Player {
  #context = null;
  #gain = null;
  #stopped = null;
  #level = bounded(kept(LEVEL) ?? FIRST_DB);
  #wasElsewhere = false;
  // Counts what was begun or broken off.
  #turn = 0;

  constructor() {
    window.addEventListener("blur", () => (this.#wasElsewhere = true));
  }

  /** In dB below the level at which words were prepared: 0 is the loudest there is. */
  get level() {
    return this.#level;
  }

  set level(wanted) {
    this.#level = bounded(wanted);
    keep(LEVEL, String(this.#level));
    this.#gain?.gain.setTargetAtTime(this.#factor(), this.#context.currentTime, 0.02);
  }

  #factor() {
    return 10 ** (this.#level / 20);
  }

  /** Call inside a gesture. Throws Blocked unless the clock really moves. */
  async wake() {
    if (!this.#context || this.#context.state === "closed") this.#build();
    const context = this.#context;
    context.resume().catch(() => {});
    const before = context.currentTime;
    const moves = () => context.state === "running" && context.currentTime > before;
    if (await until(moves, WAKES_WITHIN_MS)) return;
    // Some engines resume a context no more; the next gesture gets a new one.
    this.#context = null;
    this.#gain = null;
    context.close().catch(() => {});
    throw new Blocked();
  }

  #build() {
    this.#context = new AudioContext({ sampleRate: RATE });
    this.#gain = this.#context.createGain();
    this.#gain.gain.value = this.#factor();
    this.#gain.connect(this.#context.destination);
    const noise = this.#context.createBuffer(1, 2 * RATE, RATE);
    const samples = noise.getChannelData(0);
    for (let i = 0; i < samples.length; i += 1) samples[i] = (2 * Math.random() - 1) * AWAKE_PEAK;
    const awake = this.#context.createBufferSource();
    awake.buffer = noise;
    awake.loop = true;
    awake.connect(this.#context.destination);
    awake.start();
  }

  /**
   * Plays a sound to its end. Resolves to the moment at which its end left the output, on the
   * clock of `performance.now()`. Throws Blocked or Interrupted.
   */
  async play(buffer) {
    this.stop();
    const turn = this.#turn;
    await this.wake();
    if (turn !== this.#turn) throw new Interrupted(false);
    // She may have turned to another window while the output woke.
    if (document.hidden || (this.#wasElsewhere && !document.hasFocus())) throw new Interrupted(false);
    const context = this.#context;
    const source = context.createBufferSource();
    source.buffer = buffer;
    const fade = context.createGain();
    source.connect(fade).connect(this.#gain);
    const startAt = context.currentTime + START_AHEAD_S;
    const endAt = startAt + buffer.duration;
    source.start(startAt);
    const breaks = new AbortController();
    try {
      return await new Promise((resolve, reject) => {
        const interrupted = () => reject(new Interrupted(context.currentTime > startAt));
        this.#stopped = interrupted;
        for (const [target, event] of [
          [document, "visibilitychange"],
          [document, "freeze"],
          [window, "blur"],
          [window, "pagehide"],
          [context, "statechange"],
          // The output was lost, or is another one from now on.
          [context, "error"],
          [context, "sinkchange"],
          [navigator.mediaDevices, "devicechange"],
        ]) {
          target?.addEventListener(event, interrupted, { signal: breaks.signal });
        }
        watch(context, endAt, breaks.signal, resolve, interrupted);
      });
    } finally {
      breaks.abort();
      this.#stopped = null;
      end(context, source, fade);
    }
  }

  /** Breaks off what is playing. */
  stop() {
    this.#turn += 1;
    this.#stopped?.();
  }
}

// Ends a sound that may still be on its way down gently: cut off in the middle of a wave it would click.
// An output that sleeps would go on with it later.
function end(context, source, fade) {
  source.addEventListener("ended", () => fade.disconnect());
  fade.gain.setTargetAtTime(0, context.currentTime, FADE_S / 5);
  source.stop(context.currentTime + FADE_S);
  if (context.state !== "running") fade.disconnect();
}

// Looks at the clock until the end of the sound has left the output. A clock that falls behind is
// an output that slept or was lost.
function watch(context, endAt, signal, ended, lost) {
  let least = Infinity;
  const look = () => {
    if (signal.aborted) return;
    const now = performance.now();
    const behind = now - context.currentTime * 1000;
    least = Math.min(least, behind);
    const lag = behind - least;
    const heardAt = momentOf(context, endAt);
    const over = context.currentTime >= endAt && now >= heardAt;
    if (context.state !== "running" || lag > CLOCK_STANDS_MS) lost();
    else if (over && lag <= CLOCK_MAY_LAG_MS) ended(heardAt);
    else if (over && now > heardAt + CLOCK_IS_ASKED_MS) lost();
    else setTimeout(look, 10);
  };
  look();
}

/** When a time of the audio clock leaves the output, on the clock of `performance.now()`. */
function momentOf(context, time) {
  const now = performance.now();
  const late = (!LATENCY_HANGS && context.outputLatency) || context.baseLatency || 0;
  const plain = now + (time - context.currentTime + late) * 1000;
  const stamp = !LATENCY_HANGS && context.getOutputTimestamp?.();
  if (!stamp?.performanceTime) return plain;
  const told = stamp.performanceTime + (time - stamp.contextTime) * 1000;
  // An engine that tells nonsense is not believed.
  return Math.abs(told - plain) < 1000 ? told : plain;
}

/** The grain of the clocks that a response time rests on, in ms: the coarser of the two. */
export function clockGrain() {
  const audio = (128 / RATE) * 1000;
  let finest = Infinity;
  let last = performance.now();
  const giveUp = last + 20;
  while (last < giveUp) {
    const now = performance.now();
    if (now > last) {
      finest = Math.min(finest, now - last);
      last = now;
    }
  }
  return Math.ceil(Math.max(audio, Math.min(finest, 100)));
}

function bounded(level) {
  return Math.min(Math.max(Number(level), QUIETEST_DB), 0);
}

async function until(holds, patience) {
  const giveUp = performance.now() + patience;
  while (!holds()) {
    if (performance.now() > giveUp) return false;
    await new Promise((next) => setTimeout(next, 10));
  }
  return true;
}
