// A lesson: what it tells, what it asks, and what the room answered.
//
// Invariant: while a question is open the clock stands, by the server's hand; the page only asks.

import { make, mark, say } from "./dom.js";

export function lesson(bench, parent) {
  let shown = "";
  let picked = null;
  let before = null;
  const show = () => {
    const now = bench.view?.lesson ?? null;
    parent.hidden = now === null;
    const key = JSON.stringify([now, bench.drives]);
    if (key === shown) return;
    const stepped = now !== null && !shown.includes(`"step":${now.step},`);
    const phase = now?.phase ?? null;
    const entered = phase !== before;
    before = phase;
    shown = key;
    if (now === null) {
      parent.replaceChildren();
      return;
    }
    if (stepped) picked = null;
    const hadFocus = parent.contains(document.activeElement);
    parent.replaceChildren(...body(bench, now, picked, (choice) => { picked = choice; }));
    if (hadFocus) (parent.querySelector("button.go, input") ?? parent.querySelector("h2"))?.focus();
    if (!entered && !stepped) return;
    if (phase === "told") bench.voice.say("lesson", now.says);
    if (phase === "asked") bench.voice.say("lesson", `question: ${now.asks}`);
    if (phase === "answered") bench.voice.say("lesson", now.right ? "right" : "not so");
  };
  bench.on("view", show);
  bench.on("you", show);
}

function body(bench, now, picked, pick) {
  const { phase } = now;
  const order = (what) => () => bench.tell("/api/lesson", what);
  const parts = [
    make("div.heading", {}, make("h2", { id: "lesson-title", tabindex: "-1" }, now.title), make("p.note", {}, `${now.step} of ${now.of}`)),
    make("progress.lesson-way", { max: now.of, value: now.step, "aria-label": "Progress of the lesson" }),
  ];
  if (now.goal && now.step === 1) parts.push(make("p.note", {}, now.goal));
  if (now.says) parts.push(make("p.lesson-says", {}, now.says));
  if (now.asks) parts.push(question(bench, now, phase, picked, pick));
  if (phase === "coming") parts.push(make("p.lesson-waits", {}, "The room runs on to the next step …"));
  if (phase === "answering") parts.push(make("p.lesson-waits", {}, "Now the room answers …"));
  if (phase === "answered") {
    const word = now.right ? "Right." : "Not so.";
    parts.push(make("p.lesson-verdict", { "data-right": String(now.right) },
      make("span", { "aria-hidden": "true" }, now.right ? "✓ " : "✕ "), make("strong", {}, word), now.because ? ` ${now.because}` : ""));
  }
  if (bench.drives) {
    const goesOn = phase === "told" || phase === "answered";
    parts.push(make("div.row", {},
      goesOn ? make("button.go", { type: "button", onclick: order({ next: true }) }, now.step >= now.of ? "Finish" : "Go on") : null,
      make("button", { type: "button", onclick: order({ stop: true }) }, "Leave the lesson")));
  }
  return parts;
}

function question(bench, now, phase, picked, pick) {
  const legend = make("legend", {}, now.asks);
  const choices = now.choices ?? [];
  if (!bench.drives || phase !== "asked") {
    return make("fieldset.question", {}, legend, make("ul.choices", {}, choices.map((choice, index) => {
      const chosen = now.chosen === index;
      const right = now.answer === index;
      const note = chosen ? (right ? "chosen, and right" : "chosen") : right ? "right" : null;
      return make("li", { "data-chosen": chosen, "data-right": right }, make("span", { "aria-hidden": "true" }, right ? "✓ " : chosen ? "● " : "○ "), choice, note ? make("span.note", {}, ` (${note})`) : null);
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
