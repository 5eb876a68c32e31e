// The phone's camera at a station: a live picture in the place of the drawing, and a worker that reads it. What it reads goes
// to the page as the event "scanned", like what the hand-held scanner types. Without a camera the photo and the typed code stay.
import { newSight } from "./camera-sight.js";

const FRAME = { width: 0.65, height: 0.6 };   // the part of the picture between the four corners, in its middle
const HELP = 8000, SHUT = 60000;              // ms without a read: words of help, then the camera is shut
const BEEP = [2400, 0.05];                    // Hz, seconds: short and high, unlike the tones of the answers
const NEVER = 3;                              // pictures that could not be read, one after the other: the reader is at fault
const WANTED = { audio: false, video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } } };

const words = document.querySelector("#camera");   // a template: the picture, its tools and what is said
const able = Boolean(words && navigator.mediaDevices?.getUserMedia && globalThis.OffscreenCanvas && globalThis.createImageBitmap);
let box = null, video = null, stream = null, worker = null, sight = null;
let opening = false, reading = false, last = 0, timer = 0, audio = null, failures = 0, sent = null;

const place = () => document.querySelector("[data-camera]");
const part = (name) => box?.querySelector(`[data-camera-${name}]`);
const say = (name, text = "") => {   // one line over the picture; `name` is that of a sentence in the template
  const line = part("said"), sentence = part(`say-${name}`)?.textContent ?? "";
  if (line && line.textContent !== sentence + text) line.textContent = sentence + text;
};

// A camera that was refused, or that is not there, is not asked for again in this sign-on.
const signOn = () => words.dataset.signOn;
const kept = () => { try { return sessionStorage.getItem("camera") === signOn(); } catch { return false; } };
const keep = (without) => {
  try { if (without) sessionStorage.setItem("camera", signOn()); else sessionStorage.removeItem("camera"); } catch { /* keeps nothing */ }
};

function showButtons() {   // where a camera can be opened its button stands, else the photo's
  const live = able && !kept() && Boolean(place());
  for (const button of document.querySelectorAll("[data-camera-open]")) {
    button.hidden = !live;
    button.setAttribute("aria-expanded", String(Boolean(stream)));
  }
  for (const photo of document.querySelectorAll("[data-photo]")) photo.hidden = live;
}

function beep() {
  navigator.vibrate?.(30);
  try { if (localStorage.getItem("sound") === "off") return; } catch { /* keeps nothing: it sounds */ }
  audio ??= new AudioContext();
  audio.resume().catch(() => {});
  const voice = audio.createOscillator(), level = audio.createGain(), [hertz, seconds] = BEEP;
  voice.frequency.value = hertz;
  level.gain.setValueAtTime(0.2, audio.currentTime);
  level.gain.exponentialRampToValueAtTime(0.0001, audio.currentTime + seconds);
  voice.connect(level).connect(audio.destination);
  voice.start();
  voice.stop(audio.currentTime + seconds);
}

function seat() {   // the box stands in the page's place for it; after an answer the page has a new one
  const here = place();
  if (!box || !here) return;
  if (box.parentElement !== here) {
    here.replaceChildren(box);
    if (stream) video.play().catch(() => {});   // a picture that is moved stands still until it is told to go on
  }
  here.hidden = false;
}

function newBox() {
  box = words.content.firstElementChild.cloneNode(true);
  video = part("picture");
  part("close").addEventListener("click", () => { close(); document.querySelector("[data-camera-open]")?.focus(); });
  part("torch").addEventListener("click", torch);
  part("again").addEventListener("click", () => { keep(false); close(); open(); });
  part("photo").addEventListener("click", () => { close(); document.querySelector("[data-photo] input")?.click(); });
  part("back").addEventListener("click", () => close());
}

function without(reader) {   // a reader that does not start is said where the camera was asked for, else only the button goes
  worker?.terminate();
  worker = null;
  if (box) return refuse(reader);
  keep(true);
  showButtons();
}

function startWorker() {
  if (worker) return;
  worker = new Worker(new URL("./camera-worker.js", import.meta.url), { type: "module" });
  worker.addEventListener("message", ({ data }) => {
    if (data.failed) without("reader");
    else if (data.codes) read(data.codes);
  });
  worker.addEventListener("error", () => without("reader"));
}

async function open() {
  if (opening || stream || !able || !place()) return;
  opening = true;
  newBox();
  seat();
  say("opening");
  try {
    startWorker();
    const got = await navigator.mediaDevices.getUserMedia(WANTED);
    if (!opening) { for (const track of got.getTracks()) track.stop(); return; }   // closed while it was asked for
    stream = got;
    const [track] = stream.getVideoTracks();
    track.addEventListener("ended", () => close());
    part("torch").hidden = !track.getCapabilities?.().torch;
    video.srcObject = stream;
    await video.play();
    [sight, last, reading, failures] = [newSight(), performance.now(), false, 0];
    say("looking");
    timer = setInterval(waited, 1000);
    next();
  } catch (why) {
    if (opening) refuse(why.name === "NotAllowedError" ? "refused" : "none");
  } finally {
    opening = false;
    showButtons();
  }
}

