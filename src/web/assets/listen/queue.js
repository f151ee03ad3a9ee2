// The words ahead: the one to judge now and at most two more, fetched and decoded before they are needed.

import { ask } from "./ask.js";
import { fetchSound } from "./player.js";

/** The server does not tell what comes; `status` says why. */
export class Refused extends Error {
  constructor(status) {
    super(String(status));
    this.status = status;
  }
}

export class Queue {
  #limit;
  #words = [];
  #answered = new Set();
  #cleared = 0;

  /** `limit`: how often a word may be played again. */
  constructor(limit) {
    this.#limit = limit;
  }

  /** The word to judge now, or undefined. */
  get current() {
    return this.#words[0];
  }

  /** Whether the server has told of any word after the current one. */
  get hasNext() {
    return this.#words.length > 1;
  }

  /** The current word is done with; it never comes back on this page. */
  leave() {
    const left = this.#words.shift();
    if (left) this.#answered.add(left.id);
  }

  /** Forgets the words ahead: some may not come any more. */
  clear() {
    this.#words.splice(1);
    this.#cleared += 1;
  }

  /**
   * Asks the server what comes. `inHand` tells whether the word in front must stay there.
   * Resolves to how many words the server has ahead, or to nothing if they were cleared since.
   */
  async refresh(inHand) {
    const cleared = this.#cleared;
    const { answer, said: told } = await ask("/listen/ahead");
    if (!answer.ok || !Array.isArray(told)) throw new Refused(answer.status);
    if (cleared !== this.#cleared) return undefined;
    const keep = inHand() ? this.current : undefined;
    const known = new Map(this.#words.map((word) => [word.id, word]));
    // What was told of a word before holds, but for its place: a word that was cut short comes later.
    const ahead = told
      .filter((word) => word.id !== keep?.id && !this.#answered.has(word.id))
      .map((word) => Object.assign(known.get(word.id) ?? {}, word));
    this.#words = keep ? [keep, ...ahead] : ahead;
    for (const word of this.#words) this.#fetch(word);
    return told.length;
  }

  /** The decoded sound of a word; a fetch that failed is tried again. */
  sound(word) {
    this.#fetch(word);
    return word.sound;
  }

  #fetch(word) {
    if (word.sound || word.plays > this.#limit) return;
    word.sound = fetchSound(`/listen/sound/${word.id}`);
    word.sound.catch(() => {
      word.sound = null;
    });
  }
}
