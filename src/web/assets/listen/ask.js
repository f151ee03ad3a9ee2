// Asks the server as the listener of this page. Nothing is waited for without end: a connection that
// swallows what it is given looks like one that is slow.

const PATIENCE_MS = 15000;
const PATIENCE_FOR_SOUND_MS = 60000;
const TAG = document.querySelector("[data-tag]")?.dataset.tag;

/** Like fetch, with the body read by `read` before it resolves: { answer, said }. */
export async function ask(address, options, read = (answer) => answer.json().catch(() => null)) {
  return within(PATIENCE_MS, address, options, read);
}

/** The same for a sound, which may take longer. */
export async function askSound(address) {
  return within(PATIENCE_FOR_SOUND_MS, address, {}, (answer) => answer.arrayBuffer());
}

async function within(patience, address, options, read) {
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
