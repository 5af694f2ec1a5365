// Figures as a person reads them; the same words as the server's first drawing of the page.

const units = JSON.parse(document.body.dataset.units);
const oldS = Number(document.body.dataset.oldS);
const BY_HAND = "by-hand";

const rounded = (value, digits) => {
  const text = value.toFixed(digits);
  return Number(text) === 0 ? (0).toFixed(digits) : text; // no -0.0
};

export function figure(value, quantity) {
  const unit = units[quantity];
  return `${rounded((value - unit.offset) / unit.factor, unit.digits)} ${unit.symbol}`;
}

export function difference(value, quantity) {
  const unit = units[quantity];
  return rounded(value / unit.factor, unit.digits);
}

export function duration(seconds) {
  if (seconds < 99.5) return `${Math.round(seconds)} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `${minutes} min`;
  const hours = `${Math.floor(minutes / 60)} h`;
  return minutes % 60 ? `${hours} ${String(minutes % 60).padStart(2, "0")} min` : hours;
}

export function clock(at, now = new Date()) {
  const time = at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  if (at.toDateString() === now.toDateString()) return time;
  return `${at.toLocaleDateString("en-GB", { day: "numeric", month: "short" })}, ${time}`;
}

export const seconds = (at) => at.toLocaleTimeString("en-GB");

// Value plus expanded uncertainty against the limits of its vessel: short, in words, and the level.
function margin(upper, status) {
  const left = status.limit_c - upper;
  const short = difference(Math.abs(left), "temperature");
  const figure = `${short} ${units.temperature.symbol}`;
  if (left < 0) return [`OVER LIMIT ${short}`, `OVER LIMIT by ${figure} (counting ±)`, "over"];
  if (upper > status.alert_c) return [`near, ${short} left`, `near limit, ${figure} left`, "near"];
  return [`${short} left`, `${figure} left to limit`, "under"];
}

export const onVessel = (channel) =>
  channel.quantity === "temperature" && ["wall", "rim", "base"].includes(channel.place);

// One place: what is shown of it at `nowS`, bench time.
export function place(channel, status, nowS) {
  const estimate = channel.estimate;
  const ageS = estimate ? Math.max(0, nowS - Date.parse(estimate.time) / 1000) : 0;
  const byHand = channel.instrument === BY_HAND;
  const state = !estimate || estimate.value === null ? "none"
    : estimate.quality === "lost" ? "lost"
    : byHand && ageS > oldS ? "old"
    : estimate.quality;
  const shown = { state, level: "", value: "no reading", spread: "", margin: "", marginWords: "", beside: "", said: "", upper: null };
  if (state !== "none" && state !== "lost") {
    shown.value = figure(estimate.value, channel.quantity);
    if (estimate.standard_uncertainty !== null) {
      shown.spread = `± ${difference(2 * estimate.standard_uncertainty, channel.quantity)}${estimate.accuracy_assumed ? " assumed" : ""}`;
      if (status && onVessel(channel)) {
        shown.upper = estimate.value + 2 * estimate.standard_uncertainty;
        [shown.margin, shown.marginWords, shown.level] = margin(shown.upper, status);
      }
    }
  }
  if (byHand && estimate) shown.said = `by hand, ${duration(ageS)} ago`;
  else shown.said = { none: "no reading yet", lost: "no reading", doubtful: "doubtful" }[state] ?? "";
  shown.beside = state !== "doubtful" ? shown.margin
    : shown.level === "over" ? "OVER, doubtful"
    : `doubtful, ${shown.margin.replace("near, ", "")}`;
  return shown;
}
