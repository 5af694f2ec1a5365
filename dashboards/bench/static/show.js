// Puts figures into the page that the server has drawn: text and states only, never markup.

import { clock, duration, onVessel, place } from "./words.js";

const write = (root, field, text) => {
  for (const node of root.querySelectorAll(`[data-f="${field}"]`)) {
    if (node.textContent !== text) node.textContent = text;
  }
};

export function times(root) {
  for (const node of root.querySelectorAll("time")) node.textContent = clock(new Date(node.dateTime));
}

export function draw(bench) {
  const shown = new Map();
  for (const channel of bench.channels.values()) {
    shown.set(channel.name, place(channel, bench.stations.get(channel.station), bench.nowS));
  }
  for (const node of document.querySelectorAll("[data-place]")) {
    const one = shown.get(node.dataset.place);
    if (!one) continue;
    node.dataset.state = one.state;
    node.dataset.level = one.level;
    write(node, "value", one.value);
    write(node, "spread", one.spread);
    write(node, "limit", one.margin);
    write(node, "beside", one.beside);
    write(node, "said", one.said);
  }
  for (const root of document.querySelectorAll("[data-station]")) {
    const status = bench.stations.get(root.dataset.station);
    if (status) station(root, status, bench, shown);
  }
}

function station(root, status, bench, shown) {
  const here = [...bench.channels.values()].filter((one) => one.station === status.station && onVessel(one));
  const present = here.filter((one) => ["good", "doubtful"].includes(shown.get(one.name).state) && shown.get(one.name).upper !== null);
  const hottest = present.reduce((best, one) => (best && best.estimate.value >= one.estimate.value ? best : one), null);
  const seen = hottest && shown.get(hottest.name);
  const hot = root.querySelector("[data-hot]");
  if (hot) {
    hot.dataset.hot = seen ? seen.level : "none";
    write(root, "hot-value", seen ? seen.value : "no reading");
    write(root, "hot-spread", seen ? seen.spread : "");
    write(root, "hot-place", hottest ? [hottest.words, seen.said].filter(Boolean).join(", ") : "no place on the vessel gives a reading now");
    write(root, "hot-margin", seen ? seen.marginWords : "");
    const gauge = root.querySelector(".gauge .pointer");
    const x = seen ? Math.min(360, Math.max(0, 320 + 8 * (seen.upper - status.limit_c))) : -40;
    gauge.setAttribute("transform", `translate(${x.toFixed(1)} 0)`);
    const unread = here.filter((one) => !["good", "doubtful"].includes(shown.get(one.name).state)).length;
    write(root, "unread", `${unread} of ${here.length} places give no reading now: it may be hotter there.`);
    for (const node of root.querySelectorAll('[data-f="unread"]')) node.hidden = unread === 0;
  }
  if (status.elapsed_s !== null) {
    write(root, "elapsed", duration(status.elapsed_s));
    write(root, "remaining", duration(Math.abs(status.remaining_s)));
    write(root, "remaining-word", status.remaining_s > 0 ? "left" : "too long");
  }
}

// What the server draws anew takes the place of the old where its version differs; what a person
// has open or is typing in stays.
export function exchange(fresh) {
  for (const part of document.querySelectorAll("[data-part]")) {
    const source = fresh.querySelector(`[data-part="${CSS.escape(part.dataset.part)}"]`);
    if (!source) continue;
    const old = new Map([...part.children].map((node) => [node.dataset.key, node]));
    const nodes = [...source.children].map((node) => {
      const mine = old.get(node.dataset.key);
      if (mine && (mine.dataset.version === node.dataset.version || busy(mine))) return mine;
      const adopted = document.importNode(node, true);
      times(adopted);
      for (const details of mine ? mine.querySelectorAll("details[open][data-key]") : []) {
        const twin = adopted.querySelector(`details[data-key="${CSS.escape(details.dataset.key)}"]`);
        if (twin) twin.open = true;
      }
      return adopted;
    });
    if (nodes.length !== part.children.length || nodes.some((node, at) => node !== part.children[at])) {
      const focused = document.activeElement;
      part.replaceChildren(...nodes);
      if (part.contains(focused)) focused.focus({ preventScroll: true });
    }
  }
}

const busy = (node) =>
  node.contains(document.activeElement) && document.activeElement.matches("input, textarea, select") ||
  node.querySelector('[aria-busy="true"]') !== null;
