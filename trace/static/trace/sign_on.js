// Badge, then PIN, one at a time: a scanner may end the badge with Enter, with Tab or with neither; what is typed next is the PIN.
import { listen } from "./keys.js";
import { listenPad, showPad } from "./pad.js";

const LATE_ENTER = 700;    // ms after a scan in which an Enter belongs to it
const form = document.querySelector("[data-sign-on]"), badge = form.elements.badge, pin = form.elements.pin;
const REST = 600;    // ms
let sent = false, rest = 0;

const entry = () => (form.dataset.step === "pin" ? pin : badge);

function ask(step) {
  clearTimeout(rest);
  form.dataset.step = step;
  for (const part of form.querySelectorAll("[data-part]")) part.hidden = part.dataset.part !== step;
  showPad(pin);
  entry().focus({ preventScroll: true });
}

function give() {
  if (sent || !entry().value.trim()) return entry().focus();
  if (entry() === badge) return ask("pin");
  sent = true;
  return form.submit();
}

listen({
  entry,
  scanned(text, _at, restore) {
    restore();
    if (entry() === pin && /^\d+$/.test(text)) pin.value = text;
    else {
      [badge.value, pin.value] = [text, ""];    // not you? then your own
      form.dataset.step = "badge";
    }
    give();
  },
  enter: (sinceScan) => sinceScan < LATE_ENTER || give(),
});
listenPad(entry);

// A badge has eight signs and a PIN six: when all are there and no key follows, nothing has to end them.
form.addEventListener("input", () => {
  clearTimeout(rest);
  const whole = entry() === pin ? /^\d{6}$/.test(pin.value) : /^[0-9a-z]{4}-?[0-9a-z]{4}$/i.test(badge.value.trim());
  if (whole) rest = setTimeout(give, REST);
});

form.addEventListener("submit", (submitted) => {
  submitted.preventDefault();
  give();
});
document.querySelector("[data-other-badge]")?.addEventListener("click", () => {
  [badge.value, pin.value] = ["", ""];
  ask("badge");
});

ask(form.dataset.step);
