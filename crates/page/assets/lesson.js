// A lesson: what it tells, what it asks, and what the room answered.
//
// Invariant: while a question is open the clock stands, by the server's hand; the page only asks.

import { make, mark, say } from "./dom.js";

export function lesson(bench, parent) {
  let shown = "";
  let picked = null;
  const show = () => {
    const now = bench.view?.lesson ?? null;
    parent.hidden = now === null;
    const key = JSON.stringify([now, bench.drives]);
    if (key === shown) return;
    const stepped = now !== null && !shown.includes(`"step":${now.step},`);
    shown = key;
    if (now === null) {
      parent.replaceChildren();
      return;
    }
    if (stepped) picked = null;
    const hadFocus = parent.contains(document.activeElement);
    parent.replaceChildren(...body(bench, now, picked, (choice) => { picked = choice; }));
    if (hadFocus) (parent.querySelector("button.go, input") ?? parent.querySelector("h2"))?.focus();
    if (stepped) bench.voice.say("lesson", now.asks ? `question: ${now.asks}` : now.says);
    else if (now.chosen !== null && now.chosen !== undefined) bench.voice.say("lesson", now.right ? "right" : "not so");
  };
  bench.on("view", show);
  bench.on("you", show);
}

function body(bench, now, picked, pick) {
  const answered = now.chosen !== null && now.chosen !== undefined;
  const order = (what) => () => bench.tell("/api/lesson", what);
  const parts = [
    make("div.heading", {}, make("h2", { id: "lesson-title", tabindex: "-1" }, now.title), make("p.note", {}, `${now.step} of ${now.of}`)),
    make("progress.lesson-way", { max: now.of, value: now.step, "aria-label": "Progress of the lesson" }),
  ];
  if (now.says) parts.push(make("p.lesson-says", {}, now.says));
  if (now.asks) parts.push(question(bench, now, answered, picked, pick));
  if (answered) {
    const word = now.right ? "Right." : "Not so.";
    parts.push(make("p.lesson-verdict", { "data-right": String(now.right) },
      make("span", { "aria-hidden": "true" }, now.right ? "✓ " : "✕ "), make("strong", {}, word), now.because ? ` ${now.because}` : ""));
  }
  if (bench.drives) {
    const last = now.step >= now.of && (answered || !now.asks);
    parts.push(make("div.row", {},
      !now.asks || answered ? make("button.go", { type: "button", onclick: order(last ? { stop: true } : { next: true }) }, last ? "Finish" : "Go on") : null,
      make("button", { type: "button", onclick: order({ stop: true }) }, "Leave the lesson")));
  }
  return parts;
}

function question(bench, now, answered, picked, pick) {
  const legend = make("legend", {}, now.asks);
  const choices = now.choices ?? [];
  if (!bench.drives || answered) {
    return make("fieldset.question", {}, legend, make("ul.choices", {}, choices.map((choice, index) => {
      const chosen = now.chosen === index;
      return make("li", { "data-chosen": chosen }, make("span", { "aria-hidden": "true" }, chosen ? "● " : "○ "), choice, chosen ? make("span.note", {}, " (chosen)") : null);
    })));
  }
  const told = make("p.told", { role: "status" });
  const form = make("form", {
    onsubmit: (event) => {
      event.preventDefault();
      const choice = new FormData(form).get("choice");
      if (choice === null) {
        mark(told, "data-bad", true);
        say(told, "choose one first");
        return;
      }
      bench.tell("/api/lesson", { choice: Number(choice) });
    },
  }, make("fieldset.question", {}, legend, choices.map((choice, index) => make("label.choice", {},
    make("input", { type: "radio", name: "choice", value: index, checked: picked === index, onchange: () => pick(index) }), make("span", {}, choice)))),
  make("button.go", { type: "submit" }, "Answer"), told);
  return form;
}
