// The plan of the room: fixtures at their brightness, receptacles, contacts, sensors, places.
//
// Invariant: what the light says in brightness it also says in words beside the fixture.

import { folded } from "./cards.js";
import { clear, draw, make, mark, say } from "./dom.js";
import { noiseOf } from "./noise.js";
import { labels, layOut } from "./place.js";
import { peopleOn } from "./people.js";
import { lux, percent } from "./words.js";

export function plan(bench, parent) {
  const title = make("h2", { id: "plan-title" }, "Plan");
  const note = make("p.note");
  const stage = make("div.stage");
  const paper = draw("svg.paper", { role: "img", "aria-label": "Plan of the room" });
  const walkers = make("div.walkers");
  stage.append(paper, walkers);
  const outside = make("div.outside");
  parent.replaceChildren(make("div.heading", {}, title, note), stage, outside);

  const parts = new Map();
  const measure = measurer();
  const people = peopleOn(bench, walkers);
  let drawn = null;

  const redraw = () => {
    if (bench.room === null) return;
    const width = Math.floor(stage.clientWidth);
    if (width < 40) return;
    const tallest = Math.min(width * 0.92, Math.max(320, innerHeight * 0.5));
    drawn = layOut(bench.room, width, tallest);
    for (const spot of drawn.spots) spot.widest = widestValue(spot);
    const places = labels(drawn, measure);
    paint(bench, paper, drawn, places, parts);
    stage.style.setProperty("height", `${drawn.height}px`);
    people.place(drawn);
    say(note, drawn.isToScale
      ? "to scale"
      : "not to scale: the room file says no positions");
    show();
  };

  const show = () => {
    if (bench.view === null || drawn === null) return;
    const lights = bench.view.outputs.filter((output) => kindOf(bench, output.name) === "light");
    const mean = lights.reduce((sum, output) => sum + output.light, 0) / Math.max(1, lights.length);
    mark(paper, "data-dark", mean < 0.02);
    for (const output of bench.view.outputs) showOutput(parts.get(output.name), output);
    for (const source of bench.view.sources) showSource(parts.get(source.name), source);
    people.show();
  };

  let width = 0;
  new ResizeObserver(() => {
    if (Math.abs(stage.clientWidth - width) < 1) return;
    width = stage.clientWidth;
    redraw();
  }).observe(stage);
  bench.on("room", redraw);
  bench.on("you", () => people.show());
  bench.on("view", show);
  outsideOf(bench, outside);
}

const kindOf = (bench, name) => bench.room.outputs.find((output) => output.name === name)?.kind;

/** The longest value that will ever stand beside a spot, for its room. */
function widestValue(spot) {
  if (spot.kind === "light") return "warning 100 %";
  if (spot.kind === "occupancy") return "occupied";
  return spot.kind === "place" ? "" : "unknown";
}

function measurer() {
  const pen = document.createElement("canvas").getContext("2d");
  const family = getComputedStyle(document.body).fontFamily;
  return (words, strong) => {
    pen.font = `${strong ? 600 : 400} 14px ${family}`;
    return pen.measureText(words).width;
  };
}

function paint(bench, paper, plan, places, parts) {
  parts.clear();
  clear(paper);
  mark(paper, "viewBox", `0 0 ${plan.width} ${plan.height}`);
  mark(paper, "width", plan.width);
  mark(paper, "height", plan.height);
  const { box } = plan;
  const floor = { x: box.x, y: box.y, width: box.width, height: box.height };
  paper.append(
    draw("defs", {},
      draw("radialGradient", { id: "glow" },
        draw("stop.glow-in", { offset: "0" }), draw("stop.glow-mid", { offset: "0.35" }), draw("stop.glow-out", { offset: "1" })),
      draw("clipPath", { id: "room-box" }, draw("rect", floor))),
    draw("rect.floor", floor),
  );
  const glows = draw("g.glows", { "clip-path": "url(#room-box)" });
  paper.append(glows);
  paper.append(
    draw("rect.wall-outer", { x: box.x - 5, y: box.y - 5, width: box.width + 10, height: box.height + 10 }),
    draw("rect.wall-inner", floor),
  );
  if (plan.isToScale) measures(paper, bench.room.size, box);
  if (plan.porch) {
    const { x, y, width, height } = plan.porch;
    paper.append(
      draw("rect.porch", { x, y, width, height }),
      draw("text.porch-word", { x: x + 10, y: y + 20 }, "outside"));
  }
  for (const { name, ...outline } of plan.zones) {
    paper.append(
      draw("rect.zone", { ...outline, rx: 8 }),
      draw("text.zone-name", { x: outline.x + 8, y: outline.y + 14 }, name));
  }
  const reach = Math.max(90, Math.min(box.width, box.height) * (plan.isToScale ? 0.55 : 0.3));
  plan.spots.forEach((spot, index) => {
    const { node, glow } = symbol(spot, reach);
    if (glow) glows.append(glow);
    const place = places[index];
    const name = draw("text.spot-name", { x: place.x, y: place.y + 13, "text-anchor": place.anchor }, spot.name);
    const value = spot.kind === "place" ? null : draw("text.spot-value", { x: place.x, y: place.y + 31, "text-anchor": place.anchor });
    const group = draw(`g.spot.spot-${spot.kind}`, {}, node, name, value);
    if (spot.is !== "place") {
      group.addEventListener("click", () => document.getElementById(`card-${spot.name}`)?.querySelector("button.why")?.click());
    }
    paper.append(group);
    parts.set(spot.name, { group, glow, value, spot });
  });
}

