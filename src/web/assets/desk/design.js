// Forecasts again at every change of the form, and tells at each field what is wrong with it.
const form = document.querySelector("form.design");
const PATIENCE_MS = 350;

if (form) {
  let waiting;
  let asked = new AbortController();

  // What stands in the page is taken over from the fresh one, the fields themselves left alone.
  const takeOver = (fresh) => {
    for (const error of document.querySelectorAll(".field .error")) {
      const now = fresh.getElementById(error.id);
      const field = error.closest(".field");
      error.textContent = now ? now.textContent : "";
      field.classList.toggle("wrong", error.textContent !== "");
    }
    for (const id of ["forecast", "proof"]) {
      const here = document.getElementById(id);
      const open = here.querySelector("details")?.open;
      const said = document.getElementById("forecast-said");
      const next = fresh.getElementById(id);
      if (!next) {
        continue;
      }
      // The line that is read out stays in its place, so that its change is heard.
      const nextSaid = next.querySelector("#forecast-said");
      if (nextSaid) {
        if (said.textContent !== nextSaid.textContent) {
          said.textContent = nextSaid.textContent;
        }
        nextSaid.replaceWith(said);
      }
      here.replaceChildren(...next.childNodes);
      const details = here.querySelector("details");
      if (details && open) {
        details.open = true;
      }
    }
  };

  const again = async () => {
    asked.abort();
    asked = new AbortController();
    const forecast = document.getElementById("forecast");
    forecast.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch("/desk/rounds/new/forecast", {
        method: "POST",
        body: new URLSearchParams(new FormData(form)),
        signal: asked.signal,
      });
      if (answer.ok) {
        takeOver(new DOMParser().parseFromString(await answer.text(), "text/html"));
      }
      forecast.removeAttribute("aria-busy");
    } catch (error) {
      // A newer change asks instead; or the server is away for a moment, and the button still works.
      if (error.name !== "AbortError") {
        forecast.removeAttribute("aria-busy");
      }
    }
  };

  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(again, PATIENCE_MS);
  });
}
