// The sitting: hear a word, answer, go on.

import { keep, kept } from "./keep.js";
import { Keys } from "./keys.js";
import { Outbox } from "./outbox.js";
import { Blocked, Interrupted, Player, Unreached, clockGrain } from "./player.js";
import { Queue, Refused } from "./queue.js";
import { fill, isOff, setOff, showOne } from "./show.js";

const RETRY_MS = 3000;
// The word is read before it is heard.
const READ_FIRST_MS = 350;
// So many words cut short in a row need another sentence.
const KEEPS_BREAKING = 3;
const READ_FIRST = "fairhearing.read-first";
const CONFLICT = 409;
const MISSING = 404;
const UNKNOWN = 401;
// With these the server may know better in a while.
const PASSING = [408, 429];

const page = document.getElementById("sitting");
const at = (id) => document.getElementById(id);
const next = at("next");
const again = at("again");
const answers = [...page.querySelectorAll("[data-answer]")];
const asides = [...page.querySelectorAll("[data-aside]")];
const readFirst = at("read-first");
const limit = Number(page.dataset.replays);
const mayChange = page.dataset.mayChange === "true";

const player = new Player();
const queue = new Queue(limit);
const grain = clockGrain();
let practised = false;
// What is known of the word in front: when it ended on this page, how often it was heard to its end
// on any, what was answered.
let heard = fresh();
// The word that the page shows: two answers on what comes may overtake each other, and neither shows it twice.
let shown = null;
let playing = false;
// What came to be said while a word sounded: nothing talks over a word.
let unsaid = null;
let cutShort = 0;

const outbox = new Outbox({
  changed(count, isKept) {
    const unsent = isKept ? "unsent" : "loose";
    showOne("kept", count > 0 ? unsent : "saved");
    fill(page.querySelector(`[data-kept="${unsent}"]`), { count });
  },
  recorded(letter, said) {
    const here = letter.id === queue.current?.id;
    if (letter.to === "played") {
      if (here) return heardElsewhere(said.plays);
      return queue.current || refresh();
    }
    if (here) {
      heard.told = true;
      if (said.feedback) say(`feedback_${said.feedback}`);
      render();
    }
    if (!playing) refresh();
  },
  refused(letter, status) {
    // Closed, taken back or not understood: the page says so, or shows the word again.
    if (![CONFLICT, MISSING].includes(status)) return location.reload();
    if (letter.to !== "played" && letter.id === queue.current?.id) {
      player.stop();
      playing = false;
      leave();
      say(status === CONFLICT ? "elsewhere" : "fell_away");
    } else if (!queue.current) refresh();
  },
  stranger() {
    say("stranger");
  },
});

function fresh() {
  return { endedAt: null, plays: 0, answer: null, revision: 0, told: false };
}

function replays() {
  return Math.max(heard.plays - 1, 0);
}

// What was heard before the page was loaded, in another tab or on another device counts too.
function heardElsewhere(plays) {
  heard.plays = Math.max(heard.plays, plays);
  render();
}

function say(name) {
  if (playing) unsaid = name;
  else showOne("say", name);
}

function render() {
  const word = queue.current;
  page.classList.toggle("listening", playing);
  showOne("label", label());
  const first = heard.plays === 0;
  const done = heard.answer !== null && (heard.told || !word?.practice);
  setOff(next, playing || !word || !(first || done));
  setOff(again, playing || first || replays() >= limit);
  fill(at("left"), { left: Math.max(limit - replays(), 0) });
  again.hidden = limit === 0;
  const open = !playing && !first && (heard.answer === null || (mayChange && !word?.practice));
  for (const button of answers) {
    button.setAttribute("aria-pressed", String(button.dataset.answer === heard.answer));
    setOff(button, !open);
  }
  for (const button of asides) setOff(button, playing || !word || heard.answer !== null);
}

function label() {
  if (playing) return "listening";
  if (heard.plays === 0) return "hear";
  return queue.hasNext ? "next" : "last";
}

