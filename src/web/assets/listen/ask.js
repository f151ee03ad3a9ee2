// Asks the server as the listener of this page, and never waits without end: a connection may swallow all.

const PATIENCE_MS = 15000;
const PATIENCE_FOR_SOUND_MS = 60000;
const TAG = document.querySelector("[data-tag]")?.dataset.tag;

/** Like fetch, with the body read by `read` before it resolves: { answer, said }. */
export async function ask(address, options = {}, read = asJson, patience = PATIENCE_MS) {
  const lost = new AbortController();
  const timer = setTimeout(() => lost.abort(), patience);
  // Another listener may have come in at this browser since: the server then answers nothing.
  const headers = { ...options.headers, ...(TAG && { "listener-tag": TAG }) };
  try {
    const answer = await fetch(address, { cache: "no-store", ...options, headers, signal: lost.signal });
    return { answer, said: await read(answer) };
  } finally {
    clearTimeout(timer);
  }
}

/** The same for a sound, which may take longer. */
export function askSound(address) {
  return ask(address, {}, (answer) => answer.arrayBuffer(), PATIENCE_FOR_SOUND_MS);
}

function asJson(answer) {
  return answer.json().catch(() => null);
}
