// Live refresh, and nothing else: every page works without this.
// It asks for the logbook's version; when that is another than the page was made of, the page is loaded anew.
"use strict";

const made = document.body.dataset.version;
const EACH = 5000; // milliseconds
document.getElementById("live").hidden = false; // said only where it is true

async function look() {
  try {
    const answer = await fetch("/version", {credentials: "same-origin", redirect: "manual"});
    const ended = answer.type === "opaqueredirect"; // nobody is signed in any more: better no page than an old one
    if ((ended || (answer.ok && (await answer.text()) !== made)) && !document.hidden && !busy()) {
      window.location.reload();
      return;
    }
  } catch {
    // The machine sleeps, or the desk was stopped: the page stays as it is.
  }
  window.setTimeout(look, EACH);
}

// Nothing that is being typed or listened to is taken away.
function busy() {
  const typing = document.activeElement instanceof HTMLInputElement || document.activeElement instanceof HTMLTextAreaElement;
  return typing || Array.from(document.querySelectorAll("audio")).some((sound) => !sound.paused);
}

window.setTimeout(look, EACH);
