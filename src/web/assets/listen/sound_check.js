// The sound check: starts quietly, and is never louder than the words were prepared.

import { Blocked, Player, fetchSound } from "./player.js";
import { setOff, showOne } from "./show.js";

const form = document.getElementById("check");
const play = document.getElementById("play");
const level = document.getElementById("level");
const blocked = document.querySelector("#blocked > span");
const player = new Player();
let sound = null;
let heard = false;

level.value = player.level;
level.addEventListener("input", () => {
  player.level = level.value;
});

play.addEventListener("click", async () => {
  if (play.getAttribute("aria-disabled") === "true") return;
  setOff(play, true);
  showOne("when", "playing");
  blocked.hidden = true;
  const awake = player.wake();
  try {
    await awake;
    sound ??= await fetchSound(form.dataset.sound);
    await player.play(sound);
    heard = true;
  } catch (error) {
    sound = error instanceof Blocked ? sound : null;
    blocked.hidden = false;
  } finally {
    setOff(play, false);
    showOne("when", "idle");
  }
});

form.addEventListener("change", () => {
  document.getElementById("not-heard").hidden = new FormData(form).get("heard") !== "no";
});

form.addEventListener("submit", (event) => {
  if (heard) return;
  event.preventDefault();
  document.getElementById("needed").hidden = false;
  play.focus();
});
