// Forms by the JSON side: the page stays, and what is wrong stands beside the button.

import { seconds } from "./words.js";

const LISTS = ["checks", "alarm", "clear"];
const NUMBERS = ["emissivity", "emissivity_set", "clock"];
const MEASURED = { height: "height_unit", mass: "mass_unit", wax: "mass_unit" }; // and the field with its unit
const NUMBER = /^[-+]?(\d+[.,]?\d*|[.,]\d+)$/;
const THOUSANDS = /^[-+]?[1-9]\d{0,2},\d{3}$/; // "1,000": one, or a thousand?

// randomUUID is missing where a page comes over plain HTTP from another machine.
const newId = () => [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");

function number(text) {
  if (!NUMBER.test(text)) throw new Error(`"${text}" is no number: write digits with a decimal point, as 41.25`);
  const plain = text.replace(",", ".");
  if (THOUSANDS.test(text)) throw new Error(`"${text}" can be read in two ways: write ${text.replace(",", "")} or ${Number(plain)}, as you mean it`);
  return Number(plain);
}

function bodyOf(form, button) {
  const body = {};
  for (const [name, value] of new FormData(form, button)) {
    if (LISTS.includes(name)) (body[name] ??= []).push(value);
    else if (value.trim()) body[name] = value.trim();
  }
  if (body.values) body.values = body.values.replaceAll(";", " ").split(/\s+/).filter(Boolean).map(number);
  for (const name of NUMBERS) if (body[name]) body[name] = number(body[name]);
  for (const [name, unit] of Object.entries(MEASURED)) if (body[name]) body[name] = `${number(body[name])} ${body[unit]}`;
  for (const unit of Object.values(MEASURED)) delete body[unit];
  if (body.new_trial) body.new_trial = true;
  delete body.burn;
  if (body.sure) body.sure = true;
  return body;
}

async function post(address, body) {
  let answer;
  try {
    answer = await fetch(address, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
      signal: AbortSignal.timeout(15000),
    });
  } catch {
    throw new Error("the bench does not answer; it may or may not have been recorded. Try again: twice counts once");
  }
  if (answer.ok) return;
  const problem = await answer.json().catch(() => ({ detail: `the bench answered ${answer.status}` }));
  throw Object.assign(new Error(problem.question ?? problem.detail), { asks: Boolean(problem.question) });
}

async function send(form, button, recorded) {
  const says = form.querySelector(".answer");
  says.textContent = "";
  // The same words sent again carry the same id, so that a doubtful first try counts once.
  try {
    const { id: _ours, alarm, ...body } = bodyOf(form, button);
    const words = JSON.stringify([form.dataset.api, alarm, body]);
    if (form.words !== words) [form.words, form.sendId] = [words, newId()];
    button?.setAttribute("aria-busy", "true");
    if (alarm) {
      delete body.station;
      for (const [at, key] of alarm.entries()) {
        const path = key.split("/").map(encodeURIComponent).join("/");
        await post(form.dataset.api.replace("*", path), { ...body, id: `${form.sendId}-${at}` });
      }
    } else await post(form.dataset.api, { ...body, id: form.sendId });
    form.words = null;
    keep(form);
    form.reset();
    recall(form);
    document.activeElement?.blur();
    if (form.parentElement.matches("details")) form.parentElement.open = false;
    if (location.hash === "#emergency") location.hash = "";
    tell(button?.textContent.trim() ?? "entry");
    recorded();
  } catch (error) {
    says.textContent = `Not recorded: ${error.message}${error.asks ? "" : "."}`;
    says.classList.add("refused");
    if (error.asks) offerToKeep(form, says);
  } finally {
    button?.removeAttribute("aria-busy");
  }
}

// What is only improbable can be sent again as it stands; whoever changes it is asked anew.
function offerToKeep(form, says) {
  const keepIt = Object.assign(document.createElement("button"), { name: "sure", value: "true", className: "main", textContent: "Keep it as it is" });
  says.append(" ", keepIt);
  form.addEventListener("input", () => { says.textContent = ""; }, { once: true });
}

function tell(what) {
  const says = document.getElementById("recorded");
  if (says) says.textContent = `Recorded at ${seconds(new Date())}: ${what}.`;
}

function keep(form) {
  for (const field of form.querySelectorAll("[data-keep]")) {
    if (field.value) try { localStorage.setItem(field.dataset.keep, field.value); } catch { /* a private window keeps nothing */ }
  }
}

export function recall(root) {
  for (const field of root.querySelectorAll("[data-keep]")) {
    try { field.value ||= localStorage.getItem(field.dataset.keep) ?? ""; } catch { return; }
  }
}

export function forms(recorded) {
  recall(document);
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.dataset.api) return;
    event.preventDefault();
    send(form, event.submitter, recorded);
  });
}
