// What stands on a chart beside its lines: limits, gaps, spans, forecasts, and what happened.

import { filled, texts } from "./texts.js";

const SIGN_PX = 6.5;
const APART_PX = 18; // signs closer than this share a place

export function paint(chart) {
  return { drawClear: [() => behind(chart)], draw: [() => before(chart)] };
}

function tools(chart) {
  const { plot } = chart;
  const { ctx, bbox } = plot;
  const dot = uPlot.pxRatio;
  const style = getComputedStyle(chart.root);
  return {
    ctx, bbox, dot,
    ink: style.color,
    paper: style.getPropertyValue("--paper"),
    heat: style.getPropertyValue("--heat"),
    x: (value) => plot.valToPos(value, "x", true),
    y: (value) => plot.valToPos(value, "y", true),
    text(words, x, y, { align = "left", bold = false } = {}) {
      ctx.font = `${bold ? 600 : 400} ${12 * dot}px system-ui, sans-serif`;
      ctx.textAlign = align;
      ctx.textBaseline = "middle";
      ctx.setLineDash([]);
      ctx.strokeStyle = this.paper;
      ctx.lineWidth = 3 * dot;
      ctx.lineJoin = "round";
      ctx.strokeText(words, x, y);
      ctx.fillStyle = this.ink;
      ctx.fillText(words, x, y);
    },
    path(points, { dash = [], width = 1, alpha = 1, stroke = this.ink } = {}) {
      ctx.globalAlpha = alpha;
      ctx.strokeStyle = stroke;
      ctx.lineWidth = width * dot;
      ctx.setLineDash(dash.map((length) => length * dot));
      ctx.beginPath();
      points.forEach(([x, y], n) => (n ? ctx.lineTo(x, y) : ctx.moveTo(x, y)));
      ctx.stroke();
      ctx.globalAlpha = 1;
    },
  };
}

const inside = ({ ctx, bbox }, work) => {
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  work();
  ctx.restore();
};

function behind(chart) {
  const to = tools(chart);
  inside(to, () => {
    for (const { value } of chart.story.limits.filter((one) => one.strict)) {
      to.ctx.globalAlpha = 0.07;
      to.ctx.fillStyle = to.ink;
      to.ctx.fillRect(to.bbox.left, to.bbox.top, to.bbox.width, Math.max(0, to.y(chart.shown(value)) - to.bbox.top));
      to.ctx.globalAlpha = 1;
    }
    gaps(chart, to);
  });
}

// Hatched where places that are shown were not measured, with their letters.
function gaps(chart, to) {
  const { ctx, bbox, dot } = to;
  const shown = chart.lines.filter((one) => one.shown && !one.by_hand);
  const right = bbox.left + bbox.width;
  let free = bbox.left; // up to where a label may begin
  for (const { from, end, letters } of merged(shown)) {
    const left = Math.max(to.x(from), bbox.left);
    const wide = Math.min(Math.max(to.x(end), to.x(from) + 3 * dot), right) - left;
    if (wide <= 0) continue;
    ctx.save();
    ctx.beginPath();
    ctx.rect(left, bbox.top, wide, bbox.height);
    ctx.clip();
    for (let x = left - bbox.height; x < left + wide; x += 7 * dot) {
      to.path([[x, bbox.top + bbox.height], [x + bbox.height, bbox.top]], { alpha: 0.25 });
    }
    ctx.restore();
    const words = letters.size === shown.length ? texts.noReading : filled(texts.noReadingOf, { letters: [...letters].sort().join(", ") });
    const half = 3.5 * dot * words.length;
    const middle = Math.min(Math.max(left + wide / 2, bbox.left + half), right - half);
    if (middle - half < free) continue;
    to.text(words, middle, bbox.top + bbox.height - 12 * dot, { align: "center" });
    free = middle + half;
  }
}

function merged(lines) {
  const all = lines.flatMap((line) => line.gaps.map(([from, end]) => ({ from, end, letters: new Set([line.letter]) })));
  const found = [];
  for (const one of all.sort((a, b) => a.from - b.from)) {
    const last = found.at(-1);
    if (last && one.from <= last.end) {
      last.end = Math.max(last.end, one.end);
      one.letters.forEach((letter) => last.letters.add(letter));
    } else found.push(one);
  }
  return found;
}

