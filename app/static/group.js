// Keeps the ticks of a group on this phone until they are signed, also without network.
//
// Kept are numbers alone: the session, the wording, the technician, each person's newest record,
// and what was ticked. They end with the sign-out, with another technician, and by themselves
// after the hours that the page says. What happened meanwhile is shown, and never signed over:
// whoever has another record since, or came since, is set aside until the technician says so.
// The page works without this script.
(() => {
  "use strict";
  const MARK = "chuckkey group ";
  const STORE = "chuckkey group";
  const FIELDS = ["aside", "here", "seen", "lacking", "supervised", "not_yet", "shorter"];
  const ASSETS = ["site.css", "languages.css", "group.css", "group.js", "mark.svg"].map(
    (name) => `/static/${name}`,
  );
  const RETRY_MS = 10_000;
  const place = document.getElementById("kept");
  const form = document.getElementById("group");
  const own = place && MARK + place.dataset.session;
  const keptFor = place ? place.dataset.hours * 3_600_000 : 0;

  const boxes = (name) => [...form.querySelectorAll(`input[type=checkbox][name=${name}]`)];
  const ticked = (name) => boxes(name).filter((box) => box.checked).map((box) => box.value);
  const records = () =>
    Object.fromEntries(
      [...form.querySelectorAll("input[name^=record_]")].map((it) => [it.name.slice(7), it.value]),
    );
  const nameOf = (person) => {
    const row = document.querySelector(`[data-not-open="${person}"] b`);
    const box = form && boxes("aside").find((it) => it.value === person);
    return row?.textContent ?? box?.closest("label").textContent.trim() ?? "Somebody";
  };
  const time = (at) =>
    new Date(at).toLocaleString("en-GB", { weekday: "short", hour: "2-digit", minute: "2-digit" });

  // --- what is kept ---

  const read = (name) => {
    try {
      return JSON.parse(localStorage.getItem(name));
    } catch {
      return null;
    }
  };
  const dropWhatIsOver = () => {
    for (const name of Object.keys(localStorage).filter((each) => each.startsWith(MARK))) {
      const kept = read(name);
      const good = kept?.technician === place.dataset.technician && Date.now() - kept.at < keptFor;
      if (!good) localStorage.removeItem(name);
    }
  };
  const keep = (at = Date.now()) => {
    const ticks = Object.fromEntries(FIELDS.map((name) => [name, ticked(name)]));
    const kept = {
      technician: place.dataset.technician,
      revision: place.dataset.revision,
      key: form.elements.key.value,
      at,
      records: records(),
      ticks,
    };
    localStorage.setItem(own, JSON.stringify(kept));
  };

  // --- what comes back, and what does not ---

  // What was seen on the shorter path is no full one: whoever may not take it is set aside.
  const notOpen = (kept, person) =>
    kept.ticks.shorter?.includes(person) && !boxes("shorter").some((box) => box.value === person);
  const conflicts = (kept) => {
    const found = [];
    const now = form ? records() : {};
    for (const [person, record] of Object.entries(kept.records)) {
      if (kept.ticks.aside.includes(person)) continue;
      const row = document.querySelector(`[data-not-open="${person}"]`);
      if (row?.dataset.by === kept.technician) continue; // recorded by this very technician
      if (row) found.push([person, row.querySelector("small").textContent]);
      else if (!(person in now)) found.push([person, "has no place in this session any more."]);
      else if (now[person] !== record) found.push([person, "another result was recorded since."]);
      else if (notOpen(kept, person)) found.push([person, "the shorter path is not open to them."]);
    }
    return found;
  };
  const bringBack = (kept) => {
    const now = records();
    form.elements.key.value = kept.key;
    for (const name of FIELDS) {
      for (const box of boxes(name)) box.checked = kept.ticks[name]?.includes(box.value) ?? false;
    }
    const since = Object.keys(now).filter(
      (person) => kept.records[person] !== now[person] || notOpen(kept, person),
    );
    for (const box of boxes("aside")) if (since.includes(box.value)) box.checked = true;
    return since.filter((person) => !(person in kept.records));
  };
  const say = (kept, lines, open) => {
    const told = document.createElement("p");
    const rest = open ? "They are not signed yet." : "Those of these people were not signed.";
    told.textContent = `Ticks of ${time(kept.at)} are kept on this phone. ${rest}`;
    place.append(told);
    if (lines.length) {
      const list = document.createElement("ul");
      for (const [person, why] of lines) {
        const item = document.createElement("li");
        const name = document.createElement("b");
        name.textContent = `${nameOf(person)}: `;
        item.append(name, why);
        list.append(item);
      }
      place.append("Not taken over:", list);
    }
    const forget = document.createElement("button");
    forget.type = "button";
    forget.className = "second small";
    forget.textContent = "Forget these ticks";
    forget.addEventListener("click", () => {
      localStorage.removeItem(own);
      location.assign(location.pathname);
    });
    place.append(forget);
    place.hidden = false;
  };
  const takeUp = () => {
    const kept = read(own);
    if (!kept) return;
    if (document.querySelector(".problem[data-answers]")) {
      // The answer to what was sent: it has said itself what became of the ticks.
      if (form) keep(kept.at);
      else localStorage.removeItem(own);
      return;
    }
    if (kept.revision !== place.dataset.revision) {
      place.textContent =
        `Ticks of ${time(kept.at)} were made under an earlier wording of this induction, and ` +
        "are not taken over. Look at the items, and tick again.";
      place.hidden = false;
      localStorage.removeItem(own);
      return;
    }
    const lines = conflicts(kept);
    const open =
      form &&
      Object.keys(records()).some((it) => it in kept.records && !kept.ticks.aside.includes(it));
    if (!open && !lines.length) {
      localStorage.removeItem(own); // all of it is on record
      return;
    }
    const since = open ? bringBack(kept) : [];
    if (open) form.closest("details")?.setAttribute("open", "");
    say(kept, [...lines, ...since.map((person) => [person, "came since, and is set aside."])], open);
  };

  // --- what follows, as it is ticked ---

  const follows = () => {
    const aside = new Set(ticked("aside"));
    const here = boxes("aside").filter((box) => !aside.has(box.value)).map((box) => box.value);
    const lacking = new Set(ticked("lacking"));
    const shorter = new Set(ticked("shorter"));
    const needed = [...form.querySelectorAll(".item")].flatMap((row) => {
      const seen = row.querySelector("input[name=seen]").checked;
      const both = "both" in row.dataset;
      return row.dataset.needed.split(" ").filter(Boolean).map((item) => ({ item, seen, both }));
    });
    const result = (person) => {
      if (ticked("not_yet").includes(person)) return "not yet";
      if (ticked("supervised").includes(person)) return "with supervision";
      const own = shorter.has(person) ? needed.filter(({ both }) => both) : needed;
      const all = own.every(({ item, seen }) => seen && !lacking.has(`${person}:${item}`));
      return all ? "on their own" : "not yet";
    };
    const words = ["on their own", "with supervision", "not yet"].flatMap((word) => {
      const people = here.filter((person) => result(person) === word);
      const some = word === "on their own" || people.length > 4 ? "" : people.map(nameOf).join(", ");
      return people.length ? `${people.length} ${word}${some ? ` (${some})` : ""}` : [];
    });
    if (aside.size) words.push(`${aside.size} not here`);
    return words.join(", ");
  };
  const show = () => {
    const tally = document.getElementById("tally");
    tally.textContent = `Of ${boxes("aside").length}: ${follows()}.`;
    tally.hidden = !ticked("seen").length;
    for (const details of form.querySelectorAll(".except")) {
      const summary = details.querySelector("summary");
      const named = [...details.querySelectorAll("input:checked")].map((box) =>
        box.closest("label").textContent.trim(),
      );
      summary.dataset.plain ??= summary.textContent;
      summary.classList.toggle("some", named.length > 0);
      const plain = summary.dataset.plain;
      summary.textContent = named.length ? plain.replace("…", named.join(", ")) : plain;
    }
  };

  // --- the network ---

  const offline = document.getElementById("offline");
  const signing = document.getElementById("signing");
  const reached = async () => {
    try {
      return (await fetch("/sessions/group/worker.js", { method: "HEAD", cache: "no-store" })).ok;
    } catch {
      return false;
    }
  };
  const without = () => {
    signing.hidden = true;
    offline.hidden = false;
    offline.textContent =
      "No network: nothing is recorded yet. Your ticks stay on this phone until " +
      `${time(Date.now() + keptFor)}; sign when the network is back.`;
    const again = setInterval(tryAgain, RETRY_MS);
    async function tryAgain() {
      if (!(await reached())) return;
      clearInterval(again);
      removeEventListener("online", tryAgain);
      const onwards = document.createElement("a");
      onwards.className = "button";
      onwards.href = location.pathname; // anew: the signature is asked for, and what changed shows
      onwards.textContent = "Go on to sign";
      offline.replaceChildren("The network is back. ", onwards);
    }
    addEventListener("online", tryAgain);
  };
  let away = false;
  const look = async () => {
    if (away || (navigator.onLine && (await reached()))) return;
    away = true;
    without();
  };
  const keepThisPage = async () => {
    if (!("serviceWorker" in navigator) || !("caches" in window)) return; // only over HTTPS
    await navigator.serviceWorker.register("/sessions/group/worker.js");
    await navigator.serviceWorker.ready;
    const store = await caches.open(STORE);
    const answer = await fetch(location.pathname);
    if (!answer.ok || answer.redirected) return;
    for (const request of await store.keys()) {
      const other = await store.match(request);
      const by = other.headers.get("X-Kept-By");
      if (by && by !== place.dataset.technician) await store.delete(request);
    }
    const headers = new Headers(answer.headers);
    headers.set("X-Kept-By", place.dataset.technician);
    headers.set("X-Kept-Until", String(Date.now() + keptFor));
    await store.put(location.pathname, new Response(await answer.blob(), { headers }));
    const fonts = performance.getEntriesByType("resource").map((it) => it.name);
    await store.addAll([...ASSETS, ...fonts.filter((name) => name.includes("/static/fonts/"))]);
    document.getElementById("ready").hidden = false;
  };

  if (!place) return;
  try {
    dropWhatIsOver();
    takeUp();
  } catch {
    return; // a browser that keeps nothing: the page stays as it came
  }
  if (!form) return;
  form.addEventListener("change", (event) => {
    if (event.target.type !== "checkbox") return;
    keep();
    show();
  });
  form.addEventListener("submit", (event) => {
    const kept = read(own);
    if (kept) form.elements.age.value = Math.round((Date.now() - kept.at) / 1000);
    if (!navigator.onLine) {
      event.preventDefault();
      look();
    }
  });
  addEventListener("offline", look);
  show();
  look().then(() => away || keepThisPage()).catch(() => {});
})();
