// Beside the sitting: sends what still waits in this browser, and only then lets a form go its way.

import { Outbox } from "./outbox.js";
import { fill } from "./show.js";

const line = document.querySelector("#unsent > span");
// The form that was sent off while something waited, and the button that did it.
let wanted = null;
let waiting = 0;

const outbox = new Outbox({
  changed(count) {
    line.hidden = count === 0;
    fill(line, { count });
    waiting = count;
    if (!wanted || waiting > 0) return;
    const { form, button } = wanted;
    wanted = null;
    form.requestSubmit(button);
  },
  // Another listener came in here since: the page is hers now.
  stranger() {
    location.assign("/listen");
  },
});

for (const form of document.forms) {
  form.addEventListener("submit", (event) => {
    if (event.defaultPrevented || waiting === 0) return;
    event.preventDefault();
    wanted = { form, button: event.submitter };
    outbox.flush();
  });
}

outbox.flush();
