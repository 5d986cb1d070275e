// Paints the lanes of the timing diagram.
//
// Invariant: no text is smaller than 14 px.

import { setSpan } from "./words.js";

const AXIS = 46;
const LINE = 24;
const TALL = 56;
const HEAD = 24;
const NAMES = 168;
const FONT = 14;
/** States that are not drawn. */
const AT_REST = /^(off|vacant|out|open|)$/;

/** Paints everything; the answer turns places back into instants. */
export function paintLanes(canvas, width, bench, { from, to }, ink) {
  const narrow = width < 640;
  const left = narrow ? 8 : NAMES;
  const plot = width - left - 10;
  const x = (at) => left + ((at - from) / (to - from)) * plot;
  const every = lanesOf(bench, from, to, narrow);
  const lanes = every.length > MANY ? every.filter((lane) => isBusy(lane, bench.history, from, to)) : every;
  const height = AXIS + lanes.reduce((sum, lane) => sum + lane.height, 0) + 8;
  const scale = Math.min(3, devicePixelRatio || 1);
  if (canvas.width !== Math.round(width * scale) || canvas.height !== Math.round(height * scale)) {
    canvas.width = Math.round(width * scale);
    canvas.height = Math.round(height * scale);
    canvas.style.setProperty("width", `${width}px`);
    canvas.style.setProperty("height", `${height}px`);
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(scale, 0, 0, scale, 0, 0);
  pen.clearRect(0, 0, width, height);
  pen.lineWidth = 1;
  pen.textBaseline = "middle";
  const paint = { pen, ink, x, from, to, left, plot, right: left + plot, narrow, bench, family: ink.family };
  axis(paint, height);
  let top = AXIS;
  for (const lane of lanes) {
    paintLane(paint, lane, top);
    top += lane.height;
  }
  pen.strokeStyle = ink.rule;
  line(pen, 0, top + 0.5, width, top + 0.5);
  present(paint, height);
  return { at: (place) => from + ((place - left) / plot) * (to - from), leftOut: every.length - lanes.length };
}

/** Which lanes there are, with their rows. */
function lanesOf(bench, from, to, narrow) {
  const { room, history } = bench;
  const marks = marksByPoint(bench, from, to);
  const lanes = [];
  const add = (name, rows) => {
    const body = rows.reduce((sum, row) => sum + row.height, 0);
    lanes.push({ name, rows, height: (narrow ? HEAD : 0) + body + 8 });
  };
  const timerRows = (name) => {
    const timers = (history.points.get(name)?.timers ?? []).filter((timer) => (timer.ended ?? timer.ends) >= from && timer.began <= to);
    const names = [...new Set(timers.map((timer) => timer.name))];
    return names.map((timer) => ({ is: "timer", name: timer, timers: timers.filter((one) => one.name === timer), height: LINE }));
  };
  for (const source of room.sources) {
    const rows = [];
    const own = marks.get(source.name) ?? [];
    if (own.length > 0) rows.push({ is: "marks", name: "happens", marks: own, height: LINE });
    if (source.kind !== "switch") rows.push({ is: "state", name: "state", height: LINE });
    rows.push(...timerRows(source.name));
    // A wall unit that nobody touches needs no lane of its own.
    if (rows.length === 0) rows.push({ is: "quiet", name: "", height: LINE });
    add(source.name, rows);
  }
  for (const output of room.outputs) {
    const rows = [];
    if (output.kind === "light") rows.push({ is: "light", name: "light", height: TALL });
    rows.push({ is: "state", name: "state", height: LINE }, ...timerRows(output.name));
    add(output.name, rows);
  }
  const judged = [...history.rules].filter(([, list]) => list.some(([at, verdict]) => at >= from && at <= to && (verdict === "broken" || verdict === "held") && at > 0));
  if (judged.length > 0) {
    add("sequence", judged.slice(0, 12).map(([id, list]) => ({ is: "rule", name: id, list, height: LINE })));
  }
  return lanes;
}

/** How many lanes there may be before those are left out in which nothing is to be seen. */
const MANY = 24;

/** Whether something happens in a lane: a timer, a stimulus, a light, or a state other than at rest. */
function isBusy({ name, rows }, history, from, to) {
  const states = history.points.get(name)?.states ?? [];
  const stands = states.some(([at, word], index) => at <= to && (states[index + 1]?.[0] ?? Infinity) >= from && !AT_REST.test(word));
  return stands || rows.some(({ is }) => is === "timer" || is === "marks" || is === "rule");
}

/** What was done: as the server told it, and after that from the log: rows without a cause. */
function marksByPoint(bench, from, to) {
  const { history, log } = bench;
  const all = new Map();
  const add = (name, at, what) => {
    if (at < from || at > to) return;
    if (!all.has(name)) all.set(name, []);
    all.get(name).push({ at, what });
  };
  for (const [name, { marks }] of history.points) for (const [at, what] of marks) add(name, at, what);
  for (const { cause, frame, point, at, what } of log.values()) {
    if ((cause ?? null) === null && !frame && at > history.exact) add(point, at, what);
  }
  for (const list of all.values()) list.sort((a, b) => a.at - b.at);
  return all;
}

function paintLane(paint, lane, top) {
  const { pen, ink, narrow, left, right } = paint;
  pen.strokeStyle = ink.rule;
  line(pen, 0, top + 0.5, right + 10, top + 0.5);
  let y = top + 4;
  words(paint, lane.name, narrow ? 8 : 4, y + (narrow ? HEAD / 2 : LINE / 2), { strong: true, most: narrow ? right : NAMES - 8 });
  if (narrow) y += HEAD;
  lane.rows.forEach((row, index) => {
    if (!narrow && index > 0 && row.name) words(paint, row.name, 16, y + row.height / 2, { soft: true, most: NAMES - 24 });
    pen.save();
    pen.beginPath();
    pen.rect(left - 6, top, right - left + 12, row.height + (y - top) + 4);
    pen.clip();
    paintRow(paint, lane, row, y);
    pen.restore();
    y += row.height;
  });
}

function paintRow(paint, lane, row, y) {
  const point = paint.bench.history.points.get(lane.name);
  if (row.is === "marks") marks(paint, row, y);
  else if (row.is === "state") states(paint, point?.states ?? [], y);
  else if (row.is === "light") light(paint, lane.name, point?.light ?? [], y);
  else if (row.is === "timer") timers(paint, row, y);
  else if (row.is === "rule") rule(paint, row, y);
}

function axis(paint, height) {
  const { pen, ink, from, to, x, left, right, bench } = paint;
  const step = tickStep((to - from) / Math.max(2, Math.floor((right - left) / 84)));
  const seconds = step < 60_000;
  const first = step - ((((bench.calendar.sinceMidnight(from) % step) + step) % step) || step);
  let day = "";
  let free = -Infinity;
  pen.font = `${FONT}px ${paint.family}`;
  for (let at = from + first; at <= to; at += step) {
    const place = Math.round(x(at)) + 0.5;
    if (place < left - 1) continue;
    pen.strokeStyle = ink.grid;
    line(pen, place, AXIS, place, height);
    pen.strokeStyle = ink.soft;
    line(pen, place, AXIS - 6, place, AXIS);
    const label = bench.calendar.label(at, seconds);
    const half = pen.measureText(label).width / 2 + 2;
    words(paint, label, Math.min(right + 10 - half, Math.max(half, place)), AXIS - 15, { middle: true });
    const today = bench.calendar.day(at);
    if (today !== day && place > free) {
      words(paint, today, Math.max(left, place - 16), 12, { soft: true });
      day = today;
      free = place + 90;
    }
  }
  pen.strokeStyle = ink.rule;
  line(pen, left, AXIS - 0.5, right, AXIS - 0.5);
}

function tickStep(least) {
  const s = 1000;
  const m = 60 * s;
  const h = 60 * m;
  const steps = [s, 2 * s, 5 * s, 10 * s, 15 * s, 30 * s, m, 2 * m, 5 * m, 10 * m, 15 * m, 30 * m, h, 2 * h, 3 * h, 6 * h, 12 * h, 24 * h];
  return steps.find((step) => step >= least) ?? 24 * h * Math.ceil(least / (24 * h));
}

/** The present as a line, what lies after it greyed, and the moment somebody looks at. */
function present(paint, height) {
  const { pen, ink, x, right, left, bench, to } = paint;
  const { end } = bench.view;
  const { now } = bench;
  const here = x(now);
  if (end > now && here < right) {
    const edge = Math.min(right, x(Math.min(end, to)));
    pen.fillStyle = ink.later;
    pen.fillRect(Math.max(left, here), AXIS, edge - Math.max(left, here), height - AXIS);
    words(paint, "ahead, until something new is done", Math.max(left, here) + 8, 12, { soft: true, most: Math.max(0, right - here - 8) });
  }
  if (here >= left && here <= right) {
    pen.strokeStyle = ink.ink;
    pen.lineWidth = 1.5;
    line(pen, here, AXIS - 8, here, height);
    pen.fillStyle = ink.ink;
    shape(pen, [[here - 6, AXIS - 9], [here + 6, AXIS - 9], [here, AXIS - 1]]);
    pen.lineWidth = 1;
  }
  if (bench.moment !== null) {
    const there = x(bench.moment);
    pen.strokeStyle = ink.shore;
    pen.lineWidth = 2;
    pen.setLineDash([5, 4]);
    line(pen, there, AXIS - 8, there, height);
    pen.setLineDash([]);
    pen.lineWidth = 1;
  }
}

function states(paint, list, y) {
  const { from, to, x, bench } = paint;
  const last = Math.max(bench.now, bench.view.end);
  list.forEach(([at, word], index) => {
    const until = Math.min(list[index + 1]?.[0] ?? last, last);
    if (until < from || at > to || AT_REST.test(word)) return;
    bar(paint, x(Math.max(at, from - 1000)), x(Math.min(until, to)), y, fillOf(word), word);
  });
}

function fillOf(word) {
  if (/^(on|occupied|in|closed|present|normal)\b/.test(word)) return "solid";
  if (/warn|emerg|warming|grace/.test(word)) return "slanted";
  if (/no power|stuck|fault/.test(word)) return "crossed";
  if (/setback|unknown|lost/.test(word)) return "dotted";
  return "outline";
}

function bar({ pen, ink, family, left }, from, to, y, fill, word) {
  const wide = Math.max(2, to - from);
  const [top, tall] = [y + 3.5, LINE - 7];
  pen.fillStyle = fill === "solid" ? ink.deep : ink.sheet;
  pen.strokeStyle = ink.deep;
  pen.fillRect(from, top, wide, tall);
  if (["slanted", "dotted", "crossed"].includes(fill)) pattern(pen, ink, fill, from, top, wide, tall);
  pen.strokeRect(from, top, wide, tall);
  pen.font = `${FONT}px ${family}`;
  const start = Math.max(from, left);
  const need = pen.measureText(word).width + 10;
  if (to - start < need) return;
  if (fill !== "solid") {
    pen.fillStyle = ink.sheet;
    pen.fillRect(start + 2, top + 1, need - 2, tall - 2);
  }
  pen.fillStyle = fill === "solid" ? ink["on-deep"] : ink.ink;
  pen.fillText(word, start + 5, y + LINE / 2 + 0.5);
}

function pattern(pen, ink, fill, left, top, wide, tall) {
  pen.save();
  pen.beginPath();
  pen.rect(left, top, wide, tall);
  pen.clip();
  pen.strokeStyle = fill === "crossed" ? ink.soft : ink.deep;
  pen.fillStyle = ink.deep;
  pen.beginPath();
  for (let at = left - tall; at < left + wide; at += fill === "dotted" ? 5 : 7) {
    if (fill === "dotted") {
      for (let row = 2; row < tall; row += 5) pen.fillRect(at, top + row, 2, 2);
    } else {
      pen.moveTo(at, top + tall);
      pen.lineTo(at + tall, top);
      if (fill === "crossed") {
        pen.moveTo(at, top);
        pen.lineTo(at + tall, top + tall);
      }
    }
  }
  pen.stroke();
  pen.restore();
}

function light({ pen, ink, x, from, to, bench, left, right, family }, name, list, y) {
  const base = y + TALL - 6;
  const high = y + 8;
  const height = (value) => base - (base - high) * Math.max(0, Math.min(1, value));
  pen.strokeStyle = ink.rule;
  pen.setLineDash([1, 3]);
  line(pen, left, high, right, high);
  line(pen, left, base, right, base);
  pen.setLineDash([]);
  if (list.length === 0) return;
  const last = Math.max(bench.now, bench.view.end);
  const corners = [];
  list.forEach(([at, value], index) => {
    const next = list[index + 1];
    if ((next?.[0] ?? last) < from || at > to || at > last) return;
    corners.push([x(at), height(value), value]);
  });
  // The line ends at the latest moment, also half-way up a ramp.
  const end = bench.history.lightAt(name, Math.min(last, to));
  if (end !== null) corners.push([x(Math.min(last, to)), height(end), end]);
  if (corners.length === 0) return;
  pen.beginPath();
  corners.forEach(([cx, cy], index) => (index === 0 ? pen.moveTo(cx, cy) : pen.lineTo(cx, cy)));
  pen.strokeStyle = ink.shore;
  pen.lineWidth = 2;
  const outline = () => pen.stroke();
  if (corners.some(([, , value]) => value > 0)) {
    pen.save();
    pen.lineTo(corners.at(-1)[0], base);
    pen.lineTo(corners[0][0], base);
    pen.closePath();
    pen.fillStyle = ink.sea;
    pen.fill();
    pen.restore();
    pen.beginPath();
    corners.forEach(([cx, cy], index) => (index === 0 ? pen.moveTo(cx, cy) : pen.lineTo(cx, cy)));
  }
  outline();
  pen.lineWidth = 1;
  pen.font = `${FONT}px ${family}`;
  let free = left;
  for (let index = 1; index < corners.length; index += 1) {
    const [[ax, ay, value], [bx, , next]] = [corners[index - 1], corners[index]];
    const start = Math.max(ax, left);
    const text = `${Math.round(value * 100)} %`;
    if (value !== next || value === 0 || bx - start < pen.measureText(text).width + 10 || start < free) continue;
    pen.fillStyle = ink.ink;
    const up = ay - y < 20;
    pen.fillText(text, start + 5, up ? ay + 10 : ay - 8);
    free = start + 60;
  }
}

function timers(paint, row, y) {
  const { pen, ink, x, from, to, bench, left, family } = paint;
  for (const timer of row.timers) {
    const running = timer.how === "running";
    const until = running ? timer.ends : timer.ended;
    const [a, b] = [x(Math.max(timer.began, from - (to - from) * 0.02)), x(Math.min(until, to + (to - from) * 0.02))];
    const wide = Math.max(2, b - a);
    pen.fillStyle = ink.sand;
    pen.strokeStyle = ink.rope;
    // What still lies ahead is only outlined: it may be started again or stopped.
    const here = running ? Math.min(b, Math.max(a, x(bench.now))) : a + wide;
    pen.fillRect(a, y + 4, here - a, LINE - 8);
    if (here > a) pen.strokeRect(a, y + 4, here - a, LINE - 8);
    if (b > here) {
      pen.setLineDash([3, 3]);
      pen.strokeRect(here, y + 4, b - here, LINE - 8);
      pen.setLineDash([]);
    }
    for (const again of timer.again ?? []) line(pen, x(again), y + LINE - 8, x(again), y + LINE - 4);
    pen.fillStyle = ink.rope;
    if (timer.how === "elapsed") shape(pen, [[b, y + 2], [b + 5, y + LINE / 2], [b, y + LINE - 2]]);
    if (timer.how === "stopped") {
      pen.lineWidth = 2.4;
      line(pen, b - 3, y + 3, b + 3, y + LINE - 3);
      pen.lineWidth = 1;
    }
    if (running) {
      pen.beginPath();
      pen.moveTo(b - 5, y + LINE / 2 - 5);
      pen.lineTo(b, y + LINE / 2);
      pen.lineTo(b - 5, y + LINE / 2 + 5);
      pen.stroke();
    }
    pen.font = `${FONT}px ${family}`;
    const label = paint.narrow ? `${timer.name} ${setSpan(timer.ends - (timer.again?.at(-1) ?? timer.began))}` : setSpan(timer.ends - (timer.again?.at(-1) ?? timer.began));
    const start = Math.max(a, left);
    const need = pen.measureText(label).width + 12;
    if (b - start > need) {
      pen.fillStyle = running && x(bench.now) < start + need ? ink.sheet : ink.sand;
      pen.fillRect(start + 2, y + 5.5, need - 4, LINE - 11);
      pen.fillStyle = ink.ink;
      pen.fillText(label, start + 5, y + LINE / 2 + 0.5);
    }
  }
}

function marks(paint, row, y) {
  const { pen, ink, x } = paint;
  const middle = y + LINE / 2;
  for (const one of row.marks) {
    const place = x(one.at);
    pen.strokeStyle = ink.ink;
    pen.fillStyle = ink.ink;
    const what = one.what;
    if (/\breleas/.test(what)) {
      line(pen, place, y + 6, place, y + LINE - 4);
      continue;
    }
    if (/motion/.test(what)) {
      line(pen, place, middle, place, y + LINE - 2);
      disc(pen, place, middle - 3, 4);
    } else if (/sound/.test(what)) {
      line(pen, place, middle, place, y + LINE - 2);
      shape(pen, [[place - 3.5, middle - 8], [place + 4.5, middle - 3.5], [place - 3.5, middle + 1]]);
    } else if (/\bup\b|\bin\b/.test(what)) {
      shape(pen, [[place - 6, middle + 5], [place, middle - 5.5], [place + 6, middle + 5]]);
    } else if (/\bdown\b|\bout\b|leaves/.test(what)) {
      shape(pen, [[place - 6, middle - 5], [place, middle + 5.5], [place + 6, middle - 5]]);
    } else {
      shape(pen, [[place, middle - 6], [place + 6, middle], [place, middle + 6], [place - 6, middle]]);
    }
  }
}

function rule(paint, row, y) {
  const { pen, ink, x, from, to } = paint;
  if (paint.narrow) words(paint, row.name, paint.right - 60, y + LINE / 2, { soft: true });
  const middle = y + LINE / 2;
  row.list.forEach(([at, verdict], index) => {
    const place = x(at);
    const until = x(Math.min(row.list[index + 1]?.[0] ?? at, to));
    if (verdict === "pending" && until > place) {
      pen.strokeStyle = ink.moss;
      pen.lineWidth = 1.6;
      line(pen, place, middle - 5, place, middle + 5);
      line(pen, place, middle, until, middle);
      pen.lineWidth = 1;
    }
    if (at < from || at > to || at === 0) return;
    if (verdict === "broken") {
      pen.fillStyle = ink.rust;
      pen.fillRect(place - 8, middle - 8, 16, 16);
      pen.strokeStyle = ink["on-rust"];
      pen.lineWidth = 2.2;
      line(pen, place - 3.5, middle - 3.5, place + 3.5, middle + 3.5);
      line(pen, place + 3.5, middle - 3.5, place - 3.5, middle + 3.5);
      pen.lineWidth = 1;
    }
    if (verdict === "held") {
      pen.fillStyle = ink.sheet;
      pen.strokeStyle = ink.moss;
      disc(pen, place, middle, 7);
      pen.stroke();
      pen.lineWidth = 2;
      pen.beginPath();
      pen.moveTo(place - 3.2, middle + 0.2);
      pen.lineTo(place - 0.8, middle + 3);
      pen.lineTo(place + 3.4, middle - 2.4);
      pen.stroke();
      pen.lineWidth = 1;
    }
  });
}

function words({ pen, ink, family }, text, x, y, { strong = false, soft = false, middle = false, most = Infinity } = {}) {
  pen.font = `${strong ? 700 : 400} ${FONT}px ${family}`;
  pen.fillStyle = soft ? ink.soft : ink.ink;
  pen.textAlign = middle ? "center" : "left";
  let shown = text;
  while (shown.length > 1 && pen.measureText(shown).width > most) shown = `${shown.slice(0, -2).trimEnd()}…`;
  if (pen.measureText(shown).width <= most) pen.fillText(shown, x, y + 0.5);
  pen.textAlign = "left";
}

function line(pen, ax, ay, bx, by) {
  pen.beginPath();
  pen.moveTo(ax, ay);
  pen.lineTo(bx, by);
  pen.stroke();
}

function shape(pen, corners) {
  pen.beginPath();
  corners.forEach(([cx, cy], index) => (index === 0 ? pen.moveTo(cx, cy) : pen.lineTo(cx, cy)));
  pen.closePath();
  pen.fill();
}

function disc(pen, x, y, radius) {
  pen.beginPath();
  pen.arc(x, y, radius, 0, Math.PI * 2);
  pen.fill();
}
