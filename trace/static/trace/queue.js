// The queue of a station page: whatever is read or given is sent in order, each with a scan id of its own, and stays
// until it is answered: through a slow line, no network, a server that is away for a moment, a page drawn anew.
import { $, entry, form, main, notice, show, showWaiting } from "./page.js";
import { aloud, tone } from "./tones.js";

const PATIENCE = 20000;    // ms
const PAUSES = [500, 1000, 2000, 3000, 5000];    // ms between two tries
const AGAIN = 2000;    // ms in which the same label read once more is the same scan: a trigger held too long
const HELD = 500;      // ms: the same where the label is wanted a second time
const AWAY = [502, 503, 504];
const HEADERS = { Accept: "text/html", "X-Wants": "main" };    // the rest of the page is here already
let items = [], busy = false, stopped = false, last = { text: "", at: -AGAIN, refused: false };

const name = () => `waiting ${main().dataset.station}`;
const sleep = (ms) => new Promise((go) => { setTimeout(go, ms); });

function keep() {
  showWaiting(items.length > 1 || items[0]?.tries ? items.length : 0);
  const plain = items.filter((item) => item.body?.every(([, value]) => typeof value === "string") ?? item.kind === "code");
  try { sessionStorage.setItem(name(), JSON.stringify(plain)); } catch { /* a browser that keeps nothing */ }
}

// Begin with what a page before this one could not send.
export function begin() {
  try { items = JSON.parse(sessionStorage.getItem(name()) ?? "[]"); } catch { items = []; }
  document.addEventListener("click", pressed);
  offer();
  if (items.length) pump();
}

// Gives a way to take it back, as long as it was not sent.
export function put(what) {
  if (!main()) return () => {};
  const item = { ...what, at: performance.now(), person: main().dataset.person };
  items.push(item);
  notice("");
  keep();
  pump();
  return () => {
    if (!item.body && items.includes(item)) items.splice(items.indexOf(item), 1);
    keep();
  };
}

function offer() {
  const others = $("[data-others]");
  if (others) others.hidden = !items.length || !foreign(items[0]);
}

const foreign = (item) => item.person && item.person !== main().dataset.person;

function pressed(click) {
  const at = (what) => click.target.closest(what);
  if (at("[data-send-again]")) [stopped] = [false];
  else if (at("[data-drop]")) [stopped] = [items.shift() === undefined];
  else if (at("[data-drop-others]")) items = items.filter((item) => !foreign(item));
  else return;
  notice("");
  keep();
  offer();
  pump();
}

// What is posted for an item, worked out when its turn comes: the form as it stands then. null: it is not sent.
function bodyOf(item) {
  if (item.kind === "form") return strings(new FormData(item.form, item.button));
  const box = entry(), body = new FormData(form());
  if (box && item.kind !== "press") body.set(box.name, box.id === "code" ? "" : box.defaultValue);    // half-typed is not given
  body.set("do", "send");
  if (item.kind === "code") body.set("code", item.text);
  if (item.kind === "press") {
    if (item.value !== main().dataset.enter && !$(`button[form=ask][name="${item.name}"][value="${CSS.escape(item.value)}"]`)) return null;
    body.set(item.name, item.value);
  }
  if (item.kind === "typed") {
    const figure = box?.matches("[data-figure]") && /^[+-]?[\d.,]+$/.test(item.text);
    if (!box || box.id === "code" || (box.name !== item.asked && !figure)) body.set("code", item.text);
    else {
      body.set(box.name, item.text);
      body.set("do", main().dataset.enter);
      if (item.how) body.set(`${box.name}_how`, item.how);
    }
  }
  return strings(body);
}

const strings = (body) => [...body].filter(([, value]) => typeof value === "string" || value.size);

function readTwice(item) {
  if (item.kind !== "code" || item.body) return false;
  const gap = item.at - last.at, same = item.text === last.text && !last.refused;
  return same && gap < (main().hasAttribute("data-wanted-again") ? HELD : AGAIN);
}

