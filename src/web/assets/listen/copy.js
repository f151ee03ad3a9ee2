// Copies the listener's own link, where the browser can.

const copy = document.getElementById("copy");
copy.hidden = !navigator.clipboard;
copy.addEventListener("click", async () => {
  await navigator.clipboard.writeText(document.getElementById("link").textContent);
  document.getElementById("copied").hidden = false;
});
