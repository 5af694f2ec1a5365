// Forms as the browser itself would post them: but the page stays, what is wrong stands beside the
// button, and what finds no answer is kept and sent again.

import { filled, texts } from "./texts.js";
import { Unsent } from "./unsent.js";
import { seconds } from "./words.js";

const PATIENCE_MS = 5000; // as for the page itself
const PHOTO_PATIENCE_MS = 20_000; // some megabytes over a weak radio link (our choice)

// randomUUID is missing where a page comes over plain HTTP from another machine.
const newId = () => [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");

// The answer is a page: the one that the form is on, drawn anew, or one that says what is wrong.
// The bench counts "now" from the tap, by how long ago that was: the phone's clock may be wrong.
async function post({ action, fields, tappedMs }) {
  let answer, page;
  fields.set("waited_s", (Math.max(0, Date.now() - tappedMs) / 1000).toFixed(1));
  try {
    answer = await fetch(action, {
      method: "POST",
      headers: { accept: "text/html" },
      body: fields,
      signal: AbortSignal.timeout(fields.has("photo") ? PHOTO_PATIENCE_MS : PATIENCE_MS),
    });
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    throw new Error(texts.noAnswer);
  }
  // It leads on only once the entry is recorded: a page that fails then says nothing of it.
  if (answer.ok || answer.redirected) return Object.assign(page, { address: answer.url });
  const detail = page.querySelector("[data-detail]")?.textContent ?? filled(texts.answered, { status: answer.status });
  throw Object.assign(new Error(detail), { answered: true, asks: page.querySelector('[name="sure"]') !== null });
}

// What a field is of, and its unit, by the words beside it.
function beside(form, field) {
  if (field.name === "values") return ["", form.querySelector("select[name=unit]")?.selectedOptions[0].text ?? ""];
  if (field.dataset.says || form.dataset.says) return ["", ""]; // such a form names its place itself
  const words = field.closest("fieldset")?.querySelector("legend") ?? field.closest("label");
  const own = [...words?.childNodes ?? []].filter((node) => node.nodeType === Node.TEXT_NODE);
  const [name, unit = ""] = (own.map((node) => node.data.trim()).find((text) => text) ?? "").split(", ");
  return [name.toLowerCase(), unit.length < 4 ? unit : ""];
}

function chosen(field) {
  if (field.type === "file") return field.files[0].name;
  if (field.type === "radio") return field.dataset.says ?? field.nextElementSibling?.textContent.trim().replace(/\s+/g, " ");
  return field.tagName === "SELECT" ? field.selectedOptions[0].text : field.value;
}

// As a person knows it: what the button says, and what was typed or chosen.
function named(form, fields) {
  const said = new Map(); // by what it is of: several wicks have one flame height each
  for (const field of form.querySelectorAll("input, textarea, select")) {
    if (["hidden", "checkbox"].includes(field.type) || ["at", "by", "unit"].includes(field.name)) continue;
    const standard = field.type === "radio" ? !field.checked : field.value === (field.defaultValue ?? "");
    if (standard || !field.value) continue;
    if (field.type !== "file" && !fields.getAll(field.name).includes(field.value)) continue;
    const [name, unit] = beside(form, field);
    said.set(name, [...said.get(name) ?? [], chosen(field), unit].filter(Boolean));
  }
  return [...said].map(([name, words]) => [name, ...words].filter(Boolean).join(" ")).join("; ");
}

// What a person must know while the bench does not, of what changes the watch.
function urgency(action, fields) {
  if (fields.has("emergency")) return texts.warnsNobody;
  if (action.endsWith("/out")) return texts.countsAsBurning;
  return /\/(lit|light)$/.test(action) ? texts.watchesNot : "";
}

// The picture as it is now: what a camera wrote may be gone when the bench can be reached again.
async function hold(typed) {
  const picture = typed.get("photo");
  if (picture) typed.set("photo", new File([await picture.arrayBuffer()], picture.name, { type: picture.type }));
}

async function send(form, button, unsent, recorded, lost) {
  const says = form.querySelector(".answer");
  const typed = new FormData(form, button);
  try {
    await hold(typed);
  } catch {
    says.textContent = `${texts.notRecorded}: ${texts.noPicture}.`;
    return;
  }
  const fields = form.enctype === "multipart/form-data" ? typed : new URLSearchParams(typed);
  says.textContent = ""; // after the form was read: its button may stand in there
  fields.delete("id");
  // The same words sent again carry the same id, so that a doubtful first try counts once.
  const words = JSON.stringify([form.action, ...[...fields].map(([name, value]) => [name, value.name ?? value, value.size])]);
  if (form.words === words && button?.getAttribute("aria-busy") === "true") return; // tapped twice
  if (form.words !== words) [form.words, form.sendId] = [words, newId()];
  fields.set("id", form.sendId);
  const label = button?.name === "sure" ? form.querySelector("button.main:not([name=sure])") : button;
  const what = form.dataset.says ?? label?.textContent.trim() ?? texts.entry;
  const shown = named(form, fields);
  const entry = {
    action: form.action,
    fields,
    says: shown ? `${what} (${shown})` : what,
    tappedMs: form.tappedMs ?? Date.now(),
    urgent: urgency(form.action, fields),
  };
  try {
    button?.setAttribute("aria-busy", "true");
    if (unsent.waits && !entry.urgent) { // in the order in which they were tapped
      unsent.add(entry);
      unsent.send();
      done(form, false);
      return;
    }
    const page = await post(entry);
    const leads = form.dataset.leads;
    done(form);
    tell(what);
    button?.removeAttribute("aria-busy");
    if (leads === undefined) recorded(page);
    else location.assign(page.address);
  } catch (error) {
    if (!error.answered) {
      lost();
      unsent.add(entry);
      done(form, false);
      return;
    }
    says.textContent = `${texts.notRecorded}: ${error.message}${error.asks ? "" : "."}`;
    says.classList.add("refused");
    if (error.asks) offerToKeep(form, says);
  } finally {
    button?.removeAttribute("aria-busy");
  }
}

// It is out of the person's hands: the form is as new.
function done(form, sent = true) {
  form.words = null;
  form.tappedMs = undefined;
  keep(form);
  form.reset();
  recall(form);
  document.activeElement?.blur();
  if (form.parentElement.matches("details")) form.parentElement.open = false;
  if (location.hash === "#emergency") location.hash = "";
  form.dispatchEvent(new CustomEvent("taken", { bubbles: true, detail: { sent } }));
}

// What is only improbable can be sent again as it stands; whoever changes it is asked anew.
function offerToKeep(form, says) {
  const keepIt = Object.assign(document.createElement("button"), { name: "sure", value: "true", className: "main", textContent: texts.keepIt });
  says.append(" ", keepIt);
  form.addEventListener("input", () => { says.textContent = ""; }, { once: true });
}

// The form that an entry came from, where the page still has it; there is nothing to change in an
// emergency.
function formOf({ action, fields }) {
  if (fields.has("emergency")) return undefined;
  return [...document.forms].find((form) =>
    form.action === action && form.querySelector(".answer") &&
    [...fields].every(([name, value]) => !value || ["id", "waited_s", "sure"].includes(name) || form.elements.namedItem(name)));
}

function filesOf(files) {
  const list = new DataTransfer();
  for (const file of files) list.items.add(file);
  return list.files;
}

// Puts an entry back where it was typed; it keeps its time.
function change(entry) {
  const form = formOf(entry);
  const typed = new Map([...entry.fields.keys()].map((name) => [name, entry.fields.getAll(name)]));
  for (const field of form.elements) {
    if (!field.name || field.name === "id") continue;
    if (["checkbox", "radio"].includes(field.type)) field.checked = typed.get(field.name)?.includes(field.value) ?? false;
    else if (field.type === "file") field.files = filesOf(typed.get(field.name));
    else if (typed.has(field.name)) field.value = typed.get(field.name).shift() ?? ""; // several of one name, in order
  }
  form.tappedMs = entry.tappedMs;
  for (let node = form; node; node = node.parentElement) if (node.matches("details")) node.open = true;
  const says = form.querySelector(".answer");
  says.textContent = `${filled(texts.asTapped, { time: seconds(new Date(entry.tappedMs)) })} ${entry.reason}${entry.asks ? "" : "."}`;
  form.dispatchEvent(new CustomEvent("changing", { bubbles: true }));
  form.scrollIntoView({ block: "nearest" });
  form.querySelector("input:not([type=hidden]), textarea, select, button")?.focus();
}

function tell(what, tapped) {
  const says = document.getElementById("recorded");
  if (says) says.textContent = filled(texts.recorded, { time: seconds(new Date()), what: tapped ? filled(texts.tapped, { what, time: tapped }) : what });
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

// `lost` hears that an entry found no answer.
export function forms(recorded, lost) {
  recall(document);
  const unsent = new Unsent({
    post,
    recorded: (entry, page) => {
      tell(entry.says, seconds(new Date(entry.tappedMs)));
      recorded(page);
    },
    change,
    hasForm: (entry) => formOf(entry) !== undefined,
  });
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.querySelector(".answer")) return;
    event.preventDefault();
    send(form, event.submitter, unsent, recorded, lost);
  });
}
