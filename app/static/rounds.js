// Keeps a round that was begun on this phone, so that a reload or a dead spot loses nothing.
// The page works without it. Marks of another day are dropped. A tick that speaks for several
// checks comes back only over the very same checks, so that it never speaks for one unseen.
(() => {
  "use strict";
  const MARK = "chuckkey round ";
  const form = document.querySelector("form[data-kept]");
  if (!form) return;
  const [, day] = form.dataset.kept.match(/(\S+)$/);
  const own = MARK + form.dataset.kept;

  const fields = () => [...form.elements].filter((field) => field.name && field.type !== "hidden");
  const choice = (field) => field.type === "checkbox" || field.type === "radio";
  const nameOf = (field) => (field.type === "radio" ? `${field.name}=${field.value}` : field.name);
  const spokenFor = (field) => {
    if (field.type !== "checkbox") return "";
    const place = field.name === "all" ? form : field.closest("fieldset");
    return [...place.querySelectorAll("input[name=line]")].map((line) => line.value).join(" ");
  };

  const keep = () => {
    const kept = {};
    for (const field of fields()) {
      const value = choice(field) ? field.checked : field.value;
      if (value) kept[nameOf(field)] = { value, over: spokenFor(field) };
    }
    localStorage.setItem(own, JSON.stringify(kept));
  };

  const bringBack = () => {
    const kept = JSON.parse(localStorage.getItem(own) || "{}");
    for (const field of fields()) {
      const before = kept[nameOf(field)];
      if (!before || before.over !== spokenFor(field)) continue;
      if (choice(field)) field.checked = true;
      else if (!field.value) field.value = before.value;
      const folded = field.closest("details");
      if (folded && field.value) folded.open = true;
    }
  };

  try {
    for (const name of Object.keys(localStorage)) {
      if (name.startsWith(MARK) && !name.endsWith(day)) localStorage.removeItem(name);
    }
    bringBack();
    form.addEventListener("input", keep);
    form.addEventListener("change", keep);
  } catch {
    // A browser that keeps nothing: the page stays as it came.
  }
})();
