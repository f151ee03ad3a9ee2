// Looks again and again whether a device opened the test address, and says so in place.
const said = document.getElementById("seen");
const again = document.getElementById("again");

if (said && again) {
  again.hidden = true;
  let before = said.textContent;
  setInterval(async () => {
    try {
      const answer = await fetch("/desk/reach/seen");
      const { said: now } = await answer.json();
      if (now && now !== before) {
        before = now;
        said.textContent = now;
      }
    } catch {
      // The server is away for a moment: the next look tells.
    }
  }, 2000);
}
