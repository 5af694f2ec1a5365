// The curve on a station's page: a chart that takes what is new from the stream; where the program
// was built without one, the server's drawing, fetched again and again.

const AGAIN_MS = 15000;
const TOGETHER_MS = 500; // a pulled plug is many events and one look at what happened
const RETRY_MS = 2000;

const root = document.getElementById("curve");
let chart = null;
let timer = 0;
let text = "";

let shown = ""; // which burn, and which of its places

const burnNow = () => document.querySelector('[data-part="curve-of"] [data-burn]')?.dataset.burn ?? "";
const placesNow = () => [burnNow(), ...[...document.querySelectorAll("tr[data-place]")].map((row) => row.dataset.place)].join(" ");

async function charted(burn) {
  const source = `burn=${encodeURIComponent(burn)}`;
  if (chart?.source !== source) {
    const { Chart } = await import("./chart.js"); // after the figures, which matter more
    chart = new Chart(root, { source });
  }
  await chart.reload();
}

async function drawn() {
  const width = Math.floor(root.clientWidth);
  const answer = await fetch(`/api/curve?station=${encodeURIComponent(root.dataset.station)}&width=${width}`, { cache: "no-store" });
  if (!answer.ok) throw new Error(`${answer.status}`);
  const found = await answer.text();
  if (found === text) return;
  text = found;
  const svg = new DOMParser().parseFromString(found, "image/svg+xml").documentElement;
  if (svg.localName === "svg") root.replaceChildren(document.importNode(svg, true));
}

function update() {
  clearTimeout(timer);
  const burn = burnNow();
  shown = placesNow();
  if (!burn || document.visibilityState !== "visible") return;
  root.classList.add("drawn");
  const draw = root.dataset.chart ? charted(burn) : drawn();
  // a burn recorded this moment has nothing to draw yet
  draw.catch(() => { timer = setTimeout(update, RETRY_MS); });
}

function soon() {
  clearTimeout(timer);
  timer = setTimeout(update, TOGETHER_MS);
}

if (root) {
  document.addEventListener("followed", update);
  document.addEventListener("exchanged", () => { if (placesNow() !== shown) soon(); });
  document.addEventListener("news", ({ detail: { kind, content } }) => {
    if (kind === "estimate") {
      if (chart?.add(content) === "by-hand") soon();
    } else if (kind === "alarm" || kind === "burn") soon();
  });
  if (!root.dataset.chart) setInterval(update, AGAIN_MS);
}
