// A card for each output and each source: its state in words, its level, its timers as bars that
// shrink, and why.

import { gauge, keep, make, mark, say } from "./dom.js";
import { kindSign, stateSign } from "./signs.js";
import { energy, percent, sentence, setSpan, span } from "./words.js";
import { why } from "./why.js";

export function outputs(bench, parent) {
  const list = make("div.cards");
  const total = make("p.note");
  parent.replaceChildren(make("div.heading", {}, make("h2", { id: "outputs-title" }, "Outputs"), total), list);
  const parts = cards(bench, list, "outputs", outputCard);
  const spoken = new Map();
  bench.on("view", () => {
    const { view } = bench;
    const used = new Map(view.energy.by.map((one) => [one.output, one.wh]));
    for (const output of view.outputs) {
      parts.get(output.name)?.show(output, used.get(output.name));
      speak(bench, spoken, output);
    }
    say(total, `${energy(view.energy.wh)} so far`);
  });
}

/** A card for each of these of the room, by name; one that would be the same stays, and what was open stays open. */
function cards(bench, list, kind, card) {
  const parts = new Map();
  const keys = new Map();
  const build = () => {
    const { room } = bench;
    if (room === null) return;
    const before = new Map(parts);
    parts.clear();
    for (const one of room[kind]) {
      const links = kind === "sources" ? room.links.filter((link) => link.from === one.name) : [];
      const key = JSON.stringify([room.room, room.start, one, links, room.words, bench.drives]);
      const known = before.get(one.name);
      const isSame = keys.get(one.name) === key;
      const part = known !== undefined && isSame ? known : card(bench, one);
      keys.set(one.name, key);
      parts.set(one.name, part);
    }
    const nodes = [...parts.values()].map((part) => part.node);
    showMany(list, nodes.length > MANY, kind);
    // A node that is put where it stands would lose the focus.
    if (nodes.length !== list.children.length || nodes.some((node, index) => node !== list.children[index])) list.replaceChildren(...nodes);
    for (const [name, part] of parts) {
      const known = before.get(name);
      if (known === part) part.reason?.stale();
      else if (known?.reason?.isOpen()) part.reason.open();
    }
  };
  bench.on("room", build);
  rebuiltOnRole(bench, build);
  return parts;
}

/** How many cards stand in the page; more are scrolled in a place of their own. */
const MANY = 16;

function showMany(list, isMany, kind) {
  mark(list, "data-many", isMany);
  mark(list, "tabindex", isMany ? 0 : null);
  mark(list, "role", isMany ? "region" : null);
  mark(list, "aria-label", isMany ? `${sentence(kind)}, can be scrolled` : null);
}

/** Says what changed for a light, once it stands. */
function speak(bench, spoken, output) {
  const settled = percent(output.light) === output.target.replace(/\s/, "\u202f");
  const kind = bench.room.outputs.find((one) => one.name === output.name)?.kind;
  const level = kind === "light" && output.on && settled ? `, ${percent(output.light)}` : "";
  const words = `${output.name} ${output.state}${level}`;
  const before = spoken.get(output.name);
  if (before === words || (before?.startsWith(`${output.name} ${output.state}`) && !settled)) return;
  spoken.set(output.name, words);
  if (before !== undefined) bench.voice.say(output.name, words);
}

function outputCard(bench, output) {
  const sign = make("span.card-sign", { "aria-hidden": "true" }, kindSign(output.kind));
  const state = make("p.state");
  const dot = make("span.dot", { "aria-hidden": "true" });
  const word = make("strong");
  const level = make("span.level");
  state.append(dot, word, level);
  const bar = make("div.bar", { "aria-hidden": "true" }, make("span.bar-fill"), make("span.bar-goal"));
  const line = make("p.line");
  const timers = make("ul.timers");
  const used = make("p.used");
  const reason = why(bench, output.name);
  const group = output.group ? `, group ${output.group}` : "";
  const egress = output.egress ? ", egress" : "";
  const node = make("article.card", { id: `card-${output.name}`, "aria-labelledby": `name-${output.name}` },
    make("div.card-head", {}, sign, make("h3", { id: `name-${output.name}` }, output.name)),
    make("p.kind", {}, `${output.drive ?? output.kind}${egress}${group}`),
    state, output.kind === "light" ? bar : null, line, timers, used, reason.node,
    bench.drives ? folded(bench, output.name, bench.room.words?.output ?? []) : null);
  let shownState = null;
  return {
    node,
    reason,
    show: (now, wh) => {
      if (shownState !== now.state) {
        dot.replaceChildren(stateSign(now.state));
        shownState = now.state;
        reason.stale();
      }
      mark(node, "data-on", now.on);
      say(word, now.state);
      const towards = now.target.replace(/\s/, "\u202f") !== percent(now.light) ? ` → ${now.target}` : "";
      say(level, output.kind === "light" ? `${percent(now.light)}${towards}` : "");
      gauge(bar, "--light", now.light.toFixed(4));
      gauge(bar, "--goal", share(now.target));
      say(line, standing(output, now));
      showTimers(bench, timers, now.timers);
      say(used, wh === undefined ? "" : energy(wh));
    },
  };
}

/** The marks of an output in words, and what it was asked for where that is not what it does. */
function standing(output, now) {
  const asked = output.dims && now.on && now.asked && now.asked.replace(/\s/, "\u202f") !== percent(now.light) ? `asked for ${now.asked}` : null;
  const marks = [
    asked,
    now.emergency ? "emergency light" : null,
    now.occupied ? "counts as occupied" : "counts as empty",
    now.by_hand ? "set by hand" : null,
    now.latched ? "switched off by hand, stays off" : null,
  ];
  return sentence(marks.filter(Boolean).join("; "));
}

