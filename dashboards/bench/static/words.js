// Times as a person reads them, in the zone and language of who looks; figures come as words.

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
