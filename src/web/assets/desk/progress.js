// Looks how far a piece of work has come, and shows its end when it has one.

const main = document.querySelector("[data-running]");
if (main) {
  const bar = main.querySelector("progress");
  const said = main.querySelector("[data-said]");
  const look = async () => {
    try {
      const state = await (await fetch(main.dataset.running)).json();
      if (state.ended) {
        location.reload();
        return;
      }
      if (state.of > 0) {
        bar.max = state.of;
        bar.value = state.done;
        said.textContent = `${state.done} of ${state.of} recordings prepared`;
      }
    } catch {
      // The server may be starting again; the next look tells.
    }
    setTimeout(look, 700);
  };
  look();
}
