// The next rows are fetched when the end of the sheet comes near. Without this the link does it.
"use strict";

function watch(table) {
  const foot = table.querySelector(".following");
  if (!foot) return;
  const eye = new IntersectionObserver(async (seen) => {
    if (!seen.some((each) => each.isIntersecting)) return;
    eye.disconnect();
    const address = new URL(foot.querySelector("a").href);
    address.searchParams.set("part", "rows");
    const answer = await fetch(address, { headers: { Accept: "text/html" } });
    if (!answer.ok) return; // the link stays
    const more = document.createElement("table");
    more.innerHTML = await answer.text();
    foot.remove();
    table.append(...more.querySelectorAll("tbody, tfoot"));
    watch(table);
  }, { root: table.closest(".sheet"), rootMargin: "600px" });
  eye.observe(foot);
}

document.querySelectorAll("table.matrix").forEach(watch);
