// The log: every step of the run in words, with a filter.
//
// Invariant: it is a table and not a live region; who wants to hear it goes there.

import { keep, make, mark, say } from "./dom.js";
import { count } from "./words.js";

const SHOWN = 150;
/** What is true and seldom looked for: kept behind "everything". */
const HOUSEKEEPING = /^(nothing happens|measured|hears )|starts: |nothing else happens/;

export function log(bench, parent) {
  const filter = make("input", { type: "search", id: "log-filter", autocomplete: "off", spellcheck: "false" });
  const kind = make("select", { id: "log-kind" },
    make("option", { value: "told" }, "what matters"),
    make("option", { value: "all" }, "everything"),
    make("option", { value: "frames" }, "frames on the bus"),
    make("option", { value: "acts" }, "what was done"),
    make("option", { value: "rest" }, "what devices did"));
  const found = make("p.note");
  const rows = make("tbody");
  const table = make("table.steps", {},
    make("caption.unseen", {}, "Steps of the run, the latest first"),
    make("thead", {}, make("tr", {}, ["Time", "Who", "What", "Because of"].map((word) => make("th", { scope: "col" }, word)))), rows);
  parent.replaceChildren(
    make("div.heading", {}, make("h2", { id: "log-title" }, "Log"), found),
    make("div.filters", {},
      make("label", { for: "log-kind" }, "Show"), kind,
      make("label", { for: "log-filter" }, "with the words"), filter),
    make("div.scroll", { tabindex: "0", role: "region", "aria-label": "Log, can be scrolled" }, table));

  let due = false;
  const soon = () => {
    if (due) return;
    due = true;
    setTimeout(() => { due = false; show(); }, 200);
  };
  const show = () => {
    if (bench.view === null) return;
    const words = filter.value.toLowerCase().split(/\s+/).filter((word) => word !== "");
    const wanted = (row) => {
      if (kind.value === "told" && (row.quiet || HOUSEKEEPING.test(row.what))) return false;
      if (kind.value === "frames" && !row.frame) return false;
      if (kind.value === "acts" && (row.frame || row.cause !== null)) return false;
      if (kind.value === "rest" && (row.frame || row.cause === null)) return false;
      const text = `${row.civil} ${row.who} ${row.what} ${row.point ?? ""}`.toLowerCase();
      return words.every((word) => text.includes(word));
    };
    const all = [...bench.log.values()].filter(wanted).sort((a, b) => b.step - a.step);
    const missed = bench.missed > 0 ? `; ${bench.missed} came too fast for this screen` : "";
    const { since } = bench.view;
    const kept = since > 0 ? `; all since ${bench.calendar.label(since)} are kept, go back to see earlier ones` : "";
    say(found, `${count(all.length, "step", "steps")}${all.length > SHOWN ? `, the latest ${SHOWN} shown` : ""}${missed}${kept}`);
    keep(rows, all.slice(0, SHOWN), (row) => row.step, (row) => line(bench, row), (node, row) => {
      mark(node, "data-later", row.at > bench.view.now);
    });
  };
  filter.addEventListener("input", soon);
  kind.addEventListener("change", soon);
  bench.on("log", soon);
  let now = -1;
  bench.on("view", () => {
    // Only a rewind changes rows that are there.
    if (bench.view.now < now) soon();
    now = bench.view.now;
  });
}

function line(bench, row) {
  const cause = row.cause === null || row.cause === undefined ? null
    : make("button.cause", {
      type: "button", "aria-label": `Step ${row.cause}, which caused step ${row.step}`,
      onclick: () => {
        const there = document.getElementById(`step-${row.cause}`);
        there?.scrollIntoView({ block: "nearest" });
        there?.querySelector("button")?.focus();
        there?.classList.add("flash");
        setTimeout(() => there?.classList.remove("flash"), 1500);
        const known = bench.log.get(row.cause);
        if (known) bench.voice.say("log", `${bench.calendar.time(known.at)} ${known.who} ${known.what}`);
      },
    }, `${row.cause}`);
  return make("tr", { id: `step-${row.step}`, "data-frame": row.frame },
    make("td.when", {}, bench.calendar.exact(row.at)),
    make("td.who", {}, row.who ?? ""),
    make("td.what", {}, row.what),
    make("td.from", {}, make("span.number", { "aria-hidden": "true" }, `${row.step} `), cause ? make("span", { "aria-hidden": "true" }, "← ") : null, cause));
}
