// A station page: what is read or given goes into the queue, is sent in order, and its answer takes the page's place.
// A comfort only: without these files the page is a form that posts and comes back.
import { listen } from "./keys.js";
import { listenPad } from "./pad.js";
import { $, entry, focusEntry, isNew, main, notice } from "./page.js";
import { begin, put } from "./queue.js";
import { showSound, tell, toggleSound } from "./tones.js";

const FIGURE = /^[+-]?\d{1,5}([.,]\d{0,4})?\s*(kg|g|mm|%|°?C|rpm|min)?$/i;
const LATE_ENTER = 700;    // ms after a scan, or after the page came, in which an Enter belongs to what was before

const howOf = (box) => box?.form?.elements[`${box.name}_how`];

function kilograms(grams) {  // digit by digit: "300.5" is "0.3005"
  const [whole, rest = ""] = grams.replace("-", "").padStart(1, "0").split(".");
  const far = whole.padStart(4, "0");
  return `${grams.startsWith("-") ? "-" : ""}${far.slice(0, -3)}.${far.slice(-3)}${rest}`;
}

function read(text) {  // what a scale types: kilograms, whatever unit it shows
  const digits = text.replace(/[^\d.,+-]/g, "").replace("+", "").replace(",", ".");
  return /\dg|\d\s+g/i.test(text) ? kilograms(digits) : digits;
}

// A scanner's keys, a camera, a scale: in the box of a figure a figure is meant, anything else is a code.
// A figure that neither Enter nor Tab ended stands in its box: who knows whether it is whole.
function scanned(text, at = null, restore = () => {}, unended = false) {
  if (at?.matches?.("[data-figure]") && FIGURE.test(text)) {
    if (unended) {
      if (howOf(at)) howOf(at).value = "read";
      return undefined;
    }
    if (at === entry()) {
      at.value = "";    // what comes next stands alone, and a late Enter finds nothing to give again
      return put({ kind: "typed", asked: at.name, text: read(text), how: "read" });
    }
    at.value = read(text);
    if (howOf(at)) howOf(at).value = "read";
    focusEntry();
    return undefined;
  }
  restore();
  return put({ kind: "code", text });
}

// Enter, or the control with the return sign: what stands in the box, else what Enter works on this page.
function give(box) {
  // A refused figure stands there to be typed over: as it stands it is given by nobody.
  const text = isNew(box) ? box.value.trim() : "", asked = main().dataset.asked;
  if (text) {
    const code = box.id === "code" ? !FIGURE.test(text) : box.matches("[data-figure]") && looksLikeCode(text);
    const item = code ? { kind: "code", text } : { kind: "typed", asked: box.name, text, how: howOf(box)?.value ?? "" };
    box.value = code && box.id !== "code" ? box.defaultValue : "";    // what is typed next stands alone
    put(item);
  } else if (!["scan", "type"].includes(asked) || main().hasAttribute("data-may-be-empty")) {
    put({ kind: "press", name: "do", value: main().dataset.enter });
  } else {
    notice("data-nothing");
    focusEntry();
  }
}

const looksLikeCode = (text) => !FIGURE.test(text) && text.length > 3 && /[a-z]/i.test(text) && /\d/.test(text);

listen({
  scanned,
  enter(sinceScan, box) {
    // What was typed since the page came is given at once: only an Enter with nothing new before it came late.
    if (sinceScan < LATE_ENTER || (performance.now() < LATE_ENTER && !isNew(box))) return;
    if (box && !box.closest(".asked") && box.id !== "code") focusEntry();    // a field that waits below: on to what is asked
    else give(box?.id === "code" && box.value.trim() ? box : entry());
  },
  entry,
});

// Another way of reading hands over what it read, and it is a scan like that of the hand-held scanner.
document.addEventListener("scanned", (done) => {
  const text = String(done.detail?.text ?? "").trim();
  if (text) scanned(text);
});

document.addEventListener("submit", (sent) => {
  const form = sent.target, button = sent.submitter;
  if (!form.matches("[data-scan]")) return;
  sent.preventDefault();
  if (form.id !== "ask") put({ kind: "form", form, button });
  else if (!button || button.matches(".give, .first")) give(button?.closest(".code-bar") ? $("#code") : entry());
  else put({ kind: "press", name: button.name, value: button.value });
});

document.addEventListener("change", (changed) => {
  if (changed.target.matches("[data-send-at-once]") && changed.target.files.length) put({ kind: "photo" });
  const look = changed.target.closest("[data-look]")?.querySelector("button[value=look]");
  if (look) put({ kind: "press", name: "do", value: "look" });
});

document.addEventListener("input", (typed) => {
  const { name, type } = typed.target;
  typed.target.dataset.typed = "";
  if (type === "datetime-local") {    // a time that is picked takes the place of one that was chosen
    for (const chosen of document.querySelectorAll(`[type=radio][name="${name}"]:checked`)) chosen.checked = false;
  }
  if (typed.target.matches("[data-figure]") && howOf(typed.target)) howOf(typed.target).value = "typed";
});

document.addEventListener("click", (click) => {
  if (click.target.closest("[data-sound]")) toggleSound();
});

listenPad(entry, (box) => {
  box.dataset.typed = "";
  if (howOf(box)) howOf(box).value = "typed";
});
showSound();
focusEntry();
tell();
begin();