function measures(paper, size, box) {
  const metres = (mm) => `${(mm / 1000).toLocaleString("en-GB", { maximumFractionDigits: 2 })} m`;
  const y = box.y + box.height + 20;
  const x = box.x - 20;
  paper.append(
    draw("path.measure", { d: `M${box.x} ${y}H${box.x + box.width}M${box.x - 4} ${y + 4}l8-8M${box.x + box.width - 4} ${y + 4}l8-8` }),
    draw("text.measure-word", { x: box.x + box.width / 2, y: y + 5, "text-anchor": "middle" }, metres(size.w)),
    draw("path.measure", { d: `M${x} ${box.y}V${box.y + box.height}M${x - 4} ${box.y + 4}l8-8M${x - 4} ${box.y + box.height + 4}l8-8` }),
    draw("text.measure-word", { transform: `translate(${x + 5} ${box.y + box.height / 2}) rotate(-90)`, "text-anchor": "middle" }, metres(size.d)),
  );
}

function symbol(spot, reach) {
  const { x, y } = spot;
  const at = (what, properties, ...children) => draw(what, properties, ...children);
  const group = draw("g.symbol");
  switch (spot.kind) {
    case "light": {
      group.append(
        at("rect.lamp", { x: x - 22, y: y - 10, width: 44, height: 20 }),
        at("rect.lamp-fill", { x: x - 22, y: y - 10, width: 44, height: 20 }),
        at("path.lamp-cross", { d: `M${x - 22} ${y - 10}l44 20m0-20l-44 20` }));
      const glow = at("circle.glow", { cx: x, cy: y, r: reach, fill: "url(#glow)", opacity: 0 });
      return { node: group, glow };
    }
    case "receptacle":
      // Two halves: the left one always has power, the right one is the room's to switch.
      group.append(
        at("path.half-always", { d: `M${x} ${y - 13}a13 13 0 0 0 0 26z` }),
        at("path.half-switched", { d: `M${x} ${y - 13}a13 13 0 0 1 0 26z` }),
        at("path.prongs", { d: `M${x - 6} ${y - 4}v8M${x + 6} ${y - 4}v8` }));
      return { node: group };
    case "contact":
      group.append(
        at("rect.plate", { x: x - 17, y: y - 13, width: 34, height: 26 }),
        at("path.blade-open", { d: `M${x - 9} ${y + 3}L${x + 7} ${y - 8}` }),
        at("path.blade-closed", { d: `M${x - 9} ${y + 3}H${x + 9}` }),
        at("circle.pole", { cx: x - 9, cy: y + 3, r: 3 }), at("circle.pole", { cx: x + 9, cy: y + 3, r: 3 }));
      return { node: group };
    case "occupancy":
      group.append(
        at("circle.ear", { cx: x, cy: y, r: 13 }),
        at("circle.pupil", { cx: x, cy: y, r: 5.5 }));
      return { node: group };
    case "switch":
      group.append(
        at("rect.plate", { x: x - 9, y: y - 13, width: 18, height: 26 }),
        at("path.plate-mark", { d: `M${x} ${y - 8}l4 6h-8zM${x} ${y + 8}l4-6h-8z` }));
      return { node: group };
    case "card":
      group.append(at("rect.plate", { x: x - 13, y: y - 10, width: 26, height: 20 }), at("path.plate-line", { d: `M${x - 8} ${y + 5}h16` }));
      return { node: group };
    case "place":
      group.append(at("path.seat", { d: `M${x - 8} ${y}h16M${x} ${y - 8}v16` }));
      return { node: group };
    case "clock":
      group.append(at("circle.ear", { cx: x, cy: y, r: 13 }), at("path.plate-line", { d: `M${x} ${y - 8}v8l6 4` }));
      return { node: group };
    case "photo":
    case "daylight":
      group.append(at("circle.plate", { cx: x, cy: y, r: 6 }),
        at("path.plate-line", { d: [0, 45, 90, 135, 180, 225, 270, 315].map((turn) => {
          const [c, s] = [Math.cos((turn * Math.PI) / 180), Math.sin((turn * Math.PI) / 180)];
          return `M${x + c * 9} ${y + s * 9}L${x + c * 13} ${y + s * 13}`;
        }).join("") }));
      return { node: group };
    default:
      group.append(at("path.plate", { d: `M${x} ${y - 13}l13 13-13 13-13-13z` }));
      return { node: group };
  }
}

