// Times and figures as a person reads them, in the zone and with the decimal mark of who looks.

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

export function hours(since, short = false) {
  const sign = since < 0 ? "-" : "";
  const whole = Math.round(Math.abs(since) / (short ? 1 : 60)) * (short ? 1 : 60);
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole % 3600 / 60), whole % 60];
  const two = (n) => String(n).padStart(2, "0");
  return `${sign}${h}:${two(m)}${short ? `:${two(s)}` : ""}`;
}

const mark = new Intl.NumberFormat(`${navigator.language}-u-nu-latn`).formatToParts(1.5).find((part) => part.type === "decimal")?.value ?? ".";

// The bench writes a point. A figure is what has a unit behind it, or a ± before it: a name, an
// address or a version with a point in it stays as it is.
const FIGURE = /(?<![\w.,:/-])([-+−]?\d+)\.(\d+)(?=\s*(?:°|g\b|kg\b|oz\b|lb\b|mm\b|cm\b|in\b|%|h\b|min\b|s\b|dBm\b|delta_|deg[CF]\b|kB\b|MB\b|GB\b|left\b|assumed\b|±))|(?<=± )(\d+)\.(\d+)|(?<=[A-Z] LIMIT |near, )(\d+)\.(\d+)/g;

export function local(text) {
  if (mark === "." || !text.includes(".")) return text;
  return text.replace(FIGURE, (...found) => {
    const parts = found.slice(1, 7).filter((part) => part !== undefined);
    return parts.join(mark);
  });
}

const ASIS = "code, pre, script, style, textarea, time, [data-as-is]";

// Every figure that the bench has drawn within `root`.
export function localFigures(root) {
  if (mark === ".") return;
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    if (!node.data.includes(".") || node.parentElement?.closest(ASIS)) continue;
    const text = local(node.data);
    if (text !== node.data) node.data = text;
  }
}
