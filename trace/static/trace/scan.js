// A station page without reloads: catches the hand-held scanner, sends the form, shows the answer, gives a tone.
// A comfort only: without this file the page is a form that posts and comes back.

const BURST = 50;      // ms between keys; a hand types at 90 and more, a scanner at 3 to 20
const SHORTEST = 4;    // signs of the shortest code that a scanner sends
const PATIENCE = 15000; // ms
const TONES = { accepted: [[1760, 0.09]], warned: [[880, 0.12], [880, 0.12]],    // [Hz, seconds], one after the other
  flagged: [[520, 0.16], [390, 0.2]], refused: [[196, 0.7]] };
const waiting = [];    // codes scanned while an answer was on its way
let busy = false, inFlight = "", audio = null;
let burst = { text: "", last: 0, at: null, before: "" };

const $ = (what) => document.querySelector(what);
const quiet = () => { try { return localStorage.getItem("sound") === "off"; } catch { return false; } };

function tone(outcome) {
  if (quiet() || !TONES[outcome]) return;
  audio ??= new AudioContext();
  audio.resume().catch(() => {});
  let start = audio.currentTime + 0.02;
  for (const [hertz, seconds] of TONES[outcome]) {
    const voice = audio.createOscillator(), level = audio.createGain();
    voice.type = outcome === "refused" ? "square" : "sine";
    voice.frequency.value = hertz;
    level.gain.setValueAtTime(0.0001, start);
    level.gain.exponentialRampToValueAtTime(0.3, start + 0.01);
    level.gain.exponentialRampToValueAtTime(0.0001, start + seconds);
    voice.connect(level).connect(audio.destination);
    voice.start(start);
    voice.stop(start + seconds + 0.02);
    start += seconds + 0.06;
  }
}

function showSound() {
  const button = $("[data-sound]");
  if (!button) return;
  button.hidden = false;
  button.setAttribute("aria-pressed", String(!quiet()));
}

function say() {
  const verdict = $("[data-outcome]"), said = $("#said");
  if (!verdict || !said) return;
  said.textContent = verdict.querySelector(".verdict-words").innerText;
  tone(verdict.hasAttribute("data-replayed") ? "accepted" : verdict.dataset.outcome);
}

function trouble(shown) {
  const sentence = $("[data-trouble]");
  if (!sentence) return;
  sentence.hidden = !shown;
  if (shown) { $("#said").textContent = sentence.textContent; tone("refused"); }
}

async function send(form, button) {
  if (busy) return;
  busy = true;
  inFlight = $("#code")?.value.trim() ?? "";
  const main = $("main");
  main.setAttribute("aria-busy", "true");
  try {
    const answer = await fetch(form.action, {
      method: "POST", body: new FormData(form, button), headers: { Accept: "text/html" },
      signal: AbortSignal.timeout(PATIENCE),
    });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const next = page.querySelector("main");
    if (answer.ok && next && !next.dataset.station) { location.assign(answer.url); return; }   // signed out, or done here
    if (!next?.dataset.station) throw new Error("no station in the answer");
    const typed = $("#code")?.value.trim() ?? "";
    main.replaceWith(document.adoptNode(next));
    if (typed && typed !== inFlight && $("#code")) $("#code").value = typed;    // typed while waiting for the answer
    document.title = page.title;
    showSound();
    say();
    $("#code")?.focus();
  } catch {
    trouble(true);
    main.removeAttribute("aria-busy");
    waiting.length = 0;     // what was not sent must be scanned again: better than sent twice in another order
    $("#code")?.focus();
  } finally {
    busy = false;
    inFlight = "";
  }
  if (waiting.length) take(waiting.shift());
}

function take(code) {
  if (busy) {
    if (code !== inFlight && !waiting.includes(code)) waiting.push(code);
    return;
  }
  const box = $("#code");
  if (!box) return;
  box.value = code;
  send(box.form, box.form.querySelector(".first"));
}

function read(box, text) {  // a scale that types: the figure belongs to the box it was typed into
  box.value = text.replace(/[^\d.,+-]/g, "").replace(",", ".");
  const how = box.form?.elements[`${box.name}_how`];
  if (how) how.value = "read";
  const boxes = [...document.querySelectorAll("[data-figure]")];
  (boxes[boxes.indexOf(box) + 1] ?? $("#code"))?.focus();
}

document.addEventListener("keydown", (key) => {
  if (key.ctrlKey || key.altKey || key.metaKey || key.isComposing) return;
  const gap = key.timeStamp - burst.last;
  if (key.key === "Enter" || key.key === "Tab") {
    const done = burst;
    burst = { text: "", last: 0, at: null, before: "" };
    if (gap > BURST * 2 || done.text.length < SHORTEST) return;
    key.preventDefault();
    const figure = done.at?.matches?.("[data-figure]") && /^[+-]?\s*\d+([.,]\d+)?\s*(kg|g)?$/i.test(done.text.trim());
    if (figure) { read(done.at, done.text); return; }
    if (done.at && "value" in done.at && done.at.id !== "code") done.at.value = done.before;
    take(done.text.trim());
  } else if (key.key.length === 1) {
    if (gap > BURST) burst = { text: "", last: 0, at: document.activeElement, before: document.activeElement?.value ?? "" };
    burst.text += key.key;
    burst.last = key.timeStamp;
  }
}, true);

document.addEventListener("submit", (sent) => {
  if (!sent.target.matches("[data-scan]")) return;
  sent.preventDefault();
  send(sent.target, sent.submitter);
});

document.addEventListener("change", (changed) => {
  if (changed.target.matches("[data-send-at-once]") && changed.target.files.length) {
    send(changed.target.form, changed.target.form.querySelector(".first"));
  }
});

document.addEventListener("input", (typed) => {
  const how = typed.target.matches("[data-figure]") && typed.target.form?.elements[`${typed.target.name}_how`];
  if (how) how.value = "typed";
});

document.addEventListener("click", (click) => {
  if (!click.target.closest("[data-sound]")) return;
  try { localStorage.setItem("sound", quiet() ? "on" : "off"); } catch { /* a browser that keeps nothing */ }
  showSound();
});

showSound();
say();
