// The places of a chart: a piece of each line with its letter, name and value; a tick shows it.

const SVG = "http://www.w3.org/2000/svg";

export function legend(chart) {
  const items = chart.lines.map((line) => {
    const item = document.createElement("li");
    const label = item.appendChild(document.createElement("label"));
    const box = Object.assign(document.createElement("input"), { type: "checkbox", checked: line.shown });
    box.addEventListener("change", () => chart.toggle(line, box.checked));
    const name = Object.assign(document.createElement("span"), { className: "name" });
    name.append(Object.assign(document.createElement("b"), { textContent: line.letter }), ` ${line.label}`);
    line.said = Object.assign(document.createElement("span"), { className: "value" });
    const { svg, stroke } = swatch(line.pen);
    label.append(box, svg, name, line.said);
    item.stroke = stroke;
    return item;
  });
  chart.places.replaceChildren(...items);
  chart.lines.forEach((line, n) => { line.ink = getComputedStyle(items[n].stroke).stroke; });
}

function swatch({ css, colour, dash, width }) {
  const svg = document.createElementNS(SVG, "svg");
  const attributes = { width: 40, height: 12, class: "swatch", "aria-hidden": "true" };
  for (const [name, value] of Object.entries(attributes)) svg.setAttribute(name, value);
  const stroke = svg.appendChild(document.createElementNS(SVG, "line"));
  const line = { x1: 1, x2: 39, y1: 6, y2: 6, stroke: colour, "stroke-width": width, "stroke-dasharray": dash.join(" "), class: `curve-line ${css}` };
  for (const [name, value] of Object.entries(line)) stroke.setAttribute(name, value);
  return { svg, stroke };
}
