// A chart of curves: data of what is in view, zoomed and moved; places switched on and off.
// What is drawn on it is in chart_paint.js, hands and keys in chart_hands.js.

import { ChartData, LEAST_S, json, wholeOf } from "./chart_data.js";
import { buttons, hands } from "./chart_hands.js";
import { paint } from "./chart_paint.js";
import { legend } from "./chart_places.js";
import { filled, texts } from "./texts.js";
import { clock, hours, seconds } from "./words.js";

const SETTLE_MS = 120; // after the last turn of the wheel the view is asked for anew
const STEPS_S = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200,
  86400, 172800, 604800, 1209600, 2592000, 7776000];
const DAY_S = 86400;

const loading = new Map();
function load(tag, attributes) { // a script or style sheet, once
  const key = attributes.src ?? attributes.href;
  if (!loading.has(key)) {
    loading.set(key, new Promise((done, failed) => {
      const node = Object.assign(document.createElement(tag), attributes);
      node.onload = done;
      node.onerror = () => {
        loading.delete(key); // the bench was away: the next time asks again
        failed(new Error(filled(texts.notLoaded, { address: key })));
      };
      document.head.append(node);
    }));
  }
  return loading.get(key);
}

export class Chart extends ChartData {
  // `onView(view, off)` hears of a view that a person chose; `view` is null for the whole.
  constructor(root, { source, view = null, off = [], onView = () => {} }) {
    super();
    this.root = root;
    this.source = source;
    this.onView = onView;
    this.view = view; // [from, to]; null follows the whole
    this.off = new Set(off);
    this.story = null;
    this.plot = null;
    this.singles = new Map(); // by line: times, values, rejected
    this.waiting = null;
    this.timer = 0;
    this.fresh = 0;
    root.classList.add("chart");
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.build());
    new ResizeObserver(() => this.fit()).observe(root);
  }

  // Everything anew: what happened, and the series. Throws where the bench does not answer.
  async reload() {
    const [story] = await Promise.all([
      json(`/api/curves?${this.source}`),
      load("script", { src: "/static/uPlot.js" }),
      load("link", { rel: "stylesheet", href: "/static/uPlot.css" }),
      load("link", { rel: "stylesheet", href: "/static/chart.css" }),
    ]);
    const lines = story.lines.map((line, number) => ({ ...line, number, shown: !this.off.has(line.letter) }));
    const found = await this.fetchSeries(story, lines);
    Object.assign(this, { story, lines }); // all at once: estimates come meanwhile
    this.take(found);
    this.build();
  }

  get whole() { return wholeOf(this.story); }

  get range() { return this.view ?? this.whole; }

  shown(celsius) { // in the unit of the bench's pages
    const { factor, offset } = this.story.unit;
    return celsius === null ? null : (celsius - offset) / factor;
  }

  figure(value, digits = this.story.unit.digits) { // with the point or comma of who looks
    return value.toLocaleString(`${navigator.language}-u-nu-latn`, { minimumFractionDigits: digits, maximumFractionDigits: digits, useGrouping: false });
  }

  measured(value, expanded) { // both in the unit that is shown
    const spread = expanded === null ? "" : ` ± ${this.figure(expanded)}`;
    return `${this.figure(value)} ${this.story.unit.symbol}${spread}`;
  }

  time(x) {
    if (this.story.since_lighting) return filled(texts.afterLighting, { hours: hours(x) });
    const at = new Date(x * 1000);
    const [from, to] = this.range;
    const day = to - from > DAY_S || at.toDateString() !== new Date().toDateString();
    const words = day ? `${clock(at)}${to - from < 3600 ? at.toLocaleTimeString("en-GB").slice(5) : ""}` : seconds(at);
    return this.story.lit_s === null ? words : `${words}, ${filled(texts.afterLighting, { hours: hours(x - this.story.lit_s) })}`;
  }

  // the plot

  get columns() {
    return [this.times, ...this.lines.map((line) => {
      if (line.by_hand) return this.times.map(() => undefined);
      const [low, high] = [this.low[line.number], this.high[line.number]];
      return low.map((value, n) => (value == null ? value
        : this.doubtful[line.number].has(this.times[n]) ? null : (value + high[n]) / 2));
    })];
  }

  build() {
    if (!this.story || this.root.clientWidth === 0) return;
    if (!this.frame) this.furnish();
    legend(this);
    this.plot?.destroy();
    const style = getComputedStyle(this.root);
    const ink = style.color;
    const faint = style.getPropertyValue("--rule");
    const axis = { stroke: ink, font: "12px system-ui, sans-serif", ticks: { stroke: faint, width: 1 }, grid: { stroke: faint, width: 1 } };
    this.plot = new uPlot({
      ...this.size,
      padding: [30, 22, 0, 0],
      legend: { show: false },
      scales: { x: { time: false, range: () => this.range }, y: { range: () => this.heights() } },
      axes: [
        { ...axis, size: 50, incrs: STEPS_S, space: 64, splits: (_, __, low, high, step) => this.splits(low, high, step), values: (_, at, __, ___, step) => at.map((x) => this.tick(x, step)) },
        { ...axis, size: 46, values: (_, at, __, ___, step) => at.map((y) => this.figure(y, step < 1 ? 1 : 0)) },
      ],
      series: [{}, ...this.lines.map((line) => ({
        show: line.shown, stroke: line.ink, width: line.pen.width, dash: line.pen.dash, points: { show: false },
      }))],
      cursor: { y: false, drag: { x: true, y: false, setScale: false }, bind: { dblclick: () => () => this.show(null) }, points: { size: 9 } },
      hooks: {
        ...paint(this),
        setCursor: [() => this.readOff()],
        setSelect: [({ select }) => {
          if (select.width < 4) return;
          const ends = [select.left, select.left + select.width].map((x) => this.plot.posToVal(x, "x"));
          this.plot.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
          this.show(ends);
        }],
      },
    }, this.columns, this.frame);
    hands(this);
  }

  furnish() {
    this.root.replaceChildren();
    this.frame = Object.assign(document.createElement("div"), { className: "chart-plot", tabIndex: 0 });
    this.frame.setAttribute("role", "group");
    this.frame.setAttribute("aria-label", texts.chart);
    this.at = Object.assign(document.createElement("p"), { className: "chart-at" });
    this.near = Object.assign(document.createElement("p"), { className: "chart-near faint" });
    this.spoken = Object.assign(document.createElement("p"), { className: "chart-near", role: "status" });
    this.spoken.style.cssText = "position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)";
    this.places = Object.assign(document.createElement("ul"), { className: "chart-places" });
    this.root.append(buttons(this), this.frame, this.near, this.places, this.spoken);
  }

  get size() {
    const width = this.root.clientWidth;
    return { width, height: Math.round(width < 600 ? width * 0.95 : Math.min(width * 0.46, 560)) };
  }

  fit() {
    if (!this.plot) this.build();
    else if (this.plot.width !== this.root.clientWidth) this.plot.setSize(this.size);
  }

  redraw() {
    if (!this.plot) return;
    this.plot.setData(this.columns, true);
    this.readOff();
  }

  // Lowest and highest of the temperature axis: what is in view, and the limits where they are near.
  heights() {
    const [from, to] = this.range;
    let [low, high] = [Infinity, -Infinity];
    const take = (x, y) => {
      if (y == null || x < from || x > to) return;
      low = Math.min(low, y);
      high = Math.max(high, y);
    };
    for (const line of this.lines.filter((one) => one.shown)) {
      this.times.forEach((x, n) => { take(x, this.low[line.number][n]); take(x, this.high[line.number][n]); });
      line.points.forEach(([x, y, u]) => { take(x, this.shown(y - u)); take(x, this.shown(y + u)); });
      for (const { x, y } of this.singles.get(line.number) ?? []) take(x, y);
      for (const one of this.story.forecasts.filter((f) => f.channel === line.channel && this.view === null)) {
        take(to, this.shown(one.high));
      }
    }
    const limits = this.story.limits.map((one) => this.shown(one.value));
    if (low > high) [low, high] = limits.length ? [Math.min(...limits) - 30, Math.max(...limits)] : [20, 60];
    const span = Math.max(high - low, 1);
    for (const y of limits) if (this.view === null || y < high + span) high = Math.max(high, y + 0.04 * span);
    return [low - 0.06 * span, high + 0.06 * span];
  }

  splits(low, high, step) { // whole steps since lighting, or of the clock
    const { lit_s, since_lighting } = this.story;
    const zero = since_lighting ? 0 : lit_s ?? -60 * new Date(low * 1000).getTimezoneOffset() % DAY_S * -1;
    const found = [];
    for (let x = zero + Math.ceil((low - zero) / step) * step; x <= high; x += step) found.push(x);
    return found;
  }

  tick(x, step) {
    const { lit_s, since_lighting } = this.story;
    const short = step < 60;
    if (since_lighting) return hours(x, short);
    const at = new Date(x * 1000);
    const words = step >= DAY_S ? at.toLocaleDateString("en-GB", { day: "numeric", month: "short" })
      : at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit", ...short && { second: "2-digit" } });
    return lit_s === null ? words : `${hours(x - lit_s, short)}\n${words}`;
  }

  // what a person does

  show(view) {
    const [first, last] = this.whole;
    if (view) {
      const span = Math.min(Math.max(view[1] - view[0], LEAST_S), last - first);
      const from = Math.min(Math.max(first, (view[0] + view[1] - span) / 2), last - span);
      view = span >= last - first ? null : [from, from + span];
    }
    this.view = view;
    this.redraw();
    this.onView(view, [...this.off]);
    this.settle();
  }

  zoom(factor, x) {
    const [from, to] = this.range;
    const about = x ?? this.cursorX ?? (from + to) / 2;
    this.show([about - (about - from) * factor, about + (to - about) * factor]);
  }

  move(share) {
    const [from, to] = this.range;
    const [first, last] = this.whole;
    const by = Math.min(Math.max(share * (to - from), first - from), last - to);
    if (by) this.show([from + by, to + by]);
  }

  settle() {
    clearTimeout(this.timer);
    this.timer = setTimeout(async () => {
      try {
        this.take(await this.fetchSeries(this.story, this.lines));
        this.redraw();
      } catch (error) {
        if (error.name !== "AbortError") this.near.textContent = texts.coarse;
      }
    }, SETTLE_MS);
  }

  toggle(line, shown) {
    line.shown = shown;
    this.off[shown ? "delete" : "add"](line.letter);
    this.plot.setSeries(line.number + 1, { show: shown });
    this.redraw();
    this.onView(this.view, [...this.off]);
    if (shown && this.view) this.settle(); // its single readings
  }

  get cursorX() {
    const { left } = this.plot?.cursor ?? { left: -1 };
    return left >= 0 ? this.plot.posToVal(left, "x") : null;
  }

  // The cursor to a time, by keys or from the list of what happened.
  point(x) {
    if (x < this.range[0] || x > this.range[1]) {
      const half = (this.range[1] - this.range[0]) / 2;
      this.show([x - half, x + half]);
    }
    this.plot.setCursor({ left: this.plot.valToPos(x, "x"), top: this.plot.over.clientHeight / 2 });
    this.spoken.textContent = [this.at.textContent, ...this.lines.filter((one) => one.shown && one.said?.textContent)
      .map((one) => `${one.letter} ${one.said.textContent}`)].join("; ");
  }

  readOff() { // value and uncertainty at the cursor; without one, of a burn that is lit, the latest
    const x = this.cursorX;
    const n = x === null ? this.story.live && this.times.length - 1 : this.plot.cursor.idx;
    const known = Number.isInteger(n) && n >= 0;
    this.at.textContent = known ? this.time(this.times[n]) : "";
    for (const line of this.lines) if (line.said) line.said.textContent = known ? this.value(line, n, x) : "";
    this.near.textContent = x === null ? "" : this.happened(x);
  }

  value(line, n, x) {
    if (line.by_hand) {
      const at = x ?? Infinity;
      const point = line.points.filter(([t]) => t <= at).at(-1);
      return point ? this.measured(this.shown(point[1]), point[2] / this.story.unit.factor) : "";
    }
    let at = n; // of several burns others' times lie between
    while (at > 0 && n - at < 20 && this.low[line.number][at] === undefined) at -= 1;
    const [low, high] = [this.low[line.number][at], this.high[line.number][at]];
    if (low == null) return texts.noReading;
    const highest = this.measured(high, this.expanded[line.number][at]);
    const level = high - low < 10 ** -this.story.unit.digits;
    const value = level ? highest : filled(texts.fromTo, { low: this.figure(low), high: highest });
    return this.doubtful[line.number].has(this.times[at]) ? filled(texts.doubtful, { value }) : value;
  }

  happened(x) {
    const reach = 10 * (this.range[1] - this.range[0]) / this.plot.over.clientWidth;
    const near = this.story.marks.filter((one) => Math.abs(one.at_s - x) <= reach);
    return near.map((one) => (one.sign ? `${one.priority.toUpperCase()} ${one.sign}: ${one.text}` : one.text)).join("; ");
  }
}
