// The start of a laptop that is handed round: says whether answers of an earlier listener still wait here.

import "./handed.js";
import { waitingHere } from "./outbox.js";
import { fill } from "./show.js";

const unsent = document.getElementById("unsent");
const count = waitingHere();
fill(unsent, { count });
unsent.hidden = count === 0;
