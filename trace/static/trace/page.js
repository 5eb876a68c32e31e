// The station page as it stands: its parts, its one notice, and how an answer takes its place.
import { showPad } from "./pad.js";
import { aloud, showSound, tell } from "./tones.js";

const NOTICES = ["data-again", "data-nothing", "data-gone", "data-asking", "data-trouble", "data-stuck"];

export const $ = (what) => document.querySelector(what);
export const main = () => $("main[data-station]");
export const entry = () => $("[data-entry]") ?? $("#code");
export const form = () => $("#ask");
// What stands in a box is new when it was typed since the page came, also where it is what stood there before.
export const isNew = (box) => Boolean(box?.value.trim()) && (box.value !== box.defaultValue || "typed" in box.dataset);

export function focusEntry() {
  const box = $("[data-entry]");
  showPad(box?.matches("[data-figure]") ? box : null);
  // A button that Enter alone does not press is not under it either: who means it taps it, or goes to it.
  const press = $(".asked .press"), bare = press?.value === main().dataset.enter ? press : null;
  const first = box ?? $(".asked :is(input:checked, input[type=radio], select)") ?? bare ?? main();
  first?.focus({ preventScroll: true });
  if (box?.value) box.select();
}

// One line of the page's own, in place of the one before; "" takes it away.
export function notice(name, code = "") {
  for (const one of NOTICES) {
    const line = $(`[${one}]`);
    if (line) line.hidden = one !== name;
  }
  const shown = name && $(`[${name}]`);
  if (!shown) return;
  const place = shown.querySelector("[data-asking-code], [data-stuck-code]");
  if (place) place.textContent = code.length > 24 ? `${code.slice(0, 24)}…` : code;
  if (name !== "data-asking") aloud(shown.innerText);
}

export function showWaiting(count) {
  const head = $("[data-not-sent]");
  if (!head) return;
  head.hidden = count === 0;
  head.querySelector("[data-count]").textContent = count;
}

// Put the answer in place of the page; what was typed meanwhile stays typed.
export function show(text, looks) {
  const answer = new DOMParser().parseFromString(text, "text/html"), next = answer.querySelector("main[data-station]");
  if (!next) return false;
  const old = entry(), kept = old && old.value !== old.defaultValue ? old.value : "", wasIn = document.activeElement?.id;
  main().replaceWith(document.adoptNode(next));
  document.title = answer.title;
  const place = placeFor(kept, old?.name);
  if (place) place.value = kept;
  showSound();
  tell();
  const chosen = looks && next.querySelector("[data-look] :checked");
  if (!looks) scrollTo({ top: 0, behavior: "instant" });    // what is asked stands there
  if (chosen) chosen.focus();
  else if (place && !place.matches("[data-entry]")) place.focus({ preventScroll: true });
  else if (looks && wasIn && document.getElementById(wasIn)) document.getElementById(wasIn).focus();
  else focusEntry();
  if (place) place.setSelectionRange?.(kept.length, kept.length);
  next.querySelector(".drawn .now")?.scrollIntoView({ block: "nearest" });
  return true;
}

// Where half-typed text goes on: its own box, or the figure that is asked now, or the box for codes.
function placeFor(text, name) {
  if (!text) return null;
  const box = entry();
  if (box && (box.name === name || box.id === "code")) return box;
  if (box?.matches("[data-figure]") && /^[+-]?[\d.,]*$/.test(text)) return box;
  return $("#code") ?? box;
}