function showWord(word) {
  const parts = word.word ?? [];
  at("word").replaceChildren(seen(parts), spoken(parts));
  showOne("ask", word.word?.some(({ judged }) => judged) ? "marked" : "unmarked");
  showPlace(word);
  at("practice").hidden = !word.practice;
}

function showPlace({ place }) {
  fill(at("number"), { number: place.done + 1, of: place.of });
  at("bar").max = place.of;
  at("bar").value = place.done;
}

function seen(parts) {
  const element = document.createElement("span");
  element.setAttribute("aria-hidden", "true");
  element.append(...parts.map(part));
  return element;
}

// For a screen reader the word is whole, and its marked letters come after it.
function spoken(parts) {
  const element = document.createElement("span");
  element.className = "out-of-sight";
  const whole = parts.map(({ letters }) => letters).join("");
  const marked = parts.filter(({ judged }) => judged).map(({ letters }) => letters);
  element.textContent = marked.length > 0 ? `${whole}: ${marked.join(", ")}` : whole;
  return element;
}

function part({ letters, judged }) {
  const element = document.createElement(judged ? "mark" : "span");
  element.textContent = letters;
  return element;
}

// Asks what comes, and shows the word in front if it is a new one.
async function refresh() {
  // Words of a speaker whom she knows are never heard: the server has to hear of it first.
  if (outbox.knowsASpeaker) return say(navigator.onLine ? "loading" : "offline");
  try {
    const ahead = await queue.refresh(inHand);
    if (ahead === undefined) return;
    if (ahead === 0 && !queue.current && outbox.count === 0) return location.reload();
  } catch (error) {
    if (!queue.current) refusedToTell(error);
    return;
  }
  if (!queue.current) return render();
  if (queue.current.id !== shown) return arrive();
  showPlace(queue.current);
  heardElsewhere(queue.current.plays);
}

function refusedToTell(error) {
  const status = error instanceof Refused ? error.status : 0;
  // Closed, paused or taken back: the page says so.
  if (status >= 400 && status < 500 && status !== UNKNOWN && !PASSING.includes(status)) return location.reload();
  say(status === UNKNOWN ? "stranger" : "offline");
  setTimeout(refresh, RETRY_MS);
}

// Whether the word in front is in the listener's hands: it stays there, whatever the server has next.
function inHand() {
  return playing || heard.answer !== null || heard.endedAt !== null;
}

function arrive() {
  heard = fresh();
  const word = queue.current;
  shown = word.id;
  // A play that is still to be reported is one that the server does not know of.
  heard.plays = Math.max(word.plays, outbox.plays(word.id));
  showWord(word);
  if (word.practice) practised = true;
  const over = practised && !word.practice;
  if (over) practised = false;
  if (heard.plays > 0) say("heard_before");
  else say(over ? "practice_over" : cutShort >= KEEPS_BREAKING ? "keeps_breaking" : "ready");
  render();
}

function leave() {
  queue.leave();
  heard = fresh();
  shown = null;
  at("aside").open = false;
  if (queue.current) arrive();
  else {
    say("loading");
    render();
    refresh();
  }
}

async function play() {
  const word = queue.current;
  const hearing = heard;
  const repeat = hearing.plays > 0;
  say("nothing");
  playing = true;
  unsaid = null;
  render();
  try {
    await player.wake();
    const sound = await queue.sound(word);
    await new Promise((read) => setTimeout(read, READ_FIRST_MS));
    if (hearing !== heard) return;
    const endedAt = await player.play(sound);
    if (hearing !== heard) return;
    heard.plays += 1;
    heard.endedAt = endedAt;
    outbox.post({ id: word.id, to: "played", body: { play: randomName() } });
    cutShort = 0;
    playing = false;
    if (unsaid) say(unsaid);
  } catch (error) {
    if (hearing === heard) failed(error, word, repeat);
  } finally {
    // Another word may sound by now.
    if (hearing === heard) playing = false;
    render();
  }
}

