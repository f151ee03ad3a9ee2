// Answers on their way to the server, which is the record. What is not acknowledged yet waits in
// the browser: no sound, no identity, only the presentation's random name and what was answered.

import { ask } from "./ask.js";

const ALL_UNSENT = "fairhearing.unsent.";
// What waits is kept under the listener's own tag: it is never sent in the name of the next one at this browser.
const UNSENT = ALL_UNSENT + (document.querySelector("[data-tag]")?.dataset.tag ?? "");
const LONGEST_WAIT_MS = 30000;

export class Outbox {
  #waiting = [];
  // All that this page has ever held: what else is kept is another tab's.
  #own = new Set();
  #isKept = true;
  #sending = false;
  #tries = 0;
  #timer = 0;
  #told;

  /** `told`: changed(count, isKept), and where a page asks for it recorded(letter, answer), refused(letter, status), stranger(). */
  constructor(told) {
    this.#told = told;
    window.addEventListener("online", () => this.flush());
    document.addEventListener("visibilitychange", () => document.hidden || this.flush());
    window.addEventListener("beforeunload", (event) => {
      // What no storage keeps is lost with the page.
      if (!this.#isKept && answersAmong(this.#waiting) > 0) event.preventDefault();
    });
    this.#collect();
  }

  /** How much is still on its way, reports of plays among it. */
  get count() {
    return this.#waiting.length;
  }

  /** How many plays of this presentation are still to be reported. */
  plays(id) {
    return this.#waiting.filter((letter) => letter.id === id && !isAnswer(letter)).length;
  }

  /** Whether a word of a speaker whom she knows is still to be reported: what comes next hangs on it. */
  get knowsASpeaker() {
    return this.#waiting.some(({ body }) => body.reason === "known-speaker");
  }

  /** `letter`: { id, to, body }. */
  post(letter) {
    this.#waiting.push(letter);
    this.#own.add(name(letter));
    this.#keep();
    this.#tries = 0;
    this.flush();
  }

  /** Sends what waits, in order, one at a time; tries again, ever later, while the server is away. */
  async flush() {
    clearTimeout(this.#timer);
    if (this.#sending) return;
    this.#sending = true;
    this.#collect();
    while (this.#waiting.length > 0 && (await this.#send(this.#waiting[0])));
    this.#sending = false;
    if (this.#waiting.length === 0) return;
    this.#tries += 1;
    this.#timer = setTimeout(() => this.flush(), Math.min(500 * 2 ** this.#tries, LONGEST_WAIT_MS));
  }

  async #send(letter) {
    const sent = { method: "PUT", headers: { "content-type": "application/json" }, body: JSON.stringify(letter.body) };
    const told = await ask(`/listen/${letter.to}/${letter.id}`, sent).catch(() => null);
    if (told === null) return false;
    const { answer, said } = told;
    if (answer.status >= 500 || answer.status === 429 || answer.status === 408) return false;
    if (answer.status === 401) {
      // The link has to be opened again; what waits goes out then.
      this.#told.stranger?.();
      return false;
    }
    // Something between may answer in the server's stead: only the server's own word lets a letter go.
    const kind = answer.headers.get("content-type") ?? "";
    if (said === null || !(answer.ok || kind.startsWith("application/problem+json"))) return false;
    this.#tries = 0;
    this.#waiting.shift();
    this.#keep();
    if (answer.ok) this.#told.recorded?.(letter, said);
    else this.#told.refused?.(letter, answer.status);
    return true;
  }

  // What waits, in the order in which it was answered: with what other tabs kept, without what is done.
  #all() {
    const waiting = new Set(this.#waiting.map(name));
    const kept = stored().filter((letter) => waiting.has(name(letter)) || !this.#own.has(name(letter)));
    const known = new Set(kept.map(name));
    return [...kept, ...this.#waiting.filter((letter) => !known.has(name(letter)))];
  }

  // Takes on what a tab that is closed by now has left.
  #collect() {
    this.#waiting = this.#all();
    this.#waiting.forEach((letter) => this.#own.add(name(letter)));
    this.#tell();
  }

  #keep() {
    const all = this.#all();
    try {
      if (all.length === 0) localStorage.removeItem(UNSENT);
      else localStorage.setItem(UNSENT, JSON.stringify(all));
      this.#isKept = true;
    } catch {
      // No storage: they wait in this page alone, and the page says so.
      this.#isKept = false;
    }
    this.#tell();
  }

  #tell() {
    this.#told.changed(answersAmong(this.#waiting), this.#isKept);
  }
}

function name(letter) {
  return JSON.stringify(letter);
}

// Reports of plays wait with the answers, and are none.
function isAnswer({ to }) {
  return to !== "played";
}

function answersAmong(letters) {
  return letters.filter(isAnswer).length;
}

function stored() {
  try {
    const letters = JSON.parse(localStorage.getItem(UNSENT) ?? "[]");
    return Array.isArray(letters) ? letters.filter((letter) => letter?.id && letter?.to) : [];
  } catch {
    return [];
  }
}

/** How many answers of anybody wait in this browser. */
export function waitingHere() {
  try {
    return Object.keys(localStorage)
      .filter((key) => key.startsWith(ALL_UNSENT))
      .reduce((count, key) => count + answersAmong(JSON.parse(localStorage.getItem(key)) ?? []), 0);
  } catch {
    return 0;
  }
}

/** Takes away all that the pages keep of a listener; what others have not sent yet stays. */
export function forget() {
  try {
    sessionStorage.clear();
    for (const key of Object.keys(localStorage)) {
      if (!key.startsWith(ALL_UNSENT) || key === UNSENT) localStorage.removeItem(key);
    }
  } catch {
    // No storage: nothing was kept.
  }
}
