// The reading round for one thumb: one place at a time, its digits from the pad below.

import { texts } from "./texts.js";

const LONGEST = 6; // characters of a value, as 1234,5
const steps = document.getElementById("steps");
const pad = document.getElementById("pad");
let current = null; // id of the place that is read; null: the round is over
let last = null; // id of the place that was read just before
let slot = 0; // which of its values is typed
const kept = new Map(); // places whose values the bench does not have yet, and how they were drawn

const all = () => [...steps.querySelectorAll(".step")];
const step = () => all().find((one) => one.id === current);
const slots = () => [...step().querySelectorAll('[name="values"]')];

function turnTo(id) {
  current = id ?? null;
  slot = 0;
  draw();
  if (current) scrollTo(0, 0);
}

// What the server draws anew has lost its classes.
function draw() {
  if (current && !step()) current = all()[0]?.id ?? null; // its burn is over
  document.body.dataset.round = current ? "on" : "over";
  for (const one of all()) {
    one.classList.toggle("current", one.id === current);
    one.classList.toggle("last", one.id === last && last !== current);
    one.classList.toggle("kept", kept.get(one.id) === one.dataset.version);
    for (const field of one.querySelectorAll('[name="values"]')) field.inputMode = "none"; // the pad is the keyboard
  }
  pad.hidden = !current;
  document.getElementById("begin").hidden = Boolean(current) || !all().length;
  if (!current) return;
  slots().forEach((field, at) => field.classList.toggle("typed", at === slot));
  pad.querySelector('[data-act="next"]').disabled = slot === 2;
  pad.querySelector('[data-act="again"]').disabled = !last || last === current;
}

function write(text) {
  const field = slots()[slot];
  field.value = text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  draw();
}

function after(id, sameJar = true) {
  const order = all();
  const at = order.findIndex((one) => one.id === id);
  if (sameJar) return order[at + 1]?.id;
  const jar = order[at].dataset.station;
  return [...order.slice(at), ...order].find((one) => one.dataset.station !== jar)?.id;
}

const ACTS = {
  again: () => turnTo(last),
  skip: () => turnTo(after(current)),
  jar: () => turnTo(after(current, false)),
  back: () => {
    if (!slots()[slot].value && slot) slot -= 1;
    write(slots()[slot].value.slice(0, -1));
  },
  next: () => {
    if (slots()[slot].value && slot < 2) slot += 1;
    draw();
  },
  record: () => {
    const form = step().querySelector("form");
    const button = form.querySelector("button.main");
    if (slots().some((field) => field.value) && button.getAttribute("aria-busy") !== "true") form.requestSubmit(button);
  },
};

pad.addEventListener("click", ({ target }) => {
  const button = target.closest("button");
  if (!button || !current) return;
  const { act, digit } = button.dataset;
  if (act) ACTS[act]();
  else {
    const text = slots()[slot].value;
    const comma = ",.".includes(digit);
    if (text.length < LONGEST && !(comma && (!text || /[.,]/.test(text)))) write(text + digit);
  }
});

steps.addEventListener("focusin", ({ target }) => {
  const at = current ? slots().indexOf(target) : -1;
  if (at >= 0) {
    slot = at;
    draw();
  }
});

// Recorded, or kept until the bench answers: either way on to the next.
document.addEventListener("taken", ({ target, detail }) => {
  const done = target.closest(".step");
  if (!done) return;
  if (!detail.sent) kept.set(done.id, done.dataset.version);
  last = done.id;
  turnTo(after(last));
});
document.addEventListener("changing", ({ target }) => {
  const back = target.closest(".step");
  if (back) turnTo(back.id);
});
document.addEventListener("exchanged", draw);
document.getElementById("begin").addEventListener("click", () => turnTo(all()[0].id));
addEventListener("hashchange", () => { if (all().some((one) => `#${one.id}` === location.hash)) turnTo(location.hash.slice(1)); });

const comma = (1.5).toLocaleString().charAt(1) === "," ? "," : ".";
const key = pad.querySelector('[data-digit=","]');
key.textContent = key.dataset.digit = comma;
key.setAttribute("aria-label", comma === "," ? texts.decimalComma : texts.decimalPoint);
turnTo(all().find((one) => `#${one.id}` === location.hash)?.id ?? all()[0]?.id);
