// The examples on the page that says what to judge: each may be played as often as one likes.

import { Player, fetchSound, troubleOf } from "./player.js";
import { showOne } from "./show.js";

const player = new Player();
const troubles = document.getElementById("troubles");
// What was pressed last: another example that is pressed meanwhile ends it, and that is no trouble.
let pressed = null;
const sounds = new Map();

for (const button of document.querySelectorAll("[data-sound]")) {
  button.addEventListener("click", async () => {
    player.stop();
    pressed = button;
    const awake = player.wake();
    const address = button.dataset.sound;
    try {
      await awake;
      if (!sounds.has(address)) sounds.set(address, await fetchSound(address));
      showOne("trouble", null, troubles);
      await player.play(sounds.get(address));
    } catch (error) {
      if (pressed === button) showOne("trouble", troubleOf(error), troubles);
    }
  });
}
