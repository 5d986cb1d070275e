// The sequence of operation: every clause with its sentence, turning held or broken as it happens.

import { clear, make, mark, say } from "./dom.js";
import { verdictSign } from "./signs.js";

const WORDS = { held: "held", broken: "broken", pending: "waiting", untested: "not put to the test yet" };

export function rules(bench, parent) {
  const list = make("ul.clauses");
  const sum = make("p.note");
  const formal = make("button.formal-too", {
    type: "button", "aria-pressed": "false",
    onclick: () => {
      const isShown = formal.getAttribute("aria-pressed") !== "true";
      mark(formal, "aria-pressed", String(isShown));
      mark(list, "data-formal", isShown);
    },
  }, "Formal halves");
  parent.replaceChildren(make("div.heading", {}, make("h2", { id: "rules-title" }, "Sequence of operation"), sum, formal), list);
  let parts = new Map();
  bench.on("room", () => {
    clear(list);
    parts = new Map();
    parent.hidden = bench.room.clauses.length === 0;
    for (const clause of bench.room.clauses) {
      const part = row(clause);
      parts.set(clause.id, part);
      list.append(part.node);
    }
  });
  const heard = new Map();
  bench.on("view", () => {
    const counts = { held: 0, broken: 0, pending: 0, untested: 0 };
    for (const clause of bench.view.clauses) {
      counts[clause.verdict] = (counts[clause.verdict] ?? 0) + 1;
      parts.get(clause.id)?.show(clause, bench);
      const before = heard.get(clause.id);
      heard.set(clause.id, clause.verdict);
      if (before !== undefined && before !== clause.verdict && clause.verdict === "broken") {
        bench.voice.say(`clause ${clause.id}`, `clause ${clause.id} is broken`);
      }
    }
    say(sum, [counts.broken > 0 ? `${counts.broken} broken` : null, `${counts.held} held`, counts.pending > 0 ? `${counts.pending} waiting` : null, `${counts.untested} not tested`].filter(Boolean).join(", "));
    mark(parent, "data-broken", counts.broken > 0);
  });
}

function row(clause) {
  const sign = make("span.clause-sign", { "aria-hidden": "true" });
  const verdict = make("span.verdict");
  const since = make("span.since");
  const node = make("li.clause", { id: `clause-${clause.id}` }, sign,
    make("div.clause-body", {},
      make("p.clause-head", {}, make("strong", {}, clause.id), " ", verdict, since),
      make("p.clause-says", {}, clause.says),
      clause.text ? make("p.formal", {}, make("code", {}, clause.text)) : null));
  let shown = null;
  return {
    node,
    show: (now, bench) => {
      if (shown !== now.verdict) {
        sign.replaceChildren(verdictSign(now.verdict));
        mark(node, "data-verdict", now.verdict);
        say(verdict, WORDS[now.verdict] ?? now.verdict);
        shown = now.verdict;
      }
      const shows = now.since !== null && now.since !== undefined && now.verdict !== "untested";
      say(since, shows ? `, ${now.verdict === "broken" ? "at" : "since"} ${bench.calendar.time(now.since)}` : "");
    },
  };
}

