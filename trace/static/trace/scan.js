// A station page without reloads: catches the hand-held scanner, sends the form, shows the answer, gives a tone.
// A comfort only: without this file the page is a form that posts and comes back.
const BURST = 50;      // ms between keys; a hand types at 90 and more, a scanner at 3 to 20
const SHORTEST = 4;    // signs of the shortest code that a scanner sends
const PATIENCE = 15000; // ms
const AGAIN = 2000;    // ms in which the same label read once more is the same scan: a trigger held too long
const TONES = { accepted: [[1760, 0.09]], warned: [[880, 0.12], [880, 0.12]],    // [Hz, seconds], one after the other
  flagged: [[520, 0.16], [390, 0.2]], refused: [[196, 0.7]] };
const NOTHING = { text: "", last: 0, at: null, before: "", how: "" };
const waiting = [];    // codes scanned while an answer was on its way
let busy = false, inFlight = "", audio = null;
let burst = NOTHING, latest = { code: "", at: -AGAIN };

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
  $("[data-sound]")?.removeAttribute("hidden");
  $("[data-sound]")?.setAttribute("aria-pressed", String(!quiet()));
}

function say() {
  const verdict = $("[data-outcome]"), said = $("#said");
  if (!verdict) return;
  said.textContent = verdict.querySelector(".verdict-words").innerText;
  tone(verdict.hasAttribute("data-replayed") ? "accepted" : verdict.dataset.outcome);
}

function trouble() {
  const sentence = $("[data-trouble]");
  sentence.hidden = false;
  $("#said").textContent = sentence.textContent;
  tone("refused");
}

async function send(form, button = form.querySelector(".first")) {
  if (busy) return;
  const looks = button?.value === "look";
  [busy, inFlight] = [true, looks ? "" : $("#code")?.value.trim() ?? ""];
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
    const first = (looks && next.querySelector("[data-look] :checked")) || (next.querySelector("[autofocus]") ?? $("#code"));
    if (first?.id === "code") scrollTo({ top: 0, behavior: "instant" });   // what is next stands at the top
    first?.focus({ preventScroll: first.id === "code" });
    if (first?.id !== "code") first?.select?.();   // a refused figure is typed over
  } catch {
    trouble();
    main.removeAttribute("aria-busy");
    waiting.length = 0;    // these gave no tone and are scanned again: better than sent out of order
    $("#code")?.focus();
  } finally {
    [busy, inFlight] = [false, ""];
  }
  if (waiting.length) take(waiting.shift());
}

function take(code) {
  if (busy) {
    if (code !== inFlight && !waiting.includes(code)) waiting.push(code);
    return;
  }
  if (!$("#code")) return;
  $("#code").value = code;
  send($("#code").form);
}

function scanned(code) {
  const soon = code === latest.code && performance.now() - latest.at < AGAIN, said = $("[data-again]");
  const again = soon && $("[data-outcome]")?.dataset.outcome !== "refused";    // what was refused may be tried again at once
  latest = { code, at: performance.now() };
  if (!again || !said) return take(code);
  said.hidden = false;
  $("#said").textContent = said.textContent;
  if (!busy) $("#code").value = "";
}

const howOf = (box) => box?.form?.elements[`${box.name}_how`];

function kilograms(grams) {  // digit by digit: "300.5" is "0.3005"
  const [whole, rest = ""] = grams.replace("-", "").padStart(1, "0").split(".");
  const far = whole.padStart(4, "0");
  return `${grams.startsWith("-") ? "-" : ""}${far.slice(0, -3)}.${far.slice(-3)}${rest}`;
}

function read(box, text) {  // a scale that types: the figure belongs to the box it was typed into
  const digits = text.replace(/[^\d.,-]/g, "").replace(",", ".");
  box.value = /\dg|\d\s+g/i.test(text) ? kilograms(digits) : digits;
  if (howOf(box)) howOf(box).value = "read";
  const boxes = [...document.querySelectorAll("[data-figure]")];
  (boxes[boxes.indexOf(box) + 1] ?? $("#code"))?.focus();
}

document.addEventListener("keydown", (key) => {
  if (key.ctrlKey || key.altKey || key.metaKey || key.isComposing) return;
  const gap = key.timeStamp - burst.last;
  if (key.key === "Enter" || key.key === "Tab") {
    const done = burst;
    burst = NOTHING;
    if (gap > BURST * 2 || done.text.length < SHORTEST) return;
    key.preventDefault();
    if (done.at?.matches?.("[data-figure]") && /^[+-]?\s*\d+([.,]\d+)?\s*(kg|g)?$/i.test(done.text.trim())) return read(done.at, done.text);
    if (done.at && "value" in done.at && done.at.id !== "code") {   // the code was typed into another box: put that back
      done.at.value = done.before;
      if (howOf(done.at)) howOf(done.at).value = done.how;
    }
    scanned(done.text.trim());
  } else if (key.key.length === 1) {
    const at = document.activeElement, before = at?.value ?? "";
    // a first key that came late (a busy tablet) still belongs to the code that follows it in the code box
    if (gap > BURST) burst = { text: at?.id === "code" && gap < BURST * 8 ? before : "", last: 0, at, before, how: howOf(at)?.value };
    burst.text += key.key;
    burst.last = key.timeStamp;
  }
}, true);

// Another way of reading hands over what it read, and it is a scan like that of the hand-held scanner.
document.addEventListener("scanned", (read) => {
  const text = String(read.detail?.text ?? "").trim();
  if (text) scanned(text);
});

document.addEventListener("submit", (sent) => {
  if (!sent.target.matches("[data-scan]")) return;
  sent.preventDefault();
  send(sent.target, sent.submitter);
});

document.addEventListener("change", (changed) => {
  if (changed.target.matches("[data-send-at-once]") && changed.target.files.length) send(changed.target.form);
  const look = changed.target.closest("[data-look]")?.querySelector("button[value=look]");
  if (look) send(changed.target.form, look);
});

document.addEventListener("input", (typed) => {
  if (typed.target.matches("[data-figure]") && howOf(typed.target)) howOf(typed.target).value = "typed";
});

document.addEventListener("click", (click) => {
  if (!click.target.closest("[data-sound]")) return;
  try { localStorage.setItem("sound", quiet() ? "on" : "off"); } catch { /* a browser that keeps nothing */ }
  showSound();
});

showSound();
say();
