// Tells the keys of a hand-held scanner from those of a hand: a burst is a scan, with Enter, with Tab or with neither.
import { isNew } from "./page.js";

const BURST = 50;      // ms between keys; a hand types at 90 and more, a scanner at 3 to 20
const SHORTEST = 4;    // signs of the shortest code that a scanner without Enter or Tab sends
const OVER = 250;      // ms without a key after which a burst is over
const PAUSE = 3000;    // ms after which what was typed before is left alone
const NOTHING = { text: "", began: 0, last: 0, at: null, asked: false, before: "", how: "" };

// scanned(text, box, restore, unended) gives a way to take it back, enter(ms since the last scan, box), entry(): the box
// that keys belong to. unended: neither Enter nor Tab came.
export function listen({ scanned, enter, entry }) {
  let burst = NOTHING, timer = 0, lastScan = -Infinity, cut = null;    // cut: the burst that a pause ended, and how it is taken back

  const howOf = (box) => box?.form?.elements?.[`${box.name}_how`];
  const own = (box) => box && (box === entry() || box.id === "code");
  // By the time from the first key to the last: a busy tablet hands over some keys late.
  const isBurst = () => burst.text.length >= SHORTEST && burst.last - burst.began <= BURST * (burst.text.length - 1);

  function done(at, unended = false) {
    const here = document.activeElement, ended = burst, { text, before, how } = burst;
    const box = burst.asked ? (own(here) ? here : entry()) : burst.at;
    burst = NOTHING;
    clearTimeout(timer);
    lastScan = at;
    const back = scanned(text.trim(), box, () => {    // the code was typed into a box: put back what stood there
      if (!box || !("value" in box)) return;
      box.value = before;
      if (howOf(box)) howOf(box).value = how;
    }, unended);
    cut = unended ? { ended, back } : null;
  }

  // A key that was pressed right after those of a burst that a pause ended belongs to it: the tablet was busy, not the scanner.
  function takenUp(key) {
    const { ended, back } = cut ?? {};
    cut = null;
    if (!ended || key.timeStamp - ended.last > BURST) return;
    back?.();
    burst = ended;
  }

  document.addEventListener("keydown", (key) => {
    if (key.ctrlKey || key.altKey || key.metaKey || key.isComposing) return;
    if (key.key.length === 1 || key.key === "Enter" || key.key === "Tab") takenUp(key);
    if (key.key === "Enter" || key.key === "Tab") return end(key);
    if (key.key.length !== 1) return;
    const typing = document.activeElement?.matches?.("input:not([type=radio], [type=checkbox], [type=file]), textarea, select");
    if (!typing && key.key !== " ") entry()?.focus({ preventScroll: true });    // a key pressed anywhere belongs to what is asked
    const box = document.activeElement;
    // An answer may have drawn the box anew between two keys: the box of what is asked is known by what it is for.
    const gap = key.timeStamp - burst.last, asked = own(box), same = asked ? burst.asked : burst.at === box;
    // In the box of what is asked all that stands there is one code, however late a busy tablet hands over a key of it.
    if (!same || gap > (asked ? PAUSE : BURST)) {
      burst = { text: "", began: key.timeStamp, last: 0, at: box, asked, before: box?.value ?? "", how: howOf(box)?.value ?? "" };
    }
    burst.text += key.key;
    burst.last = key.timeStamp;
    clearTimeout(timer);
    if (isBurst()) timer = setTimeout(() => done(burst.last, true), OVER);
  }, true);

  function end(key) {
    if (isBurst()) {
      key.preventDefault();
      return done(key.timeStamp);
    }
    burst = NOTHING;
    clearTimeout(timer);
    const box = document.activeElement, nowhere = !box || box === document.body || box.matches("main, .drawn");
    const given = isNew(entry());
    if (key.key === "Tab") {
      if (box !== entry() || !given || key.shiftKey) return;
      key.preventDefault();    // a slow scanner that ends with Tab
      return enter(Infinity, box);
    }
    const typedIn = box?.form?.id === "ask" && (box.closest(".asked")
      ? !box.matches("button, [type=file]") : box.matches("input:not([type=radio], [type=checkbox], [type=file])"));
    if (!nowhere && !typedIn) {
      if (key.timeStamp - lastScan < OVER * 3 || performance.now() < OVER * 3) key.preventDefault();
      return;    // Enter on a button or a link is that button's
    }
    key.preventDefault();
    enter(given || (typedIn && box.id === "code" && box.value) ? Infinity : key.timeStamp - lastScan, nowhere ? null : box);
  }
}