function share(target) {
  const number = Number.parseFloat(target);
  return Number.isFinite(number) ? (number / 100).toFixed(4) : 0;
}

/** Builds again when it turns out who drives, and only then: open cards stay open. */
function rebuiltOnRole(bench, build) {
  let before = bench.drives;
  bench.on("you", () => {
    if (bench.drives === before || bench.room === null) return;
    before = bench.drives;
    build();
    if (bench.view !== null) bench.emit("view");
  });
}

export function sources(bench, parent) {
  const list = make("div.cards");
  parent.replaceChildren(make("div.heading", {}, make("h2", { id: "sources-title" }, "Sources")), list);
  const parts = cards(bench, list, "sources", sourceCard);
  const show = () => {
    for (const source of bench.view.sources) parts.get(source.name)?.show(source);
  };
  bench.on("view", show);
}

/** Events that a plate or the wall already offers need no second button. */
const SHOWN_ELSEWHERE = ["switch", "card"];
/** Of other kinds these come first; the rest is folded away. */
const FIRST = ["motion", "sound", "lost", "back", "sounds", "stops", "sheds", "ends", "opening", "closing", "sweep"];

function sourceCard(bench, source) {
  const state = make("p.state");
  const dot = make("span.dot", { "aria-hidden": "true" });
  const word = make("strong");
  state.append(dot, word);
  const line = make("p.line");
  const timers = make("ul.timers");
  const senses = source.senses?.length > 0 ? `${source.kind}: ${source.senses.join(" and ")}` : source.kind;
  const links = bench.room.links.filter((link) => link.from === source.name);
  const node = make("article.card", { id: `card-${source.name}`, "aria-labelledby": `name-${source.name}` },
    make("div.card-head", {}, make("span.card-sign", { "aria-hidden": "true" }, kindSign(source.kind)), make("h3", { id: `name-${source.name}` }, source.name)),
    make("p.kind", {}, senses), state, line, timers,
    bench.drives ? deeds(bench, source) : null,
    links.length > 0 ? linkList(links) : null);
  let shownState = null;
  return {
    node,
    show: (now) => {
      if (shownState !== now.state) {
        dot.replaceChildren(stateSign(now.state));
        shownState = now.state;
      }
      say(word, now.state);
      mark(node, "data-on", /^(occupied|in)\b/.test(now.state));
      say(line, now.says ?? "");
      showTimers(bench, timers, now.timers);
    },
  };
}

function deeds(bench, source) {
  const all = (bench.room.words?.[source.kind] ?? [])
    .filter((event) => event !== "sound" || source.senses.includes("sound"))
    .filter((event) => source.kind !== "switch" || !/^(tap|hold|press|release)/.test(event));
  const first = SHOWN_ELSEWHERE.includes(source.kind) ? [] : all.filter((event) => FIRST.includes(event));
  const rest = all.filter((event) => !first.includes(event));
  return make("div.deeds", {}, ...first.map((event) => deed(bench, source.name, event)), folded(bench, source.name, rest));
}

/** A button for something that can happen at a point. */
export function deed(bench, point, event) {
  return make("button", {
    type: "button", "aria-label": `${event} at ${point}`,
    onclick: () => {
      bench.act(point, event);
      bench.voice.say(point, `${event} at ${point}`);
    },
  }, sentence(event));
}

/** What happens seldom, folded away. */
export function folded(bench, point, events) {
  if (events.length === 0) return null;
  return make("details.more", {}, make("summary", { "aria-label": `More that can happen at ${point}` }, "More"),
    make("div.deeds", {}, events.map((event) => deed(bench, point, event))));
}

/** Where a source leads: the keys of a pair lead to the same, and one line says so. */
function linkList(links) {
  const lines = new Map();
  for (const link of links) {
    const key = (link.button ?? "").replace(/(^| )(up|down)$/, "");
    const id = `${key}|${link.role}`;
    if (!lines.has(id)) lines.set(id, { key, role: link.role, to: new Set() });
    lines.get(id).to.add(link.to);
  }
  return make("ul.links", {}, [...lines.values()].map(({ key, role, to }) =>
    make("li", {}, make("span", { "aria-hidden": "true" }, "→ "), `${key === "" ? "" : `${key}: `}${[...to].join(", ")} (${role})`)));
}

/** What is left of a timer, as words and as a bar. */
function shrink(node, now) {
  const left = Math.max(0, node.ends - now);
  say(node.querySelector(".timer-left"), `${span(left)} left`);
  gauge(node, "--left", Math.min(1, left / node.whole).toFixed(4));
}

/** Lets every bar on the page shrink on between two pictures. */
export function shrinkAll(bench) {
  bench.on("tick", () => {
    for (const node of document.querySelectorAll("li.timer")) shrink(node, bench.now);
  });
}

/** Running timers, as bars that shrink to nothing and say what happens then. */
export function showTimers(bench, list, timers) {
  mark(list, "hidden", timers.length === 0);
  keep(list, timers, (timer) => timer.name,
    (timer) => make("li.timer", {},
      make("span.timer-name"), make("span.timer-left"),
      make("span.timer-bar", { "aria-hidden": "true" }, make("span.timer-fill")),
      make("span.timer-then")),
    (node, timer) => {
      const whole = Math.max(1, timer.span);
      node.ends = timer.ends;
      node.whole = whole;
      say(node.querySelector(".timer-name"), `${timer.name} ${setSpan(whole)}`);
      shrink(node, bench.now);
      say(node.querySelector(".timer-then"), timer.then ? `at ${bench.calendar.time(timer.ends)}: ${timer.then}` : `ends at ${bench.calendar.time(timer.ends)}`);
    });
}
