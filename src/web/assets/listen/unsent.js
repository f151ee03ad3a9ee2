// Beside the sitting: sends what still waits in this browser, and only then lets a form go its way.

import { Outbox } from "./outbox.js";
import { fill } from "./show.js";

const line = document.querySelector("#unsent > span");
// The form that was sent off while something waited, and the button that did it.
let wanted = null;

const outbox = new Outbox({
  changed(count) {
    line.hidden = count === 0;
    fill(line, { count });
    if (wanted && outbox.count === 0) wanted.form.requestSubmit(wanted.button);
  },
});

for (const form of document.forms) {
  form.addEventListener("submit", (event) => {
    if (outbox.count === 0) return;
    event.preventDefault();
    wanted = { form, button: event.submitter };
    outbox.flush();
  });
}

outbox.flush();
