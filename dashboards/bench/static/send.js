// Forms as the browser itself would post them: but the page stays, and what is wrong stands beside
// the button.

import { seconds } from "./words.js";

// randomUUID is missing where a page comes over plain HTTP from another machine.
const newId = () => [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");

// The answer is a page: the one that the form is on, drawn anew, or one that says what is wrong.
async function post(form, fields) {
  let answer, page;
  try {
    answer = await fetch(form.action, {
      method: "POST",
      headers: { accept: "text/html" },
      body: fields,
      signal: AbortSignal.timeout(fields instanceof FormData ? 60000 : 15000), // a photo takes longer
    });
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    throw new Error("the bench does not answer; it may or may not have been recorded. Try again: twice counts once");
  }
  if (answer.ok) return page;
  const detail = page.querySelector("[data-detail]")?.textContent ?? `the bench answered ${answer.status}`;
  throw Object.assign(new Error(detail), { asks: page.querySelector('[name="sure"]') !== null });
}

async function send(form, button, recorded) {
  const says = form.querySelector(".answer");
  const typed = new FormData(form, button); // before what it says goes: "Keep it" stands in there
  says.textContent = "";
  // The same words sent again carry the same id, so that a doubtful first try counts once.
  const fields = form.enctype === "multipart/form-data" ? typed : new URLSearchParams(typed);
  fields.delete("id");
  const words = [form.action, ...[...fields].flatMap(([name, value]) => [name, value.name ?? value, value.size])].join(" ");
  if (form.words !== words) [form.words, form.sendId] = [words, newId()];
  fields.set("id", form.sendId);
  try {
    button?.setAttribute("aria-busy", "true");
    const page = await post(form, fields);
    form.words = null;
    keep(form);
    form.reset();
    recall(form);
    document.activeElement?.blur();
    if (form.parentElement.matches("details")) form.parentElement.open = false;
    if (location.hash === "#emergency") location.hash = "";
    tell(button?.textContent.trim() ?? "entry");
    button?.removeAttribute("aria-busy");
    recorded(page);
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
    if (!form.querySelector(".answer")) return;
    event.preventDefault();
    send(form, event.submitter, recorded);
  });
}
