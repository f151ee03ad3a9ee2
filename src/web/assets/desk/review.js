// Keys for the review: P and R play, the arrows go to the neighbours. Nothing happens while somebody types.

for (const only of document.querySelectorAll("[data-with-script]")) only.hidden = false;

document.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  if (event.target.closest("input, select, textarea, audio")) return;
  const key = event.key.toLowerCase();
  const sound = document.querySelector(`[data-sound="${CSS.escape(key)}"]`);
  if (sound) {
    for (const other of document.querySelectorAll("audio")) other.pause();
    sound.currentTime = 0;
    sound.play();
    event.preventDefault();
  }
  const rel = { arrowleft: "prev", arrowright: "next" }[key];
  const link = rel && document.querySelector(`a[rel="${rel}"]`);
  if (link) {
    link.click();
    event.preventDefault();
  }
});
