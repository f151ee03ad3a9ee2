// A check of several made-up sounds: each is played, then told by one of its buttons. What it came
// to goes into the hidden fields of the form.

import { troubleOf } from "./player.js";
import { fill, isOff, setOff, showOne } from "./show.js";

export class Trials {
  #place;
  #player;
  #how;
  #answers = [];
  #right = [];
  #told = [];
  #tries = 0;
  #playing = false;
  #heard = false;

  /** `place`: its part of the page, or null; `how`: { draw(), sound(answer), enough }. */
  constructor(place, player, how) {
    this.#place = place;
    this.#player = player;
    this.#how = how;
    if (!place) return;
    this.#answers = [...place.querySelectorAll("[data-say-of]")];
    this.button.addEventListener("click", () => isOff(this.button) || this.#play());
    for (const answer of this.#answers) {
      answer.addEventListener("click", () => isOff(answer) || this.#tell(Number(answer.dataset.sayOf)));
    }
    this.#part("again").addEventListener("click", () => this.#begin());
    this.#begin();
  }

  /** Whether it was done once, is left out, or is not on the page. */
  get done() {
    return !this.#place || this.#place.hidden || this.#tries > 0;
  }

  /** Leaves it out, or not, where the plan does not ask for it in any case. */
  leaveOut(out) {
    if (!this.#place || "required" in this.#place.dataset) return;
    this.#place.hidden = out;
    for (const field of this.#place.querySelectorAll("input")) field.disabled = out;
  }

  get button() {
    return this.#part("play");
  }

  #part(name) {
    return this.#place.querySelector(`[data-${name}]`);
  }

  #begin() {
    this.#right = this.#how.draw();
    this.#told = [];
    for (const name of ["good", "bad", "again"]) this.#part(name).hidden = true;
    this.#render();
    if (this.#tries > 0) this.button.focus();
  }

  async #play() {
    this.#playing = true;
    showOne("trouble", null, this.#place);
    this.#render();
    try {
      await this.#player.wake();
      await this.#player.play(this.#how.sound(this.#right[this.#told.length]));
      this.#heard = true;
    } catch (error) {
      showOne("trouble", troubleOf(error), this.#place);
    } finally {
      this.#playing = false;
      this.#render();
    }
  }

  #tell(answer) {
    this.#told.push(answer);
    this.#heard = false;
    if (this.#told.length === this.#right.length) this.#finish();
    this.#render();
    if (this.#told.length < this.#right.length) this.button.focus();
  }

  #finish() {
    this.#tries += 1;
    const right = this.#told.filter((answer, at) => answer === this.#right[at]).length;
    const kept = { right, of: this.#right.length, tries: this.#tries };
    for (const [name, value] of Object.entries(kept)) {
      this.#place.querySelector(`input[name$=_${name}]`).value = value;
    }
    const good = right >= this.#how.enough;
    this.#part("good").hidden = !good;
    this.#part("bad").hidden = good;
    this.#part("again").hidden = good;
  }

  #render() {
    const over = this.#told.length === this.#right.length;
    setOff(this.button, this.#playing || over);
    for (const answer of this.#answers) setOff(answer, this.#playing || !this.#heard || over);
    const number = Math.min(this.#told.length + 1, this.#right.length);
    fill(this.#part("count"), { number, of: this.#right.length });
  }
}
