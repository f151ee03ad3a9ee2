// The examples on the page that says what to judge: each may be played as often as one likes.

import { Interrupted, Player, fetchSound } from "./player.js";

const player = new Player();
const blocked = document.querySelector("#blocked > span");
const sounds = new Map();

for (const button of document.querySelectorAll("[data-sound]")) {
  button.addEventListener("click", async () => {
    player.stop();
    const awake = player.wake();
    const address = button.dataset.sound;
    try {
      await awake;
      if (!sounds.has(address)) sounds.set(address, await fetchSound(address));
      blocked.hidden = true;
      await player.play(sounds.get(address));
    } catch (error) {
      blocked.hidden = error instanceof Interrupted;
    }
  });
}
