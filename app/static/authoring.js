// Saves a draft's form while it is written. Without it the buttons do the same.
// What could not be sent stays in the form, and in this browser until it was saved.
"use strict";

const PAUSE = 2500; // milliseconds without a key before a save
const AGAIN = 20000; // until the next try where there is no connection
const NOT_KEPT = new Set(["csrf_token", "act"]);

for (const form of document.querySelectorAll("form[data-autosave]")) {
  const said = form.querySelector("[data-saved]");
  const place = "draft " + form.getAttribute("action");
  let timer = 0;
  let busy = false;
  let changed = 0; // counts changes, so that one during a save is not taken as saved

  const say = (words, trouble) => {
    said.textContent = words;
    said.dataset.state = trouble ? "trouble" : "";
  };
  const fields = () => new URLSearchParams(new FormData(form));
  const keep = () => {
    const kept = [...fields()].filter(([name]) => !NOT_KEPT.has(name));
    try {
      localStorage.setItem(place, JSON.stringify(kept));
    } catch {
      // A browser that keeps nothing: the words are still in the form.
    }
  };
  const forget = () => {
    try {
      localStorage.removeItem(place);
    } catch {
      // Nothing was kept.
    }
  };
  const later = (pause) => {
    clearTimeout(timer);
    timer = setTimeout(save, pause);
  };

  // Resolves to the status of the answer; 0 where there was none.
  async function save() {
    if (busy) {
      later(PAUSE);
      return 0;
    }
    busy = true;
    clearTimeout(timer);
    const at = changed;
    const body = fields();
    body.set("act", "save");
    try {
      const answer = await fetch(form.action, {
        method: "POST",
        body,
        headers: { Accept: "application/json" },
        redirect: "error",
      });
      const told = await answer.json();
      if (answer.ok) {
        form.elements.version.value = told.version;
        form.elements.seen.value = told.seen;
        say(told.words, false);
        if (at === changed) forget();
        else later(PAUSE);
      } else {
        say("Not saved: " + told.error.message, true);
      }
      return answer.status;
    } catch {
      say("Not saved: no connection. Your words stay here and are sent again.", true);
      later(AGAIN);
      return 0;
    } finally {
      busy = false;
    }
  }

  function putBack() {
    let kept = null;
    try {
      kept = JSON.parse(localStorage.getItem(place));
    } catch {
      return;
    }
    if (!Array.isArray(kept)) return;
    const words = new Map();
    for (const [name, value] of kept) words.set(name, [...(words.get(name) ?? []), value]);
    for (const each of form.elements) {
      if (!each.name || NOT_KEPT.has(each.name) || each.type === "submit") continue;
      const values = words.get(each.name) ?? [];
      if (each.type === "checkbox" || each.type === "radio") each.checked = values.includes(each.value);
      else if (values.length) each.value = values[0];
    }
    say("Words that were not saved last time were put back. Look at them, then save.", true);
    changed += 1;
  }

  form.addEventListener("input", () => {
    changed += 1;
    keep();
    say("Not saved yet.", false);
    later(PAUSE);
  });
  // A button saves the words first and leaves the page only when they are kept, or when the
  // answer is a page with two texts.
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const act = event.submitter ? event.submitter.value : "save";
    while (busy) await new Promise((done) => setTimeout(done, 100));
    const status = await save();
    if (status !== 200 && status !== 409) return;
    forget();
    const chosen = document.createElement("input");
    chosen.type = "hidden";
    chosen.name = "act";
    chosen.value = act;
    form.append(chosen);
    form.submit();
  });
  window.addEventListener("online", () => later(0));
  putBack();
}
