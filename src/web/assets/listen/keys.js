// The keys of the sitting: each may be another one, and all may be off. None is a letter unless the
// listener makes it one, so that dictation and screen readers do not press them by chance.

import { keep, kept } from "./keep.js";

const KEPT = "fairhearing.keys";
const USUAL = { left: "ArrowLeft", right: "ArrowRight", next: " ", again: "ArrowUp" };
const SIGNS = { ArrowLeft: "←", ArrowRight: "→", ArrowUp: "↑", ArrowDown: "↓" };
// These move through the page, and stay free for that.
const FREE = ["Tab", "Enter", "Escape", "Shift", "Control", "Alt", "AltGraph", "Meta", "CapsLock"];

export class Keys {
  #keys = chosen();
  #buttons;
  #press;
  #list = document.querySelector(".keys");
  #on = document.getElementById("keys-on");
  #waiting = null;

  /** `buttons`: { left, right, next, again }; `press(button, when)` does what a button does. */
  constructor(buttons, press) {
    this.#buttons = buttons;
    this.#press = press;
    this.#on.checked = this.#keys.on;
    this.#on.addEventListener("change", () => this.#keep({ on: this.#on.checked }));
    for (const button of this.#list.querySelectorAll("[data-key]")) {
      button.addEventListener("click", () => {
        this.#waiting = button.dataset.key;
        this.#show();
      });
      button.addEventListener("blur", () => {
        this.#waiting = null;
        this.#show();
      });
    }
    document.addEventListener("keydown", (event) => this.#down(event));
    this.#show();
  }

  #down(event) {
    if (event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
    if (this.#waiting && event.key === "Escape") {
      this.#waiting = null;
      this.#show();
    } else if (this.#waiting && !FREE.includes(event.key)) {
      event.preventDefault();
      const name = this.#waiting;
      this.#waiting = null;
      this.#keep({ ...this.#without(event.key, name), [name]: event.key });
    } else if (!this.#waiting) this.#act(event);
  }

  // A key that did something else swaps with the one it takes over from.
  #without(key, name) {
    const other = Object.keys(USUAL).find((one) => this.#keys[one] === key);
    return other ? { [other]: this.#keys[name] } : {};
  }

  #act(event) {
    if (!this.#keys.on) return;
    const on = event.target;
    if (on.matches("input") || (event.key === " " && on.closest("button, summary, a"))) return;
    const name = Object.keys(USUAL).find((one) => this.#keys[one] === event.key);
    if (!name) return;
    event.preventDefault();
    this.#press(this.#buttons[name], event.timeStamp);
  }

  #keep(change) {
    this.#keys = { ...this.#keys, ...change };
    keep(KEPT, JSON.stringify(this.#keys));
    this.#show();
  }

  #show() {
    const { wait, space } = this.#list.dataset;
    const sign = (key) => (key === " " ? space : (SIGNS[key] ?? key));
    for (const button of this.#list.querySelectorAll("[data-key]")) {
      const name = button.dataset.key;
      button.textContent = this.#waiting === name ? wait : sign(this.#keys[name]);
    }
    for (const shown of document.querySelectorAll("[data-shows]")) {
      shown.textContent = sign(this.#keys[shown.dataset.shows]);
      shown.hidden = !this.#keys.on;
    }
  }
}

function chosen() {
  try {
    return { on: true, ...USUAL, ...JSON.parse(kept(KEPT) ?? "{}") };
  } catch {
    return { on: true, ...USUAL };
  }
}