function failed(error, word, repeat) {
  playing = false;
  if (error instanceof Interrupted) interrupted(word, repeat, error.sounded);
  else if (error instanceof Unreached) untilReached(word);
  else say(error instanceof Blocked ? "blocked" : "broken");
}

// The word in front has not come yet: says so until it is here.
async function untilReached(word) {
  say("offline");
  const waits = () => queue.current === word && !playing && heard.plays === 0;
  while (waits()) {
    await new Promise((again) => setTimeout(again, RETRY_MS));
    const came = await queue.sound(word).then(() => true, (error) => !(error instanceof Unreached));
    if (came && waits()) return say("ready");
  }
}

// A word cut short at its first hearing is not judged: it comes back later, as if it were a new one.
// Nothing is lost by a replay, a practice word, or a word of which nothing sounded.
function interrupted(word, repeat, sounded) {
  if (repeat || word.practice || !sounded) return say(repeat ? "interrupted_again" : "interrupted");
  cutShort += 1;
  outbox.post({ id: word.id, to: "void", body: {} });
  leave();
  say(cutShort >= KEEPS_BREAKING ? "keeps_breaking" : "cut_short");
}

// A report that is sent twice counts once.
function randomName() {
  const bytes = [...crypto.getRandomValues(new Uint8Array(16))];
  return bytes.map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

function onward() {
  if (isOff(next)) return;
  if (heard.answer) {
    leave();
    if (readFirst.checked || !queue.current || isOff(next)) return;
  }
  play();
}

function answer(choice, pressedAt) {
  if (heard.answer === choice) return;
  heard.answer = choice;
  heard.revision += 1;
  const word = queue.current;
  outbox.post({
    id: word.id,
    to: "judgement",
    body: {
      answer: choice,
      revision: heard.revision,
      ...responseTime(pressedAt),
      replays: replays(),
    },
  });
  say(mayChange && !word.practice ? "noted_may_change" : "noted");
  render();
}

// None where the word was heard before the page was loaded.
function responseTime(pressedAt) {
  if (heard.endedAt === null) return { rt_ms: null, rt_grain_ms: null };
  return { rt_ms: Math.max(Math.round(pressedAt - heard.endedAt), 0), rt_grain_ms: grain };
}

function setAside(reason) {
  outbox.post({ id: queue.current.id, to: "aside", body: { reason } });
  if (reason === "known-speaker") queue.clear();
  leave();
}

// What each button does, given the moment of the press.
const acts = new Map([
  [next, onward],
  [again, play],
  ...answers.map((button) => [button, (when) => answer(button.dataset.answer, when)]),
  ...asides.map((button) => [button, () => setAside(button.dataset.aside)]),
]);

function press(button, when) {
  if (!isOff(button)) acts.get(button)(when);
}

for (const button of acts.keys()) {
  button.addEventListener("click", (event) => {
    // A pointer leaves no focus behind, so that the space bar then does what it says.
    if (event.detail > 0) button.blur();
    press(button, event.timeStamp);
  });
}

for (const summary of page.querySelectorAll("summary")) {
  summary.addEventListener("click", (event) => {
    if (event.detail > 0) summary.blur();
  });
}

new Keys({ left: answers[0], right: answers[1], again, next }, press);

const level = at("level");
level.value = player.level;
level.addEventListener("input", () => {
  player.level = level.value;
});

// With the word shown first, a screen reader says it before it sounds; else it would talk over it.
function showFirst() {
  at("word").setAttribute("aria-live", readFirst.checked ? "polite" : "off");
}

readFirst.checked = kept(READ_FIRST) === "yes";
readFirst.addEventListener("change", () => {
  keep(READ_FIRST, readFirst.checked ? "yes" : "no");
  showFirst();
});

showFirst();
render();
outbox.flush().then(refresh);