async function pump() {
  if (busy || stopped || !items.length || foreign(items[0])) return;
  busy = true;
  const item = items[0];
  try {
    await one(item);
  } finally {
    busy = false;
    keep();
  }
  if (!stopped) pump();
}

async function one(item) {
  if (readTwice(item)) {
    items.shift();
    return notice("data-again");
  }
  item.body ??= bodyOf(item);
  if (!item.body) {
    items.shift();
    return notice("data-gone");
  }
  const box = entry();
  if (box && item.kind === "press") box.value = "";    // it went with the press
  keep();
  main().setAttribute("aria-busy", "true");
  const asking = item.kind === "code" && setTimeout(() => notice("data-asking", item.text), 600);
  const answer = await sent(item);
  clearTimeout(asking);
  if (!answer) return undefined;
  if (answer.status === 401) return leave(location.href);    // signed out meanwhile: it waits for its owner
  items.shift();
  if (item.kind === "code") last = { text: item.text, at: item.at, refused: false };
  const other = /<main[^>]* data-station="([^"]+)"/.exec(answer.text)?.[1];
  if (other && other !== main().dataset.station) return leave(answer.url, other);
  if (!show(answer.text, item.value === "look")) {
    for (const next of items) if (!next.body) next.person = "";    // a badge: what was scanned after it is its owner's
    return leave(answer.url);
  }
  last.refused = $("[data-outcome]")?.dataset.outcome === "refused";
  if (item.kind === "code") for (const next of items) if (!next.body) next.person = main().dataset.person;
  return undefined;
}

function leave(address, other) {    // what was scanned after it is meant for the other station
  stopped = true;
  if (other) {
    try { sessionStorage.removeItem(name()); } catch { /* a browser that keeps nothing */ }
    main().dataset.station = other;
  }
  keep();
  location.assign(address);
}

// Try until there is an answer: the same bytes with the same scan id, so that it counts once. null: the server failed on it.
async function sent(item) {
  let failed = 0;
  for (item.tries = 0; ; item.tries += 1) {
    const pause = PAUSES[Math.min(item.tries, PAUSES.length - 1)];
    let wait = pause;
    try {
      const answer = await fetch(location.pathname, {
        method: "POST", body: formOf(item.body), headers: HEADERS, signal: AbortSignal.timeout(PATIENCE),
      });
      if (!AWAY.includes(answer.status)) {
        const text = await answer.text();
        if (answer.ok || answer.status === 401) return { text, url: answer.url, status: answer.status };
        failed += 1;
        if (failed > 2) return stuck(item);
        if (answer.status === 403) await newToken();
      }
      wait = Math.min(1000 * Number(answer.headers.get("Retry-After") || 0) || pause, 5000);
    } catch { /* no network, or no answer in time */ }
    notice("data-trouble");
    if (item.tries === 0) tone("flagged");
    showWaiting(items.length);
    keep();
    await sleep(wait);
  }
}

async function newToken() {    // somebody signed on in another window
  const page = new DOMParser().parseFromString(await (await fetch(location.href)).text(), "text/html");
  const token = page.querySelector("[name=csrfmiddlewaretoken]"), own = form().elements.csrfmiddlewaretoken;
  if (token && own) own.value = token.value;
}

function stuck(item) {
  stopped = true;
  notice("data-stuck", item.text ?? item.value ?? "");
  tone("refused");
  aloud($("[data-stuck]").innerText);
  return null;
}

function formOf(pairs) {    // plain text is a third of the work to read that a form with a file is
  const plain = pairs.every(([, value]) => typeof value === "string");
  const body = plain ? new URLSearchParams() : new FormData(), token = form().elements.csrfmiddlewaretoken?.value;
  for (const [key, value] of pairs) body.append(key, key === "csrfmiddlewaretoken" ? token : value);
  return body;
}
