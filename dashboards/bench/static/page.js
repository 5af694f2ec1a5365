// The page live: figures as the bench words them, whatever has another shape drawn again by it.

import { follow } from "./live.js";
import { forms, recall } from "./send.js";
import { announce, stayAwake } from "./say.js";
import { exchange, figures, localized } from "./show.js";
import { filled, texts } from "./texts.js";
import { duration, seconds } from "./words.js";

const REFRESH_MS = 1000 * (document.querySelector("[data-refresh-s]")?.dataset.refreshS ?? 15);
const PATIENCE_MS = 5000;
const TOGETHER_MS = 300; // a pulled plug is many events and one redrawing

const STANDS = { offline: texts.standsOffline, stands: texts.standsFrozen };

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

function write(id, text) { // only what changed: what is written is read aloud
  const node = document.getElementById(id);
  if (node.textContent !== text) node.textContent = text;
}

function onState(state, ageS) {
  document.body.dataset.live = state;
  const word = { live: texts.live, none: texts.connecting, offline: texts.offline, stands: texts.frozen }[state];
  const at = seconds(new Date(asOfS * 1000));
  const age = state === "live" ? at : filled(texts.lastValue, { time: at, age: duration(ageS) });
  write("live-word", word);
  write("live-age", age);
  document.getElementById("stands").hidden = !(state in STANDS);
  write("stands", STANDS[state] ?? "");
}

async function load() {
  clearTimeout(fetching);
  fetching = 0;
  const from = document.querySelector("[data-bar-from]")?.dataset.barFrom ?? location.pathname + location.search;
  const answer = await fetch(from, { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
  if (!answer.ok) throw Object.assign(new Error(`${answer.status}`), { answered: true });
  show(new DOMParser().parseFromString(await answer.text(), "text/html"));
}

// The page as the bench has drawn it a moment ago.
function show(fresh) {
  exchange(fresh);
  document.body.toggleAttribute("data-burning", "burning" in fresh.body.dataset);
  announce();
  stayAwake();
  recall(document);
  document.dispatchEvent(new Event("exchanged"));
}

function refresh() {
  if (document.visibilityState !== "visible") return;
  load().catch((error) => { if (!error.answered) news.lost(); });
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

localized(document.body);
announce();
stayAwake();
zones();
const news = follow({
  async load() {
    await load();
    document.dispatchEvent(new Event("followed")); // what the stream told before is lost
  },
  onEvent,
  onState,
});
forms(show, news.lost);
setInterval(refresh, REFRESH_MS);
document.addEventListener("visibilitychange", stayAwake);
addEventListener("offline", refresh); // a bench on this very machine may answer all the same
