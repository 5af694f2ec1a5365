// Puts what the bench says into the page that it has drawn: text and states only, never markup.

import { clock, local, localFigures } from "./words.js";

function write(root, texts) {
  for (const [field, written] of Object.entries(texts)) {
    const text = local(written);
    for (const node of root.querySelectorAll(`[data-f="${field}"]`)) {
      if (node.textContent !== text) node.textContent = text;
    }
  }
}

// Times and figures as who looks writes them.
export function localized(root) {
  for (const node of root.querySelectorAll("time")) node.textContent = clock(new Date(node.dateTime));
  localFigures(root);
}

export function figures(stations) {
  for (const [name, { hot, pointer, texts, places }] of Object.entries(stations)) {
    for (const root of document.querySelectorAll(`[data-station="${name}"]`)) {
      write(root, texts);
      for (const node of root.querySelectorAll("[data-hot]")) node.dataset.hot = hot;
      root.querySelector(".pointer")?.setAttribute("transform", pointer);
    }
    for (const [place, { state, level, texts }] of Object.entries(places)) {
      for (const node of document.querySelectorAll(`[data-place="${place}"]`)) {
        Object.assign(node.dataset, { state, level });
        write(node, texts);
      }
    }
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
      localized(adopted);
      for (const details of mine ? mine.querySelectorAll("details[open][data-key]") : []) {
        const twin = adopted.querySelector(`details[data-key="${CSS.escape(details.dataset.key)}"]`);
        if (twin) twin.open = true;
      }
      return adopted;
    });
    // What stays is left where it is: it keeps its focus, and nothing reads it out once more.
    nodes.forEach((node, at) => {
      if (part.children[at] !== node) part.insertBefore(node, part.children[at] ?? null);
    });
    while (part.children.length > nodes.length) part.lastElementChild.remove();
  }
}

const busy = (node) =>
  node.contains(document.activeElement) && document.activeElement.matches("input, textarea, select") ||
  node.querySelector('[aria-busy="true"]') !== null;
