// Where everything stands on the plan: to scale where the room file says so, laid out sensibly
// where it does not.
//
// Invariant: all places are in CSS pixels of the plan's box, and lie inside it.

const LINE = 94;
const PORCH = 84;

/** The margin beside the room: a phone has little to spare. */
const sideOf = (width) => (width < 420 ? 12 : 26);

/** What stands on the plan, whichever way it is laid out: name, kind, what it is. */
export function things(room) {
  return [
    ...room.outputs.map((output) => ({ name: output.name, kind: output.kind, is: "output", at: output.at, of: output })),
    ...room.sources.map((source) => ({ name: source.name, kind: source.kind, is: "source", at: source.at, of: source })),
    ...room.places.map((place) => ({ name: place.name, kind: "place", is: "place", at: place.at, of: place })),
  ];
}

/** Kinds of source that are not in the room: they stand before the door. */
const ELSEWHERE = ["clock", "normal-power", "fire-alarm", "demand-response"];

/** The plan of a room in a box of this width. */
export function layOut(room, width, tallest) {
  const side = sideOf(width);
  const all = things(room);
  const inside = all.filter((thing) => !ELSEWHERE.includes(thing.kind));
  const known = room.size && inside.some((thing) => thing.at);
  const plan = known ? toScale(room, inside, width, tallest) : inRows(inside, width);
  const porch = room.people.length > 0;
  const elsewhere = all.filter((thing) => ELSEWHERE.includes(thing.kind));
  const top = plan.bottom + 18;
  const perLine = Math.max(1, Math.floor((width - 2 * side) / 120));
  elsewhere.forEach((thing, index) => {
    const inLine = Math.min(perLine, elsewhere.length - Math.floor(index / perLine) * perLine);
    const step = (width - 2 * side) / inLine;
    plan.spots.push({ ...thing, x: side + step * ((index % perLine) + 0.5), y: top + 34 + Math.floor(index / perLine) * LINE });
  });
  const lines = Math.ceil(elsewhere.length / perLine);
  const below = top + lines * LINE;
  return {
    ...plan,
    zones: zonesOf(plan),
    isToScale: Boolean(known),
    porch: porch ? { x: side, y: below, width: width - 2 * side, height: PORCH } : null,
    width,
    height: Math.ceil(below + (porch ? PORCH + 6 : 4)),
  };
}

/** Outputs that are told together stand in one outline: the groups of the room file. */
function zonesOf({ spots, box }) {
  const groups = new Map();
  for (const spot of spots) {
    const group = spot.is === "output" ? spot.of.group : null;
    if (group) groups.set(group, [...(groups.get(group) ?? []), spot]);
  }
  const zones = [];
  for (const [name, members] of groups) {
    if (members.length < 2) continue;
    const [xs, ys] = [members.map(({ x }) => x), members.map(({ y }) => y)];
    const [left, right] = [Math.max(box.x + 4, Math.min(...xs) - 34), Math.min(box.x + box.width - 4, Math.max(...xs) + 34)];
    const [top, bottom] = [Math.max(box.y + 4, Math.min(...ys) - 32), Math.min(box.y + box.height - 4, Math.max(...ys) + 22)];
    zones.push({ name, x: left, y: top, width: right - left, height: bottom - top });
  }
  return zones;
}

function toScale(room, inside, width, tallest) {
  const { w, d } = room.size;
  const bottomRule = 34;
  const scale = Math.min((width - 2 * sideOf(width) - 24) / w, tallest / d);
  const box = { x: (width - w * scale) / 2 + 12, y: 20, width: w * scale, height: d * scale };
  const spots = [];
  const homeless = [];
  for (const thing of inside) {
    if (!thing.at) {
      homeless.push(thing);
      continue;
    }
    const [x, y] = thing.at;
    // The room is measured from its front left corner; the front is at the lower edge.
    spots.push({ ...thing, x: box.x + x * scale, y: box.y + box.height - y * scale });
  }
  homeless.forEach((thing, index) => {
    spots.push({ ...thing, x: box.x + (box.width * (index + 1)) / (homeless.length + 1), y: box.y + box.height - 26 });
  });
  apart(spots, box);
  return { box, spots, scale, bottom: box.y + box.height + bottomRule };
}

/** What stands at one spot is drawn side by side. */
function apart(spots, box) {
  const GAP = 30;
  for (let round = 0; round < 30; round += 1) {
    let moved = false;
    for (let one = 0; one < spots.length; one += 1) {
      for (let other = one + 1; other < spots.length; other += 1) {
        const [a, b] = [spots[one], spots[other]];
        const [dx, dy] = [b.x - a.x, b.y - a.y];
        const far = Math.hypot(dx, dy);
        if (far >= GAP) continue;
        const [ux, uy] = far < 0.5 ? [0, 1] : [dx / far, dy / far];
        const push = (GAP - far) / 2 + 0.1;
        a.x -= ux * push;
        a.y -= uy * push;
        b.x += ux * push;
        b.y += uy * push;
        moved = true;
      }
    }
    for (const spot of spots) {
      spot.x = Math.min(box.x + box.width - 16, Math.max(box.x + 16, spot.x));
      spot.y = Math.min(box.y + box.height - 16, Math.max(box.y + 16, spot.y));
    }
    if (!moved) return;
  }
}