function showOutput(part, output) {
  if (part === undefined) return;
  const { group, glow, value } = part;
  mark(group, "data-on", output.on);
  if (glow) {
    const light = Math.max(0, Math.min(1, output.light));
    // Eyes see steps at the low end; so does the plan.
    mark(glow, "opacity", light === 0 ? 0 : (0.18 + 0.82 * light ** 0.8).toFixed(3));
    mark(group.querySelector(".lamp-fill"), "opacity", light === 0 ? 0 : (0.25 + 0.75 * light).toFixed(3));
    const word = /^(on|off)$/.test(output.state) ? "" : `${output.state} `;
    say(value, `${word}${output.on || light > 0 ? percent(light) : word === "" ? "off" : ""}`.trim());
  } else {
    say(value, output.state);
  }
}

function showSource(part, source) {
  if (part === undefined) return;
  const busy = /^(occupied|in)\b/.test(source.state);
  mark(part.group, "data-on", busy || source.down?.length > 0);
  if (part.value) say(part.value, source.down?.length > 0 ? `${source.down.join(", ")} down` : source.state);
}

/** Light from outside, where the room understands it. */
function outsideOf(bench, parent) {
  const MOST = 4;
  const slider = make("input", { type: "range", id: "daylight", min: 0, max: 400, step: 1 });
  const shown = make("output", { for: "daylight" });
  const row = make("div.slide", {}, make("label", { for: "daylight" }, "Daylight outside"), slider, shown);
  const only = make("p.slide-said");
  const whole = make("div.whole-room");
  parent.append(row, only);
  noiseOf(bench, parent);
  parent.append(whole);
  // Equal steps of the eye: 0 and then 1 lx to 10 000 lx and more by powers of ten.
  const value = () => (Number(slider.value) === 0 ? 0 : round(10 ** ((Number(slider.value) / 400) * (MOST + 1))));
  const round = (lx) => Number(lx.toPrecision(2));
  let held = false;
  slider.addEventListener("input", () => {
    held = true;
    say(shown, lux(value()));
    mark(slider, "aria-valuetext", lux(value()));
  });
  slider.addEventListener("change", () => {
    held = false;
    bench.act("room", `daylight ${value()} lx`);
    bench.voice.say("daylight", `daylight ${lux(value())}`);
  });
  const show = () => {
    const daylight = bench.view?.outside?.daylight_lx ?? null;
    const senses = bench.room?.sources.some((source) => ["photo", "daylight"].includes(source.kind)) || daylight > 0;
    row.hidden = !senses || !bench.drives;
    only.hidden = !senses || bench.drives;
    const hears = bench.room?.sources.some((source) => source.senses?.includes("sound"));
    parent.hidden = !senses && !hears && !bench.drives;
    say(only, `Daylight outside: ${lux(daylight ?? 0)}`);
    if (held || document.activeElement === slider) return;
    slider.value = daylight > 0 ? String(Math.round((Math.log10(Math.max(1, daylight)) / (MOST + 1)) * 400)) : "0";
    say(shown, lux(daylight ?? 0));
    mark(slider, "aria-valuetext", lux(daylight ?? 0));
  };
  const build = () => {
    if (bench.room === null) return;
    const events = bench.drives ? (bench.room.words?.room ?? []).filter((event) => !event.startsWith("daylight")) : [];
    whole.replaceChildren(folded(bench, "room", events) ?? "");
  };
  bench.on("room", build);
  bench.on("view", show);
  bench.on("you", () => { build(); show(); });
}
