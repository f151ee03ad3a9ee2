// The hand-over: waits until every answer is sent, takes away what the page kept, then lets the next one come.

import "./handed.js";
import { Outbox, forget } from "./outbox.js";
import { fill, setOff, showOne } from "./show.js";

const form = document.getElementById("hand");
const button = form.querySelector("button");
const outbox = new Outbox({
  changed(count) {
    fill(document.querySelector('[data-sending="waiting"]'), { count });
    showOne("sending", count > 0 ? "waiting" : "sent");
    setOff(button, count > 0);
  },
  stranger() {
    document.getElementById("stranger").hidden = false;
  },
});

form.addEventListener("submit", (event) => {
  if (outbox.count > 0) event.preventDefault();
  else forget();
});

outbox.flush();
