// The sound check: starts quietly, and is never louder than the words were prepared.

import { Trials } from "./check.js";
import { beginning, threeTones } from "./made_up.js";
import { Blocked, Player, fetchSound, troubleOf } from "./player.js";
import { isOff, setOff, showOne } from "./show.js";

const form = document.getElementById("check");
const play = document.getElementById("play");
const level = document.getElementById("level");
const troubles = document.getElementById("troubles");
const player = new Player();
let sound = null;
let heard = false;
const LOUDSPEAKERS = ["built-in", "wired-loudspeaker"];

// Each check that the page shows: how many sounds it has, what may be right, and its sounds.
const firstSound = new Trials(document.querySelector("[data-check=first]"), player, {
  draw: () => drawn(3, 2, (all) => all.includes(0) && all.includes(1)),
  sound: beginning,
  enough: 3,
});
const headphones = new Trials(document.querySelector("[data-check=headphones]"), player, {
  draw: () => drawn(6, 3, () => true),
  sound: threeTones,
  enough: 5,
});

// So many numbers below `choices` by chance, drawn again until they are fit.
function drawn(count, choices, fit) {
  for (;;) {
    const all = Array.from({ length: count }, () => Math.floor(Math.random() * choices));
    if (fit(all)) return all;
  }
}

level.value = player.level;
level.addEventListener("input", () => {
  player.level = level.value;
});

play.addEventListener("click", async () => {
  if (isOff(play)) return;
  setOff(play, true);
  showOne("when", "playing");
  showOne("trouble", null, troubles);
  try {
    await player.wake();
    sound ??= await fetchSound(form.dataset.sound);
    await player.play(sound);
    heard = true;
  } catch (error) {
    sound = error instanceof Blocked ? sound : null;
    showOne("trouble", troubleOf(error), troubles);
  } finally {
    setOff(play, false);
    showOne("when", "idle");
  }
});

form.addEventListener("change", () => {
  const said = new FormData(form);
  document.getElementById("not-heard").hidden = said.get("heard") !== "no";
  headphones.leaveOut(LOUDSPEAKERS.includes(said.get("device")));
});

form.addEventListener("submit", (event) => {
  const open = heard ? [firstSound, headphones].find((check) => !check.done)?.button : play;
  if (!open) return;
  event.preventDefault();
  document.getElementById("needed").hidden = false;
  open.focus();
});