function stop() {
  clearInterval(timer);
  for (const track of stream?.getTracks() ?? []) track.stop();
  if (video) video.srcObject = null;
  [stream, opening, reading] = [null, false, false];
}

function close() {
  stop();
  const here = place();
  if (here) { here.replaceChildren(); here.hidden = true; }
  [box, video] = [null, null];
  showButtons();
}

function refuse(why) {   // not an error: the place of the picture says what can be done, and the rest of the page goes on
  stop();
  keep(true);
  if (!box) newBox();
  part("live").hidden = true;
  part("without").hidden = false;
  for (const text of box.querySelectorAll("[data-camera-why]")) text.hidden = text.dataset.cameraWhy !== why;
  seat();
  showButtons();
}

async function torch() {
  const button = part("torch"), lit = button.getAttribute("aria-pressed") !== "true";
  try {
    await stream.getVideoTracks()[0].applyConstraints({ advanced: [{ torch: lit }] });
    button.setAttribute("aria-pressed", String(lit));
  } catch { button.hidden = true; }
}

function waited() {
  const idle = performance.now() - last;
  if (idle > SHUT) close();
  else if (idle > HELP) say("help");
}

function visible() {   // the part of the picture that is shown, in its own pixels: it covers the box, the rest is cut off
  const { clientWidth: w, clientHeight: h } = video, scale = Math.max(w / video.videoWidth, h / video.videoHeight);
  const width = Math.min(video.videoWidth, Math.round(w / scale)), height = Math.min(video.videoHeight, Math.round(h / scale));
  return { left: Math.floor((video.videoWidth - width) / 2), top: Math.floor((video.videoHeight - height) / 2), width, height };
}

function next() {
  if (!stream) return;
  if (video.requestVideoFrameCallback) video.requestVideoFrameCallback(send);
  else requestAnimationFrame(send);
}

async function send() {
  if (!stream || reading) return;
  const view = video.videoWidth && video.clientWidth ? visible() : null;
  if (!view?.width || !view.height) return void next();
  reading = true;
  try {
    const picture = await createImageBitmap(video, view.left, view.top, view.width, view.height);
    sent = view;
    failures = 0;
    worker.postMessage({ picture }, [picture]);
  } catch {
    reading = false;
    failures += 1;
    if (failures < NEVER) next(); else refuse("none");
  }
}

function read(codes) {
  reading = false;
  if (!stream) return;
  const frame = { left: sent.width * (1 - FRAME.width) / 2, top: sent.height * (1 - FRAME.height) / 2,
    width: sent.width * FRAME.width, height: sent.height * FRAME.height };
  const seen = sight(codes, frame, performance.now());
  mark(seen.read ?? seen.held);
  if (seen.several) say("several");
  if (seen.read) {
    last = performance.now();
    say("read", ` ${seen.read.text.slice(-24)}`);
    outcome("");
    beep();
    document.dispatchEvent(new CustomEvent("scanned", { detail: { text: seen.read.text } }));
  }
  next();
}

function mark(code) {   // a closed line round the code that counted
  const drawing = part("mark");
  drawing.setAttribute("viewBox", `0 0 ${sent.width} ${sent.height}`);
  const shape = drawing.querySelector("polygon"), line = drawing.querySelector("line");
  if (!code) return shape.removeAttribute("points");
  const [[x, y], , [far, low]] = code.corners;
  shape.setAttribute("points", code.corners.map((corner) => corner.join()).join(" "));
  for (const [name, value] of Object.entries({ x1: x, y1: y, x2: far, y2: low })) line.setAttribute(name, value);
}

function outcome(said) {   // a refused code is struck through where it is, so that it is plain which of two was meant
  box?.toggleAttribute("data-struck", said === "refused");
}

new MutationObserver(() => {
  showButtons();
  if (!stream && !opening && !box) return;
  if (!place()) return close();
  seat();
  outcome(document.querySelector("[data-outcome]")?.dataset.outcome ?? "");
}).observe(document.body, { childList: true });
document.addEventListener("click", (click) => { if (click.target.closest("[data-camera-open]")) if (stream) close(); else open(); });
// On a telephone the reader is fetched before it is asked for, so that the first code is read as soon as there is a picture.
if (able && !kept() && place() && matchMedia("(pointer: coarse)").matches) (globalThis.requestIdleCallback ?? setTimeout)(startWorker);
document.addEventListener("visibilitychange", () => { if (document.hidden) close(); });
addEventListener("pagehide", () => close());
showButtons();
