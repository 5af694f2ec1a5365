// Wheel, fingers and keys on a chart, and buttons that do the same for whoever cannot drag.

import { texts } from "./texts.js";

const STEP = 0.7; // of the view that is left by one step of zooming in (our choice)
const DOES = [
  ["+", texts.zoomIn, (chart) => chart.zoom(STEP)],
  ["\u2212", texts.zoomOut, (chart) => chart.zoom(1 / STEP)],
  ["\u25C0", texts.earlier, (chart) => chart.move(-0.5)],
  ["\u25B6", texts.later, (chart) => chart.move(0.5)],
  [texts.all, texts.showAll, (chart) => chart.show(null)],
];

export function buttons(chart) {
  const bar = Object.assign(document.createElement("div"), { className: "chart-bar" });
  for (const [text, title, act] of DOES) {
    const button = Object.assign(document.createElement("button"), { type: "button", className: "button quiet", textContent: text, title });
    button.setAttribute("aria-label", title);
    button.addEventListener("click", () => act(chart));
    bar.append(button);
  }
  bar.append(chart.at);
  chart.frame.addEventListener("keydown", (event) => keys(chart, event));
  return bar;
}

function keys(chart, event) {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const { key, shiftKey } = event;
  const [from, to] = chart.range;
  const x = chart.cursorX ?? (from + to) / 2;
  const step = (to - from) / 60;
  const act = {
    ArrowLeft: () => (shiftKey ? chart.move(-0.1) : chart.point(x - step)),
    ArrowRight: () => (shiftKey ? chart.move(0.1) : chart.point(x + step)),
    "+": () => chart.zoom(STEP),
    "=": () => chart.zoom(STEP),
    "-": () => chart.zoom(1 / STEP),
    0: () => chart.show(null),
  }[key];
  if (!act) return;
  event.preventDefault();
  act();
}

export function hands(chart) {
  const { over } = chart.plot;
  const at = (event) => chart.plot.posToVal(event.clientX - over.getBoundingClientRect().left, "x");
  over.addEventListener("wheel", (event) => {
    if (event.deltaY > 0 && chart.view === null) return; // all is shown: the page scrolls on
    event.preventDefault();
    chart.zoom(event.deltaY < 0 ? STEP : 1 / STEP, at(event));
  }, { passive: false });
  fingers(chart, over);
}

// One finger moves the view sideways, two zoom; up and down stays the page's own scrolling.
function fingers(chart, over) {
  const down = new Map();
  const shares = () => [...down.values()].map((x) => (x - over.getBoundingClientRect().left) / over.clientWidth);
  let held = null; // the times under the fingers
  const hold = () => {
    const [from, to] = chart.range;
    held = shares().slice(0, 2).map((share) => from + share * (to - from));
  };
  over.addEventListener("pointerdown", (event) => {
    if (event.pointerType !== "touch") return;
    down.set(event.pointerId, event.clientX);
    over.setPointerCapture(event.pointerId);
    hold();
  });
  over.addEventListener("pointermove", (event) => {
    if (!down.has(event.pointerId)) return;
    down.set(event.pointerId, event.clientX);
    const [a, b] = shares();
    const [from, to] = chart.range;
    if (held.length === 1) {
      const by = held[0] - (from + a * (to - from));
      if (Math.abs(by) > 0.01 * (to - from)) chart.move(by / (to - from));
    } else if (Math.abs(b - a) > 0.02) {
      const span = (held[1] - held[0]) / (b - a);
      if (span > 0) chart.show([held[0] - a * span, held[0] + (1 - a) * span]);
    }
  });
  for (const kind of ["pointerup", "pointercancel"]) {
    over.addEventListener(kind, (event) => { if (down.delete(event.pointerId)) hold(); });
  }
}
