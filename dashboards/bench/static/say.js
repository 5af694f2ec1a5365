// What is read aloud, once: an alarm that waits for a person, on whichever page it is first seen.

const KEY = "announced";
const MOST = 200; // remembered; an evening has fewer

function known() {
  try { return JSON.parse(sessionStorage.getItem(KEY)) ?? []; } catch { return []; }
}

function keep(said) {
  try { sessionStorage.setItem(KEY, JSON.stringify(said.slice(-MOST))); } catch { /* a private window keeps nothing */ }
}

let said = known();

export function announce() {
  const open = [...document.querySelectorAll("#to-announce > li")];
  const fresh = open.filter((node) => !said.includes(node.dataset.key));
  if (!fresh.length) return;
  said = [...said, ...fresh.map((node) => node.dataset.key)];
  keep(said);
  document.getElementById("announced").textContent = fresh.map((node) => node.textContent).join(" ");
}

// Where the browser may, the screen stays on while a candle burns: a page that went dark warns nobody.
let lock = null;
export async function stayAwake() {
  const wanted = "burning" in document.body.dataset && document.visibilityState === "visible";
  if (wanted === (lock !== null) || !navigator.wakeLock) return;
  if (!wanted) {
    lock.release();
    lock = null;
    return;
  }
  try {
    lock = await navigator.wakeLock.request("screen");
    lock.addEventListener("release", () => { lock = null; });
  } catch { /* the battery is low, or the browser may not */ }
}
