// Sends dropped folders and files in parts that can go on where they broke off, and shows what names become while the
// pattern is typed. Without this script the forms do the same, only slower.

const main = document.getElementById("import");
const base = main.dataset.import;
const drop = main.querySelector("[data-drop]");
const PART_BYTES = 4 * 1024 * 1024;
const TRIES = 6;

for (const only of main.querySelectorAll("[data-with-script]")) only.hidden = false;
for (const only of main.querySelectorAll("[data-without-script]")) only.hidden = true;

const coming = drop.querySelector("[data-coming]");
const bar = coming.querySelector("progress");
const said = coming.querySelector("[data-said]");
const refused = drop.querySelector("[data-refused]");

const show = drop.querySelector("[data-show]");

// What this browser has sent whole: a file that is given again and was not changed since is left out.
const sent = new Map(JSON.parse(sessionStorage.getItem(base) ?? "[]"));
const version = (file) => `${file.size} ${file.lastModified}`;

function noteSent(name, file) {
  sent.set(name, version(file));
  sessionStorage.setItem(base, JSON.stringify([...sent]));
}

const wait = (ms) => new Promise((done) => setTimeout(done, ms));

/** Sends one part; a lost network is tried again. */
async function send(name, file, offset) {
  const query = new URLSearchParams({ name, offset, total: file.size });
  const part = file.slice(offset, offset + PART_BYTES);
  for (let tried = 1; ; tried += 1) {
    try {
      const answer = await fetch(`${base}/part?${query}`, { method: "PUT", body: part });
      if (answer.headers.get("content-type")?.startsWith("application/json")) return await answer.json();
      if (answer.status < 500) return { refused: `${name}: the server does not take it (${answer.status})` };
    } catch {
      said.textContent = "The connection is lost. It goes on by itself when it is back.";
    }
    if (tried === TRIES) throw new Error("lost");
    await wait(500 * 2 ** tried);
  }
}

function refuse(sentence) {
  refused.hidden = false;
  show.hidden = false;
  for (const line of sentence.split("\n")) {
    const item = document.createElement("li");
    item.textContent = line;
    refused.append(item);
  }
}

/** Sends all files; those that are here and were not changed since are left out. */
async function sendAll(files) {
  if (files.length === 0) return;
  refused.replaceChildren();
  refused.hidden = true;
  coming.hidden = false;
  const held = new Map();
  for (const file of await (await fetch(`${base}/held`)).json()) held.set(file.name, file);
  const bytes = files.reduce((sum, [, file]) => sum + file.size, 0);
  bar.max = Math.max(bytes, 1);
  let before = 0;
  try {
    for (const [place, [name, file]] of files.entries()) {
      const here = held.get(name);
      if (here?.whole && here.held === file.size && sent.get(name) === version(file)) {
        before += file.size;
        continue;
      }
      let offset = here && !here.whole && here.held <= file.size ? here.held : 0;
      for (let whole = false; !whole; ) {
        said.textContent = `${place + 1} of ${files.length} files`;
        bar.value = before + offset;
        const answer = await send(name, file, offset);
        if (answer.refused) {
          refuse(answer.refused);
          break;
        }
        if (answer.held === offset && !answer.whole && file.size > 0) throw new Error("stuck");
        offset = answer.held;
        whole = answer.whole;
        if (whole) noteSent(name, file);
      }
      before += file.size;
    }
  } catch {
    refuse("The connection is lost. What came is kept: give the same files again, and only the rest is sent.");
    return;
  }
  bar.value = bar.max;
  said.textContent = `${files.length} files are here`;
  if (refused.hidden) location.reload();
}

const listed = (list) => [...list].map((file) => [file.webkitRelativePath || file.name, file]);

drop.addEventListener("submit", (event) => event.preventDefault());
for (const input of drop.querySelectorAll("input[type=file]")) {
  input.addEventListener("change", () => sendAll(listed(input.files)));
}

/** Every file of a dropped folder, with its path in it. */
async function inside(entry) {
  if (entry.isFile) {
    const file = await new Promise((done, failed) => entry.file(done, failed));
    return [[entry.fullPath.replace(/^\//, ""), file]];
  }
  const reader = entry.createReader();
  const found = [];
  for (;;) {
    const some = await new Promise((done, failed) => reader.readEntries(done, failed));
    if (some.length === 0) return found;
    for (const one of some) found.push(...(await inside(one)));
  }
}

for (const kind of ["dragenter", "dragover"]) {
  drop.addEventListener(kind, (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
}
drop.addEventListener("dragleave", () => drop.classList.remove("over"));
drop.addEventListener("drop", async (event) => {
  event.preventDefault();
  drop.classList.remove("over");
  const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  if (entries.length === 0) {
    sendAll(listed(event.dataTransfer.files));
    return;
  }
  const files = [];
  for (const entry of entries) files.push(...(await inside(entry)));
  sendAll(files);
});

const names = main.querySelector("[data-names]");
if (names) {
  let soon;
  let last = 0;
  names.addEventListener("input", () => {
    clearTimeout(soon);
    soon = setTimeout(async () => {
      last += 1;
      const mine = last;
      const query = new URLSearchParams(new FormData(names));
      const answer = await fetch(`${base}?${query}`);
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const shown = page.getElementById("preview");
      if (shown && mine === last) document.getElementById("preview").replaceChildren(...shown.childNodes);
    }, 250);
  });
}
