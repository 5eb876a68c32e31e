// Which of the codes in a picture counts, and when the same one counts again. Plain values in and out; times in ms.
const GONE = 1000;       // out of the picture for so long: the same label shown again is another scan
const GONE_AFTER_ANOTHER = 300;   // the same once another label was read in between
const MISSED = 3;        // and so many pictures without it, one after the other
const ALONE = 500;       // a code beside the frame counts once it was the only one in the picture for so long
const MEANT = 400;       // while a code that was read is still in view, the next one is held in the middle for so long
const TWICE = 8;         // a linear code counts when it was read twice in so many pictures

const middleOf = (corners) => [0, 1].map((axis) => corners.reduce((sum, corner) => sum + corner[axis], 0) / corners.length);
const within = ([x, y], { left, top, width, height }) => x >= left && x <= left + width && y >= top && y <= top + height;
const centre = ({ left, top, width, height }) => [left + width / 2, top + height / 2];
const far = ([x, y], [a, b]) => Math.hypot(x - a, y - b);

export function covers(corners, [x, y]) {   // whether a point lies in a convex shape: on one side of all of its edges
  const sides = corners.map(([ax, ay], n) => {
    const [bx, by] = corners[(n + 1) % corners.length];
    return (bx - ax) * (y - ay) - (by - ay) * (x - ax);
  });
  return sides.every((side) => side >= 0) || sides.every((side) => side <= 0);
}

function nearestOfEach(codes, middle) {   // a label near an oven carries its symbol twice: one text, one code
  const nearest = new Map();
  for (const code of codes) {
    const known = nearest.get(code.text), away = far(middleOf(code.corners), middle);
    if (!known || away < known.away) nearest.set(code.text, { ...code, away });
  }
  return [...nearest.values()];
}

export function newSight() {
  // text -> {without: how many pictures lacked it, since: when the first of them was, another: whether one was read since}
  const taken = new Map();
  let lone = { text: "", since: 0 }, meant = { text: "", since: 0 };
  let pictures = 0, before = new Map();    // text -> in which picture it was last

  function still(at, codes) {   // forget what had left the picture for long enough, in pictures too: a slow phone takes few
    for (const [text, known] of taken) {
      const away = at - known.since, long = known.another ? GONE_AFTER_ANOTHER : GONE;
      if (!codes.some((code) => code.text === text)) {
        if (!known.without) known.since = at;
        known.without += 1;
      } else if (known.without >= MISSED && away > long) taken.delete(text);
      else known.without = 0;
    }
  }

  function since(kept, text, at) {
    return kept.text === text ? kept : { text, since: at };
  }

  function chosen(codes, frame, at) {
    const inside = codes.filter((code) => within(middleOf(code.corners), frame));
    lone = since(lone, codes.length === 1 ? codes[0].text : "", at);
    if (!inside.length) return codes.length === 1 && at - lone.since >= ALONE ? codes[0] : null;
    const one = inside.length === 1 ? inside[0] : inside.find((code) => covers(code.corners, centre(frame)));
    meant = since(meant, one?.text ?? "", at);
    const afterAnother = codes.some(({ text }) => taken.has(text) && text !== one?.text);
    return one && (!afterAnother || at - meant.since >= MEANT) ? one : null;
  }

  // codes: [{text, linear, corners}], frame: {left, top, width, height} in the same pixels, at: ms that only grow.
  // Gives {read: the code that counts now or null, held: one that counted already, several: whether to ask for one}.
  return function look(codes, frame, at) {
    pictures += 1;
    const each = nearestOfEach(codes, centre(frame));
    still(at, each);
    const one = chosen(each, frame, at);
    const said = one && (!one.linear || pictures - (before.get(one.text) ?? -TWICE) < TWICE);
    before = new Map([...before].filter(([, when]) => pictures - when < TWICE));
    for (const { text } of each) before.set(text, pictures);
    const several = !one && each.length > 1;
    if (!said || taken.has(one.text)) return { read: null, held: one && taken.has(one.text) ? one : null, several };
    for (const known of taken.values()) known.another = true;
    taken.set(one.text, { without: 0, since: at, another: false });
    return { read: one, held: null, several };
  };
}