/** Rows from the back wall to the front: what senses, what shines, where people are, what is on the wall. */
function inRows(inside, width) {
  const rows = [
    inside.filter((thing) => thing.is === "source" && !["switch", "card"].includes(thing.kind)),
    inside.filter((thing) => thing.kind === "light"),
    inside.filter((thing) => thing.kind === "place"),
    inside.filter((thing) => thing.is === "output" && thing.kind !== "light"),
    inside.filter((thing) => ["switch", "card"].includes(thing.kind)),
  ].filter((row) => row.length > 0);
  const box = { x: sideOf(width), y: 14, width: width - 2 * sideOf(width), height: 0 };
  const spots = [];
  let y = box.y + 6;
  for (const row of rows) {
    const perLine = Math.max(1, Math.floor(box.width / 120));
    const lines = Math.ceil(row.length / perLine);
    const even = Math.ceil(row.length / lines);
    row.forEach((thing, index) => {
      const line = Math.floor(index / even);
      const here = Math.min(even, row.length - line * even);
      const step = box.width / here;
      spots.push({ ...thing, x: box.x + step * ((index % even) + 0.5), y: y + 34 + line * LINE });
    });
    y += lines * LINE;
  }
  box.height = y - box.y + 6;
  return { box, spots, scale: null, bottom: box.y + box.height };
}

/** Finds a place for each label beside its spot, so that no two words lie on each other. */
export function labels(plan, measure) {
  const fixed = plan.spots.map((spot) => around(spot.x, spot.y, half(spot), half(spot)));
  if (plan.isToScale) {
    const { x, y, width, height } = plan.box;
    fixed.push(around(x + width / 2, y + height + 20, 30, 9), around(x - 20, y + height / 2, 9, 30));
  }
  fixed.push(...plan.zones.map(({ name, x, y }) => boxOf({ x: x + 8, y: y + 1, anchor: "start" }, measure(name, false), 18)));
  const placed = [];
  // What stands in the middle finds its place first; what stands by a wall gives way. Then all
  // look round again, now that they see each other.
  const rank = (spot) => (spot.kind === "light" ? 0 : spot.kind === "place" ? 1 : 2);
  const order = plan.spots.map((spot, index) => index).sort((a, b) => rank(plan.spots[a]) - rank(plan.spots[b]));
  for (let round = 0; round < 3; round += 1) {
    for (const index of order) {
      const others = placed.filter((label, other) => label && other !== index).map((label) => label.box);
      placed[index] = best(plan, plan.spots[index], [...fixed, ...others], measure);
    }
  }
  plan.spots.forEach((spot, index) => { spot.isLabelAbove = placed[index].box.bottom < spot.y; });
  return placed;
}

/** The place for a label that costs least: words on words most of all, then far from its spot. */
function best(plan, spot, taken, measure) {
  const wide = Math.max(measure(spot.name, true), measure(spot.widest ?? "", false)) + 6;
  const tall = spot.kind === "place" ? 18 : 36;
  let least = null;
  for (const [index, candidate] of candidates(spot, tall).entries()) {
    const box = boxOf(candidate, wide, tall);
    const out = Math.max(0, 2 - box.left) + Math.max(0, box.right - plan.width + 2) + Math.max(0, 2 - box.top);
    // Words that lie across a wall are hard to read.
    const edge = crosses(box, plan.box) ? 7 : 0;
    const over = taken.reduce((sum, other) => sum + overlap(box, other), 0);
    const cost = over * 4 + out * 60 + edge + index;
    if (least === null || cost < least.cost) least = { ...candidate, box, cost };
  }
  return least;
}

function candidates({ x, y, ...spot }, tall) {
  const away = half(spot) + 3;
  return [
    { x, y: y + away, anchor: "middle" },
    { x, y: y - away - tall, anchor: "middle" },
    { x: x + away + 3, y: y - tall / 2, anchor: "start" },
    { x: x - away - 3, y: y - tall / 2, anchor: "end" },
    { x: x + away, y: y + away, anchor: "start" },
    { x: x - away, y: y + away, anchor: "end" },
    { x: x + away, y: y - away - tall, anchor: "start" },
    { x: x - away, y: y - away - tall, anchor: "end" },
    // Where it is crowded, a little further off.
    ...[18, 34, 50].flatMap((more) => [
      { x: x - away - 3, y: y - tall / 2 - more, anchor: "end" },
      { x: x - away - 3, y: y - tall / 2 + more, anchor: "end" },
      { x: x + away + 3, y: y - tall / 2 - more, anchor: "start" },
      { x: x + away + 3, y: y - tall / 2 + more, anchor: "start" },
    ]),
  ];
}

const half = (spot) => (spot.kind === "light" ? 22 : spot.kind === "place" ? 9 : 14);
const around = (x, y, w, h) => ({ left: x - w, right: x + w, top: y - h, bottom: y + h });

function boxOf({ x, y, anchor }, wide, tall) {
  const left = anchor === "middle" ? x - wide / 2 : anchor === "start" ? x : x - wide;
  return { left, right: left + wide, top: y, bottom: y + tall };
}

function crosses(word, { x, y, width, height }) {
  const inside = word.left >= x && word.right <= x + width && word.top >= y && word.bottom <= y + height;
  const outside = word.right < x || word.left > x + width || word.bottom < y || word.top > y + height;
  return !inside && !outside;
}

function overlap(a, b) {
  const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
  const tall = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
  return wide > 0 && tall > 0 ? Math.sqrt(wide * tall) : 0;
}