function before(chart) {
  const to = tools(chart);
  inside(to, () => {
    for (const line of chart.lines.filter((one) => one.shown)) {
      if (line.by_hand) byHand(chart, to, line);
      else {
        spans(chart, to, line);
        singles(chart, to, line);
      }
    }
    forecasts(chart, to);
    limits(chart, to);
    lengths(chart, to);
    letters(chart, to);
  });
  signs(chart, to);
}

// From lowest to highest of each bucket, and where it is hottest or zoomed in its uncertainty.
function spans(chart, to, line) {
  const { ctx, dot } = to;
  const [low, high, expanded] = [chart.low, chart.high, chart.expanded].map((one) => one[line.number]);
  const banded = line.hottest || chart.lines.filter((one) => one.shown).length === 1;
  const area = (from, end, alpha) => {
    ctx.fillStyle = line.ink;
    ctx.globalAlpha = alpha;
    ctx.beginPath();
    from.forEach(([x, y], n) => (n ? ctx.lineTo(x, y) : ctx.moveTo(x, y)));
    end.reverse().forEach(([x, y]) => ctx.lineTo(x, y));
    ctx.closePath();
    ctx.fill();
    ctx.globalAlpha = 1;
  };
  const draw = (part) => {
    if (!part.length) return;
    const at = (n, y) => [to.x(chart.times[n]), to.y(y)];
    area(part.map((n) => at(n, low[n])), part.map((n) => at(n, high[n])), 0.3);
    if (banded && part.every((n) => expanded[n] !== null)) {
      area(part.map((n) => at(n, low[n] - expanded[n])), part.map((n) => at(n, high[n] + expanded[n])), 0.16);
    }
  };
  let part = [];
  chart.times.forEach((x, n) => {
    if (low[n] === undefined) return;
    const doubtful = chart.doubtful[line.number].has(x);
    if (low[n] === null || doubtful) {
      draw(part);
      part = [];
    } else part.push(n);
    if (doubtful && low[n] !== null) ring(to, line, to.x(x), to.y((low[n] + high[n]) / 2), 1.6);
  });
  draw(part);
  ctx.lineWidth = dot;
}

function ring({ ctx, dot }, line, x, y, radius) {
  ctx.strokeStyle = line.ink;
  ctx.lineWidth = 1.2 * dot;
  ctx.setLineDash([]);
  ctx.beginPath();
  ctx.arc(x, y, radius * dot, 0, 2 * Math.PI);
  ctx.stroke();
}

// Readings one by one: a dot for those that count, a cross for those that were rejected.
function singles(chart, to, line) {
  const reach = 3.2 * to.dot;
  for (const { x, y, rejected } of chart.singles.get(line.number) ?? []) {
    if (y === null) continue;
    const [left, top] = [to.x(x), to.y(y)];
    if (rejected) {
      for (const way of [1, -1]) {
        to.path([[left - reach, top - way * reach], [left + reach, top + way * reach]], { stroke: line.ink, width: 1.6 });
      }
    } else ring(to, line, left, top, 2);
  }
}

function byHand(chart, to, line) {
  for (const [at, celsius, expanded] of line.points) {
    const x = to.x(at);
    to.path([to.y(chart.shown(celsius - expanded)), to.y(chart.shown(celsius + expanded))].map((y) => [x, y]), { stroke: line.ink, width: 1.4 });
    ring(to, line, x, to.y(chart.shown(celsius)), 3.4);
    to.text(line.letter, x + 6 * to.dot, to.y(chart.shown(celsius)) - 7 * to.dot, { bold: true });
  }
}

// A wedge from now to where the place is expected to be at the end of the burn.
function forecasts(chart, to) {
  for (const { channel, from_s: from, at_s: at, value, low, high } of chart.story.forecasts) {
    const line = chart.lines.find((one) => one.channel === channel && one.shown);
    const last = line && chart.high[line.number].findLastIndex((y) => y != null);
    if (!line || last < 0) continue;
    const start = [to.x(Math.max(from, chart.times[last])), to.y(chart.high[line.number][last])];
    const end = (celsius) => [to.x(at), to.y(chart.shown(celsius))];
    to.ctx.globalAlpha = 0.14;
    to.ctx.fillStyle = line.ink;
    to.ctx.beginPath();
    for (const [x, y] of [start, end(low), end(high)]) to.ctx.lineTo(x, y);
    to.ctx.fill();
    to.ctx.globalAlpha = 1;
    to.path([start, end(value)], { stroke: line.ink, dash: [2, 4] });
  }
}

