// Reads the codes in one picture after the other, off the page's thread. In: {picture: ImageBitmap}. Out: {ready: true} once,
// then for each picture {codes: [{text, linear, corners}]}, corners in pixels of the picture; or {failed: why} for good.
import { prepareZXingModule, readBarcodes } from "./zxing-wasm/reader/index.js";

// QR is what our labels carry. Of the linear codes only those with a check character are read (Code 128, EAN and UPC, DataBar,
// ITF-14): a code of another kind that is half seen can pass for a shorter one.
const HOW = { formats: ["QRCode", "Code128", "EANUPC", "DataBar", "ITF14"], maxNumberOfSymbols: 6, tryHarder: true, tryRotate: true,
  tryInvert: false };
const HERE = new URL("./zxing-wasm/", import.meta.url).href;
// A picture in which nothing was read at first sight makes the next three be looked at in other ways, in turn. Turned, by degrees
// from where the bars stand upright: a scan line crosses a linear code that is askew only so. Or stretched [degrees, wider,
// higher]: a symbol that is seen from the side is squeezed, and this makes it square again.
const TURNS = [0, 14, -14, 24, -24], STRETCHES = [[0, 1.8, 1], [0, 1, 1.8], [45, 1.8, 1], [45, 1, 1.8]];
const MIDDLE = 0.8;   // of the picture, each way, for these looks: the frame and what hangs over it
const PERHAPS = 0.4, BARS = 0.62;   // how alike edges run (0 to 1) where there may be bars, and where there is nothing else

const canvas = new OffscreenCanvas(1, 1), paper = canvas.getContext("2d", { willReadFrequently: true });
// The first reading is slow, since the engine compiles what it comes past: that is done on a blank sheet.
const ready = prepareZXingModule({ overrides: { locateFile: (name) => HERE + name }, fireImmediately: true })
  .then(() => readBarcodes(paper.getImageData(0, 0, 320, 320), HOW));
const OTHERS = 3;     // looks in other ways after one at first sight: of many a symbol only one of them reads, and a lamp wanders over it
let missed = null, looks = 0, others = 0, once = false;   // {upright, alike} of a picture in which nothing was read
ready.then(() => postMessage({ ready: true }), (why) => postMessage({ failed: String(why) }));

function placed({ width, height }, [degrees, wider, higher], share) {   // from the picture to the canvas, and the canvas's size
  const across = width * share, down = height * share;
  const laid = new DOMMatrix().scale(wider, higher).rotate(degrees);
  const box = [[1, 1], [1, -1]].map(([x, y]) => laid.transformPoint({ x: x * across / 2, y: y * down / 2 }));
  const w = Math.ceil(2 * Math.max(...box.map(({ x }) => Math.abs(x)))), h = Math.ceil(2 * Math.max(...box.map(({ y }) => Math.abs(y))));
  return { w, h, laid: new DOMMatrix().translate(w / 2, h / 2).multiply(laid).translate(-width / 2, -height / 2) };
}

// Which way the edges in the middle run (structure tensor): the degrees by which they stand off upright, and how alike they are.
function edges({ data, width, height }) {
  let even = 0, askew = 0, all = 0;
  const [left, top] = [width * 0.2, height * 0.2].map((n) => 2 * Math.round(n / 2));
  for (let y = top; y < height - top; y += 2) {
    for (let x = left; x < width - left; x += 2) {
      const at = 4 * (y * width + x) + 1;   // green stands for grey
      const across = data[at + 8] - data[at - 8], down = data[at + 8 * width] - data[at - 8 * width], both = across ** 2 + down ** 2;
      if (both < 900) continue;             // the ground's grain
      even += across ** 2 - down ** 2;
      askew += 2 * across * down;
      all += both;
    }
  }
  return { upright: Math.atan2(askew, even) * 90 / Math.PI, alike: all ? Math.hypot(even, askew) / all : 0 };
}

function anotherWay({ upright, alike }) {
  const n = looks++;
  if (alike > BARS || (alike > PERHAPS && n % 2 === 0)) {
    return [TURNS[(alike > BARS ? n : n / 2) % TURNS.length] - upright, 1, 1];
  }
  return STRETCHES[(n >> 1) % STRETCHES.length];
}

async function look(picture, way, share) {
  const { w, h, laid } = placed(picture, way, share), back = laid.inverse();
  [canvas.width, canvas.height] = [w, h];
  paper.setTransform(laid);
  paper.drawImage(picture, 0, 0);
  picture.close();
  const image = paper.getImageData(0, 0, w, h), found = await readBarcodes(image, HOW);
  const codes = found.filter((one) => one.isValid && one.text).map(({ text, format, position }) => ({
    text, linear: !format.startsWith("QR"),
    corners: [position.topLeft, position.topRight, position.bottomRight, position.bottomLeft].map((corner) => {
      const { x, y } = back.transformPoint(corner);
      return [x, y];
    }),
  }));
  return { codes, image };
}

onmessage = async ({ data: { picture } }) => {
  await ready;
  const way = missed && anotherWay(missed), { codes, image } = await look(picture, way ?? [0, 1, 1], way ? MIDDLE : 1);
  if (way && codes.length) looks--;   // what helped is tried first the next time
  const bars = way && codes.some(({ linear }) => linear);
  if (!way && !codes.length) [missed, others] = [edges(image), OTHERS];
  else if (codes.length && !(bars && !once)) missed = null;   // bars count when they are read twice: in the same way, at once
  else if (!codes.length && --others === 0) missed = null;
  once = bars && !once;
  postMessage({ codes });
};
