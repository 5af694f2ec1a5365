// The page of curves: its chart, and table and list of the same stretch of time; the address bar
// has a link to exactly this view.

import { Chart } from "./chart.js";
import { localized } from "./show.js";
import { filled, texts } from "./texts.js";

const QUIET_MS = 500; // after the last step of zooming the table is asked for

const root = document.getElementById("chart");
const asked = new URLSearchParams(location.search);
let timer = 0;

const view = asked.has("from") && asked.has("to") ? [Number(asked.get("from")), Number(asked.get("to"))] : null;
const chart = new Chart(root, {
  source: root.dataset.source,
  view,
  off: (asked.get("off") ?? "").split(",").filter(Boolean),
  onView(range, off) {
    const query = new URLSearchParams(location.search);
    for (const name of ["from", "to", "off"]) query.delete(name);
    if (range) {
      query.set("from", range[0].toFixed(1));
      query.set("to", range[1].toFixed(1));
    }
    if (off.length) query.set("off", off.sort().join(","));
    const words = query.toString();
    history.replaceState(null, "", words ? `?${words}` : location.pathname);
    link.href = location.href;
    clearTimeout(timer);
    timer = setTimeout(() => table().catch(() => { /* the next view asks again */ }), QUIET_MS);
  },
});

const link = Object.assign(document.createElement("a"), { className: "button quiet", textContent: texts.link, href: location.href });

async function table() {
  const answer = await fetch(location.href, { cache: "no-store" });
  if (!answer.ok) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const id of ["figures", "happened"]) {
    const [mine, theirs] = [document.getElementById(id), fresh.getElementById(id)];
    if (!mine || !theirs) continue;
    mine.replaceChildren(...[...theirs.childNodes].map((node) => document.importNode(node, true)));
    localized(mine);
  }
}

document.addEventListener("click", (event) => {
  const to = event.target.closest?.("[data-at]");
  if (!to) return;
  event.preventDefault();
  chart.point(Number(to.dataset.at));
  root.scrollIntoView({ block: "nearest" });
});

async function begin() {
  try {
    await chart.reload();
  } catch (error) {
    root.textContent = filled(texts.noChart, { reason: error.message });
    return;
  }
  root.after(link);
  if (!chart.story.live) return;
  const again = () => Promise.all([chart.reload(), table()]).catch(() => { /* the bar tells it */ });
  document.addEventListener("followed", again);
  document.addEventListener("news", ({ detail: { kind, content } }) => {
    if (kind === "estimate") chart.add(content);
    else if (kind === "alarm" || kind === "burn") {
      clearTimeout(timer);
      timer = setTimeout(again, QUIET_MS);
    }
  });
}

begin();
