// The page live: figures by events, whatever has another shape drawn again by the server.

import { follow } from "./live.js";
import { forms, recall } from "./send.js";
import { draw, exchange, times } from "./show.js";
import { duration, seconds } from "./words.js";

const REFRESH_MS = 15000;
const RETRY_MS = 2000;
const TOGETHER_MS = 300; // a pulled plug is many events and one redrawing

const bench = { nowS: Number(document.body.dataset.asOf), stations: new Map(), channels: new Map() };
const curve = document.getElementById("curve");
let asOfS = bench.nowS;
let drawing = false;
let fetching = 0;

function soon() {
  if (drawing) return;
  drawing = true;
  requestAnimationFrame(() => {
    drawing = false;
    draw(bench);
  });
}

function onNow(now) {
  bench.nowS = asOfS = Date.parse(now.time) / 1000;
  bench.stations = new Map(now.stations.map((one) => [one.station, one]));
  bench.channels = new Map(now.channels.map((one) => [one.name, one]));
  soon();
  refresh();
}

function onEvent(kind, content) {
  const atS = kind === "beat" ? content.time_s : Date.parse(content.time) / 1000;
  if (atS !== null) bench.nowS = Math.max(bench.nowS, atS);
  if (kind === "estimate") {
    asOfS = Math.max(asOfS, atS);
    const channel = bench.channels.get(content.channel);
    if (channel) channel.estimate = content;
    else again();
  } else if (kind === "status") bench.stations.set(content.station, content);
  else if (kind !== "beat") refreshSoon();
  soon();
}

// A place that was read by hand for the first time: only the whole state tells where it is.
let asked = false;
async function again() {
  if (asked) return;
  asked = true;
  try {
    onNow(await (await fetch("/api/now", { cache: "no-store" })).json());
  } catch { /* the stream will say that the bench is gone */ } finally {
    asked = false;
  }
}

function onState(state, ageS) {
  document.body.dataset.live = state;
  const word = { live: "live", none: "connecting", offline: "OFFLINE", stands: "FROZEN: not watching" }[state];
  const at = seconds(new Date(asOfS * 1000));
  const age = state === "live" ? at : `last value ${at}, ${duration(ageS)} ago`;
  document.getElementById("live-word").textContent = word;
  document.getElementById("live-age").textContent = age;
  const stands = document.getElementById("stands");
  stands.hidden = state === "live" || state === "none";
  stands.textContent = state === "offline"
    ? "OFFLINE: the bench does not answer and nothing here will warn you. Every figure is old. Stay with the candle."
    : "The bench answers, but it is frozen and watches nothing: every figure is old. Stay with the candle and start the service again.";
}

function refreshSoon() {
  fetching ||= setTimeout(refresh, TOGETHER_MS);
}

async function refresh() {
  clearTimeout(fetching);
  fetching = 0;
  if (document.visibilityState !== "visible") return;
  try {
    const answer = await fetch(location.pathname, { cache: "no-store", signal: AbortSignal.timeout(10000) });
    if (answer.ok) {
      exchange(new DOMParser().parseFromString(await answer.text(), "text/html"));
      recall(document);
      draw(bench);
    }
    await redrawCurve();
  } catch { /* the state in the bar tells; the next beat tries again */ }
}

let curveText = "";
async function redrawCurve() {
  const status = curve && bench.stations.get(curve.dataset.station);
  if (!status?.burn) return;
  const width = Math.floor(curve.clientWidth);
  const answer = await fetch(`/api/curve?station=${encodeURIComponent(status.station)}&width=${width}`, { cache: "no-store" });
  if (!answer.ok) { // a burn recorded this moment has nothing to draw yet
    setTimeout(refreshSoon, RETRY_MS);
    return;
  }
  const text = await answer.text();
  if (text === curveText) return;
  curveText = text;
  const svg = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (svg.localName === "svg") curve.replaceChildren(document.importNode(svg, true));
}

function zones() {
  const minutes = -new Date().getTimezoneOffset();
  const [sign, hours, rest] = document.body.dataset.zone.match(/^([+-])(\d\d)(\d\d)/).slice(1);
  const theirs = (sign === "-" ? -1 : 1) * (Number(hours) * 60 + Number(rest));
  document.getElementById("other-zone").hidden = minutes === theirs;
}

times(document);
zones();
forms(refreshSoon);
follow({ onNow, onEvent, onState });
setInterval(refresh, REFRESH_MS);
addEventListener("resize", () => { if (curve && Math.abs(curve.clientWidth - (curve.firstElementChild?.viewBox?.baseVal.width ?? 0)) > 80) refreshSoon(); });
