// The page live: figures as the bench words them, whatever has another shape drawn again by it.

import { follow } from "./live.js";
import { forms, recall } from "./send.js";
import { exchange, figures, times } from "./show.js";
import { duration, seconds } from "./words.js";

const REFRESH_MS = 15000;
const PATIENCE_MS = 5000;
const TOGETHER_MS = 300; // a pulled plug is many events and one redrawing

let asOfS = Number(document.body.dataset.asOf);
let latest = null; // of the figures, until they are drawn
let fetching = 0;

function onEvent(kind, content) {
  document.dispatchEvent(new CustomEvent("news", { detail: { kind, content } }));
  if (kind === "shown") {
    if (!latest) requestAnimationFrame(draw);
    latest = content;
  } else if (kind === "alarm" || kind === "burn") refreshSoon();
}

function draw() {
  const { as_of_s, stations } = latest;
  latest = null;
  asOfS = Math.max(asOfS, as_of_s ?? 0);
  figures(stations);
  // A place that was read by hand for the first time, or moved away, is drawn by the server.
  const places = stations[document.getElementById("curve")?.dataset.station]?.places;
  const drawn = document.querySelectorAll("tr[data-place]");
  if (places && (drawn.length !== Object.keys(places).length || [...drawn].some((row) => !(row.dataset.place in places)))) refreshSoon();
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

async function load() {
  clearTimeout(fetching);
  fetching = 0;
  if (!document.querySelector("[data-part]")) return; // nothing on it is of this moment
  const answer = await fetch(location.pathname, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
  if (!answer.ok) throw new Error(`the page says ${answer.status}`);
  show(new DOMParser().parseFromString(await answer.text(), "text/html"));
}

// The page as the bench has drawn it a moment ago.
function show(fresh) {
  exchange(fresh);
  recall(document);
  document.dispatchEvent(new Event("exchanged"));
}

function refresh() {
  if (document.visibilityState !== "visible") return;
  load().catch(() => { /* the state in the bar tells; the next one tries again */ });
}

function refreshSoon() {
  fetching ||= setTimeout(refresh, TOGETHER_MS);
}

function zones() {
  const minutes = -new Date().getTimezoneOffset();
  const [sign, hours, rest] = document.body.dataset.zone.match(/^([+-])(\d\d)(\d\d)/).slice(1);
  const theirs = (sign === "-" ? -1 : 1) * (Number(hours) * 60 + Number(rest));
  document.getElementById("other-zone").hidden = minutes === theirs;
}

times(document);
zones();
forms(show);
follow({
  async load() {
    await load();
    document.dispatchEvent(new Event("followed")); // what the stream told before is lost
  },
  onEvent,
  onState,
});
setInterval(refresh, REFRESH_MS);