function limits(chart, to) {
  const { bbox, dot } = to;
  for (const { value, text, strict } of chart.story.limits) {
    const y = to.y(chart.shown(value));
    if (y < bbox.top || y > bbox.top + bbox.height) continue;
    to.path([[bbox.left, y], [bbox.left + bbox.width, y]], strict ? { width: 2 } : { dash: [6, 4] });
    to.text(text, bbox.left + 6 * dot, y + (strict ? -9 : 10) * dot, { bold: true });
  }
}

// What lasts (a burn at a station) is a bar at the bottom of the plot.
function lengths(chart, to) {
  const bottom = to.bbox.top + to.bbox.height - 5 * to.dot;
  for (const one of chart.story.marks.filter((mark) => mark.kind === "burn")) {
    to.path([[to.x(one.at_s), bottom], [to.x(one.to_s ?? chart.whole[1]), bottom]], { width: 6, alpha: 0.5 });
  }
}

// The letter of each line once upon it, further right from line to line.
function letters(chart, to) {
  const shown = chart.lines.filter((one) => one.shown && !one.by_hand);
  const [from, end] = chart.range;
  shown.forEach((line, n) => {
    const x = from + (0.25 + 0.65 * (n + 0.5) / shown.length) * (end - from);
    const drawn = (time, m) => chart.high[line.number][m] != null;
    const after = chart.times.findIndex((time, m) => time >= x && drawn(time, m));
    const at = after < 0 ? chart.times.findLastIndex(drawn) : after;
    if (at < 0) return;
    const y = (chart.low[line.number][at] + chart.high[line.number][at]) / 2;
    to.text(line.letter, to.x(chart.times[at]), to.y(y), { align: "center", bold: true });
  });
}

// Above the plot: a shape for each alarm and entry, and a line down from it.
function signs(chart, to) {
  const { bbox, dot } = to;
  const top = bbox.top - 11 * dot;
  to.text(chart.story.unit.symbol, bbox.left - 14 * dot, top, { align: "right" });
  let last = -Infinity;
  const shown = chart.story.marks.filter((one) => one.kind !== "burn" && to.x(one.at_s) >= bbox.left - 1 && to.x(one.at_s) <= bbox.left + bbox.width + 1);
  for (const one of shown) {
    const x = to.x(one.at_s);
    to.path([[x, top], [x, bbox.top + bbox.height]], { dash: [1, 3], alpha: 0.4 });
    if (x - last < APART_PX * dot) continue;
    last = x;
    shape(to, one, x, top);
  }
}

const CORNERS = {
  caution: [[0, -1.2], [1.2, 0], [0, 1.2], [-1.2, 0]],
  warning: [[0, -1.1], [1.2, 0.95], [-1.2, 0.95]],
  danger: [[-1, -1], [1, -1], [1, 1], [-1, 1]],
};

function shape({ ctx, dot, ink, paper, path }, { kind, priority }, x, y) {
  const size = SIGN_PX * dot;
  ctx.setLineDash([]);
  ctx.strokeStyle = ink;
  ctx.lineWidth = 1.5 * dot;
  ctx.fillStyle = priority === "danger" ? ink : paper;
  ctx.beginPath();
  if (kind === "alarm" && CORNERS[priority]) {
    CORNERS[priority].forEach(([dx, dy]) => ctx.lineTo(x + dx * size, y + dy * size));
    ctx.closePath();
  } else if (kind === "alarm") ctx.arc(x, y, size, 0, 2 * Math.PI);
  else if (kind === "photo") ctx.rect(x - size, y - 0.7 * size, 2 * size, 1.4 * size);
  else if (kind === "entry") ctx.rect(x - 0.7 * size, y - size, 1.4 * size, 2 * size);
  else ctx.ellipse(x, y, 1.1 * size, 0.7 * size, 0, 0, 2 * Math.PI);
  if (kind === "missed") ctx.setLineDash([2 * dot, 2 * dot]);
  ctx.fill();
  ctx.stroke();
  if (kind === "look" || kind === "photo") {
    ctx.beginPath();
    ctx.arc(x, y, (kind === "photo" ? 0.35 : 0.25) * size, 0, 2 * Math.PI);
    ctx.stroke();
  }
}
