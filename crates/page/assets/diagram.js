// The moving timing diagram: lanes for sources and outputs, levels, timers, stimuli and clauses.
//
// Invariants: drawn in the same signs as the printed diagrams, told apart by shape and not by
// colour alone; whatever it shows at a moment can be read as words below it.

import { make, mark, say } from "./dom.js";
import { paintLanes } from "./lanes.js";
import { count, percent, span } from "./words.js";

const MINUTE = 60_000;
const SPANS = [
  [2 * MINUTE, "2 minutes"],
  [15 * MINUTE, "a quarter hour"],
  [60 * MINUTE, "an hour"],
  [240 * MINUTE, "4 hours"],
  [1440 * MINUTE, "a day"],
  [0, "the whole run"],
];
/** Where the present stands, as a share of the width: timers reach to the right of it. */
const PRESENT = 0.72;

export function diagram(bench, parent) {
  const canvas = make("canvas.lanes", { role: "img", "aria-label": "Timing diagram" });
  const stage = make("div.canvas", {}, canvas);
  const wide = make("select", { id: "diagram-span" }, SPANS.map(([ms, words]) => make("option", { value: ms }, words)));
  wide.value = String(innerWidth < 640 ? 15 * MINUTE : 60 * MINUTE);
  const earlier = make("button", { type: "button", onclick: () => stepTo(-1) }, make("span", { "aria-hidden": "true" }, "◂ "), "Change before");
  const later = make("button", { type: "button", onclick: () => stepTo(1) }, "Change after", make("span", { "aria-hidden": "true" }, " ▸"));
  const follow = make("button.follow", { type: "button", onclick: () => bench.look(null) }, "Back to the present");
  const rewind = make("button.goback", { type: "button", onclick: () => bench.clock({ to: bench.moment }) }, "Rewind the room to here");
  const readout = make("p.readout");
  const still = make("p.note");
  const paper = make("a.paperlink", { href: "/api/timeline", target: "_blank", rel: "noopener" }, "On paper");
  parent.replaceChildren(
    make("div.heading", {}, make("h2", { id: "times-title" }, "Timing diagram"),
      make("div.tools", {}, make("label", { for: "diagram-span" }, "Width"), wide, earlier, later, follow, rewind, paper)),
    stage, still, readout);

  const ink = inks();
  let geometry = null;
  let due = false;
  const soon = () => {
    if (due) return;
    due = true;
    requestAnimationFrame(() => { due = false; show(); });
  };
  const show = () => {
    if (bench.view === null || stage.clientWidth < 40) return;
    const window_ = windowOf(bench, Number(wide.value));
    geometry = paintLanes(canvas, stage.clientWidth, bench, window_, ink());
    follow.hidden = bench.moment === null;
    rewind.hidden = bench.moment === null || !bench.drives;
    say(still, geometry.leftOut > 0 ? `${count(geometry.leftOut, "point at which nothing happens is", "points at which nothing happens are")} not drawn` : "");
    readAloud(bench, readout);
    mark(canvas, "aria-label", `Timing diagram from ${bench.calendar.label(window_.from)} to ${bench.calendar.label(window_.to)}; the words below say what it shows at one moment`);
  };
  const stepTo = async (way) => {
    // Pictures come a few times a second; what changed in between is asked for.
    if (bench.history.exact < bench.view.now) await bench.readPast().catch(() => {});
    const here = bench.moment ?? bench.view.now;
    const all = bench.history.changes().filter((at) => at <= Math.max(bench.view.end, bench.view.now));
    const next = way < 0 ? all.findLast((at) => at < here) : all.find((at) => at > here);
    if (next === undefined) {
      bench.voice.say("moment", way < 0 ? "nothing changed before" : "nothing has changed after");
      return;
    }
    bench.look(next);
    bench.voice.say("moment", words(bench, next));
  };
  canvas.addEventListener("click", (event) => {
    if (geometry === null) return;
    const x = event.clientX - canvas.getBoundingClientRect().left;
    const at = geometry.at(x);
    if (at < 0 || at > Math.max(bench.view.end, bench.view.now)) return;
    bench.look(at);
  });
  wide.addEventListener("change", soon);
  new ResizeObserver(soon).observe(stage);
  for (const name of ["view", "tick", "moment", "past", "log", "room"]) bench.on(name, soon);
  for (const query of ["(prefers-color-scheme: dark)", "(forced-colors: active)"]) {
    matchMedia(query).addEventListener("change", () => { ink.forget(); soon(); });
  }
}

/** The stretch of time that is drawn. */
function windowOf(bench, asked) {
  const { end } = bench.view;
  const { now } = bench;
  const reached = Math.max(now, end);
  if (asked === 0) return { from: 0, to: Math.max(MINUTE, reached * 1.06 + 1000) };
  const centre = bench.moment;
  if (centre !== null) {
    const from = Math.max(0, centre - asked * 0.5);
    return { from, to: from + asked };
  }
  const from = Math.max(0, now - asked * PRESENT);
  return { from, to: from + asked };
}

function readAloud(bench, node) {
  const at = bench.moment ?? bench.view.now;
  say(node, words(bench, at));
}

/** The moment in words: every output, then every source. */
function words(bench, at) {
  const outputs = bench.room.outputs.map(({ name, kind }) => {
    const light = bench.history.lightAt(name, at);
    const state = bench.history.stateAt(name, at);
    if (state === null) return null;
    return [name, kind === "light" && light !== null && light > 0 ? `${state} ${percent(light)}` : state];
  });
  const sources = bench.room.sources.filter((source) => source.kind !== "switch").map(({ name }) => {
    const state = bench.history.stateAt(name, at);
    return state === null ? null : [name, state];
  });
  const said = [...gathered(outputs, "outputs"), ...gathered(sources, "sources")];
  const where = at === bench.view.now ? "Now" : at > bench.view.now ? `At ${bench.calendar.exact(at)}, ahead` : `At ${bench.calendar.exact(at)}, ${span(bench.view.now - at)} ago`;
  return `${where}: ${said.length === 0 ? "this screen was not there" : said.join("; ")}.`;
}

/** How many points are named one by one; of more, those that stand alike are counted. */
const NAMED = 12;

/** Points with how they stand, each by its name; in a large room the many that stand alike as one. */
function gathered(points, what) {
  const known = points.filter((one) => one !== null);
  const alike = new Map();
  for (const [, state] of known) alike.set(state, (alike.get(state) ?? 0) + 1);
  const isMany = (state) => known.length > NAMED && alike.get(state) > 3;
  return [
    ...known.filter(([, state]) => !isMany(state)).map(([name, state]) => `${name} ${state}`),
    ...[...alike].filter(([state]) => isMany(state)).map(([state, number]) => `${number} ${what} ${state}`),
  ];
}

/** The colours of the page, read once for each colour scheme. */
function inks() {
  let known = null;
  const read = () => {
    if (known !== null) return known;
    const style = getComputedStyle(document.documentElement);
    const names = ["sheet", "ink", "soft", "rule", "grid", "sea", "shore", "deep", "sand", "rope", "rust", "moss", "on-deep", "on-rust", "later"];
    known = Object.fromEntries(names.map((name) => [name, style.getPropertyValue(`--${name}`).trim()]));
    known.family = getComputedStyle(document.body).fontFamily;
    return known;
  };
  read.forget = () => { known = null; };
  return read;
}
