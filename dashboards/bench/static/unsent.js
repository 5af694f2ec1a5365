// What the bench has not confirmed: kept while the page stays open, sent again until it answers.

import { filled, texts } from "./texts.js";
import { seconds } from "./words.js";

const RETRY_MS = 2000;

function made(tag, properties, ...within) {
  const node = Object.assign(document.createElement(tag), properties);
  node.append(...within);
  return node;
}

export class Unsent {
  #entries = []; // in the order in which they were tapped
  #sending = false;
  #retry = 0;

  // `post(entry)` throws an error with `answered` where the bench said no; `change(entry)` puts
  // an entry back into its form and tells whether there is one.
  constructor({ post, recorded, change, hasForm }) {
    Object.assign(this, { post, recorded, change, hasForm });
    addEventListener("online", () => this.send());
    document.addEventListener("visibilitychange", () => this.send());
    addEventListener("beforeunload", (event) => { if (this.#entries.length) event.preventDefault(); });
  }

  get waits() { return this.#next() !== undefined; }

  add(entry) {
    this.#entries.push(entry);
    this.#show();
    this.#sendLater();
  }

  // In order, but what is urgent goes first. Nothing goes past an entry that found no answer.
  async send() {
    if (this.#sending) return;
    this.#sending = true;
    clearTimeout(this.#retry);
    try {
      for (let entry = this.#next(); entry; entry = this.#next()) {
        try {
          const page = await this.post(entry);
          this.#drop(entry);
          this.recorded(entry, page);
        } catch (error) {
          if (!error.answered) {
            this.#sendLater();
            return;
          }
          Object.assign(entry, { reason: error.message, asks: error.asks });
          this.#show();
        }
      }
    } finally {
      this.#sending = false;
    }
  }

  #sendLater() {
    clearTimeout(this.#retry);
    this.#retry = setTimeout(() => this.send(), RETRY_MS);
  }

  #next() {
    const waiting = this.#entries.filter((entry) => entry.reason === undefined);
    return waiting.find((entry) => entry.urgent) ?? waiting[0];
  }

  #drop(entry) {
    this.#entries = this.#entries.filter((one) => one !== entry);
    this.#show();
  }

  #again(entry, fields) {
    for (const [name, value] of Object.entries(fields)) entry.fields.set(name, value);
    entry.reason = undefined;
    this.#show();
    this.send();
  }

  #show() {
    const section = document.getElementById("unsent");
    const loud = this.#entries.filter((entry) => entry.urgent);
    const others = this.#entries.filter((entry) => !entry.urgent);
    const count = this.#entries.filter((entry) => entry.reason === undefined).length;
    section.replaceChildren(
      ...loud.map((entry) => this.#article(entry)),
      made("p", { textContent: count ? filled(texts.tryingAgain, { count }) : "" }),
      ...others.map((entry) => this.#article(entry)));
    section.hidden = !this.#entries.length;
  }

  #article(entry) {
    const what = filled(texts.tapped, { what: entry.says, time: seconds(new Date(entry.tappedMs)) });
    if (entry.reason !== undefined) {
      const mark = entry.urgent ? texts.notKnown : texts.notRecorded;
      return made("article", { className: "refused" },
        made("p", {}, made("b", { textContent: mark }), `: ${what}. ${entry.reason}${entry.asks ? "" : "."}`),
        made("p", { className: "ways" }, ...this.#ways(entry)));
    }
    if (!entry.urgent) return made("article", {}, made("p", {}, made("b", { textContent: texts.notYetSent }), `: ${what}.`));
    const article = made("article", { className: "urgent" }, made("p", {}, made("b", { textContent: texts.notKnownYet }), `: ${what}. ${entry.urgent} ${texts.trying}`));
    article.setAttribute("role", "alert");
    return article;
  }

  #ways(entry) {
    const button = (textContent, act) => {
      const node = made("button", { type: "button", textContent });
      node.addEventListener("click", act);
      return node;
    };
    return [
      entry.asks && button(texts.keepIt, () => this.#again(entry, { sure: "true" })),
      this.hasForm(entry)
        ? button(texts.changeIt, () => { this.#drop(entry); this.change(entry); })
        : button(texts.sendAgain, () => this.#again(entry, {})),
      button(texts.dropIt, () => this.#drop(entry)),
    ].filter(Boolean);
  }
}
