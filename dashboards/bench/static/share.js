// One stream of news for all tabs of a browser, which has six connections for one host: one tab
// holds it and passes on what it hears. Locks would choose that tab, but only where the page comes
// encrypted or from this machine.

const CHANNEL = "wickbench-live";
const ASK_MS = 100; // for an answer of the tab that holds the stream; two that hold one agree
const SPREAD_MS = 300; // so that tabs which miss it together do not all open one
const QUIET_MS = 2800; // beats come every 2 s: who holds it is gone

export class SharedStream {
  #id = Math.random();
  #channel = null;
  #stream = null;
  #timer = 0;
  #heard = false;

  constructor(kinds, onEvent, onLost) {
    this.kinds = kinds;
    this.onEvent = onEvent;
    this.onLost = onLost;
  }

  get begun() { return this.#channel !== null; }

  get open() { return this.#heard; } // news have come, of its own stream or another tab's

  start() {
    this.stop();
    this.#channel = new BroadcastChannel(CHANNEL);
    this.#channel.onmessage = ({ data }) => this.#told(data);
    this.#say({ ask: true });
    this.#leadAfter(ASK_MS, 0);
  }

  stop() {
    clearTimeout(this.#timer);
    if (this.#stream) this.#say({ gone: true });
    this.#stream?.close();
    this.#channel?.close();
    this.#stream = this.#channel = null;
    this.#heard = false;
  }

  #say(what) { this.#channel.postMessage({ from: this.#id, ...what }); }

  #leadAfter(ms, spread = SPREAD_MS) {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#lead(), ms + Math.random() * spread);
  }

  #told({ from, ask, gone, kind, content }) {
    if (ask) {
      if (this.#stream) this.#say({});
      return;
    }
    if (this.#stream) { // two hold one: the lower id keeps it
      if (gone || from > this.#id) return;
      this.#stream.close();
      this.#stream = null;
    }
    this.#leadAfter(gone ? 0 : QUIET_MS);
    if (kind) this.#pass(kind, content);
  }

  #pass(kind, content) {
    this.#heard = true;
    this.onEvent(kind, content);
  }

  #lead() {
    this.#stream = new EventSource("/api/live");
    for (const kind of this.kinds) {
      this.#stream.addEventListener(kind, (event) => {
        const content = JSON.parse(event.data);
        this.#say({ kind, content });
        this.#pass(kind, content);
      });
    }
    this.#stream.onerror = () => this.onLost();
  }
}
