// What a chart shows of each line: asked for by what is in view, and added to as estimates come.

import { filled, texts } from "./texts.js";

export const LEAST_S = 10; // no view is shorter
const SINGLE_S = 300; // of a view this short the readings are shown one by one, as the bench allows
const COLUMN_PX = 1.5; // of a bucket
const MOST_NEW = 900; // estimates added by and by, before all is asked for anew

export async function json(url, signal) {
  const answer = await fetch(url, { cache: "no-store", signal });
  if (!answer.ok) throw new Error(filled(texts.says, { address: url, status: answer.status }));
  return answer.json();
}

export const wholeOf = ({ from_s: from, to_s: to }) => [from, Math.max(to, from + LEAST_S)];

export class ChartData {
  async fetchSeries(story, lines) {
    this.waiting?.abort();
    const waiting = this.waiting = new AbortController();
    this.root.classList.add("chart-wait");
    const [from, to] = this.view ?? wholeOf(story);
    const points = Math.max(120, Math.min(1500, Math.round(this.root.clientWidth / COLUMN_PX)));
    const margin = (to - from) / points;
    const groups = new Map(); // a request for all lines of a burn
    for (const line of lines.filter((one) => !one.by_hand)) groups.set(line.burn, [...groups.get(line.burn) ?? [], line]);
    const ask = async (what, some, [first, last]) => {
      const zero = some[0].zero_s;
      const query = story.since_lighting ? `burn=${encodeURIComponent(some[0].burn)}` : this.source;
      const channels = some.map((line) => `&channel=${encodeURIComponent(line.channel)}`).join("");
      const ends = `from=${(first + zero).toFixed(3)}&to=${(last + zero).toFixed(3)}`;
      return { zero, lines: some, ...await json(`/api/curves/${what}${query}&${ends}${channels}`, waiting.signal) };
    };
    const all = [...groups.values()];
    const shown = all.map((some) => some.filter((one) => one.shown)).filter((some) => some.length);
    return {
      tables: await Promise.all(all.map((group) => ask(`series?points=${points}&`, group, [from - margin, to + margin]))),
      singles: !this.view || to - from > SINGLE_S ? [] : await Promise.all(shown.map((group) => ask("readings?", group, [from, to]))),
    };
  }

  take({ tables, singles }) {
    this.singles = new Map();
    for (const { zero, lines, places } of singles) {
      for (const { channel, times_s, values, rejected } of places) {
        const aside = new Set(rejected);
        const { number } = lines.find((one) => one.channel === channel);
        this.singles.set(number, times_s.map((at, n) => ({ x: at - zero, y: this.shown(values[n]), rejected: aside.has(n) })));
      }
    }
    this.join(tables.map(({ lines, zero, ...found }) => this.table(lines, found, zero)));
    this.fresh = 0;
    this.root.classList.remove("chart-wait");
  }

  // One request as columns: times, then low, high and expanded uncertainty of each line.
  table(lines, { times_s, series }, zero) {
    const times = times_s.map((at) => at - zero);
    const columns = lines.map((line) => {
      const found = series.find((one) => one.channel === line.channel);
      const low = times.map((_, n) => this.shown(found?.min[n] ?? null));
      const high = times.map((_, n) => this.shown(found?.max[n] ?? null));
      const expanded = times.map((_, n) => found?.expanded[n] == null ? null : found.expanded[n] / this.story.unit.factor);
      const end = line.until_s === null ? -1 : times.findIndex((at) => at > line.until_s);
      if (end >= 0) for (const column of [low, high]) column.fill(null, end); // of another burn
      for (const [from, to] of line.gaps) { // shorter ones than a bucket too
        const first = times.findIndex((at) => at > from);
        for (let n = first; n >= 0 && n < times.length && times[n] < to; n += 1) low[n] = high[n] = null;
      }
      return { line, low, high, expanded, doubtful: new Set(found?.doubtful.map((n) => times[n])) };
    });
    return { times, columns };
  }

  join(tables) { // one array of times for all, as uPlot wants it
    const joined = tables.length === 1 ? [tables[0].times] : uPlot.join(tables.map(({ times }) => [times]));
    const times = this.times = joined?.[0] ?? [];
    while (this.story.live && times.at(-1) > this.story.to_s) times.pop(); // not yet
    this.low = this.lines.map(() => new Array(times.length));
    this.high = this.lines.map(() => new Array(times.length));
    this.expanded = this.lines.map(() => new Array(times.length).fill(null));
    this.doubtful = this.lines.map(() => new Set());
    for (const { times: own, columns } of tables) {
      const place = tables.length === 1 ? null : new Map(times.map((at, n) => [at, n]));
      for (const { line, low, high, expanded, doubtful } of columns) {
        own.forEach((at, n) => {
          const index = place ? place.get(at) : n;
          if (index === undefined || index >= times.length) return;
          this.low[line.number][index] = low[n];
          this.high[line.number][index] = high[n];
          this.expanded[line.number][index] = expanded[n];
        });
        this.doubtful[line.number] = doubtful;
      }
    }
  }

  // A new estimate, as the stream tells it; those of places read by hand are in the story alone.
  add({ time, channel, value, standard_uncertainty, quality }) {
    const line = this.lines?.find((one) => one.channel === channel);
    if (!line || !this.plot || !this.story.live) return "";
    if (line.by_hand) return "by-hand";
    const x = Date.parse(time) / 1000;
    const last = this.times.at(-1) ?? -Infinity;
    this.story.to_s = Math.max(this.story.to_s, x);
    if (x < last || this.view && x > this.view[1]) return "";
    if (x > last) {
      this.times.push(x);
      for (const column of [...this.low, ...this.high]) column.push(undefined);
      for (const column of this.expanded) column.push(null);
      this.fresh += 1;
    }
    const n = this.times.length - 1;
    const seen = quality === "lost" ? null : this.shown(value);
    this.low[line.number][n] = this.high[line.number][n] = seen;
    this.expanded[line.number][n] = standard_uncertainty === null ? null : 2 * standard_uncertainty / this.story.unit.factor;
    if (quality === "doubtful") this.doubtful[line.number].add(x);
    if (this.fresh > MOST_NEW) this.settle();
    this.drawing ||= requestAnimationFrame(() => { this.drawing = 0; this.redraw(); });
    return "";
  }
}
