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
