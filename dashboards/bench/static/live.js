// Follows the bench: its page once, then its news, and knows when the news have stopped.

import { SharedStream } from "./share.js";

const SILENT_MS = 4000; // beats come every 2 s; OFFLINE must stand within 5
const GRACE_MS = 1500; // a service that starts again at once is no alarm
const RETRY_MS = 1000;
const FRESH_MS = 1000; // a page that came just now is first of all to show what is new
const KINDS = ["shown", "estimate", "alarm", "burn", "beat"];

export function follow({ load, onEvent, onState }) {
  const stream = new SharedStream(KINDS, hear, lost);
  let heardMs = performance.now(); // the page itself came just now
  let benchS = null;
  let movedMs = heardMs; // when bench time last went on
  let wanted = false;
  let retry = 0;
  let unreached = false; // a request found no answer, and none has come since
  let fresh = true; // the page came just now: its news need not wait until it has come once more

  async function open() {
    clearTimeout(retry);
    if (fresh) {
      fresh = false;
      stream.start();
      await new Promise((done) => { setTimeout(done, FRESH_MS); });
      if (!wanted) return; // hidden meanwhile
    }
    await load();
    unreached = false;
    if (!wanted) return;
    heard();
    if (!stream.begun) stream.start();
  }

  function hear(kind, content) {
    heard();
    if ("time_s" in content) moved(content.time_s);
    onEvent(kind, content);
  }

  function heard() { heardMs = performance.now(); }

  function moved(timeS) {
    if (timeS !== null && timeS !== benchS) {
      benchS = timeS;
      movedMs = performance.now();
    }
  }

  // A stream that was open may go on where no request gets through any more.
  function lost() {
    unreached = true;
    shut();
    if (wanted) retry = setTimeout(start, RETRY_MS);
  }

  function shut() {
    clearTimeout(retry);
    stream.stop();
  }

  function start() { open().catch(lost); }

  function look() {
    if (!wanted) return;
    const nowMs = performance.now();
    if (unreached && nowMs - heardMs > GRACE_MS || nowMs - heardMs > SILENT_MS) {
      onState("offline", (nowMs - heardMs) / 1000);
      if (stream.begun) lost(); // an open connection that says nothing is no connection
    } else if (nowMs - movedMs > SILENT_MS) onState("stands", (nowMs - movedMs) / 1000);
    else onState(stream.open ? "live" : "none", (nowMs - heardMs) / 1000);
  }

  // A hidden tab needs no news.
  function turn() {
    const visible = document.visibilityState === "visible";
    if (visible === wanted) return;
    wanted = visible;
    if (wanted) {
      start();
      look();
    } else shut();
  }

  document.addEventListener("visibilitychange", turn);
  addEventListener("pagehide", () => { wanted = false; shut(); });
  addEventListener("pageshow", turn);
  setInterval(look, 500);
  turn();
  return { lost };
}
