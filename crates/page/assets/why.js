// Why an output is as it is: the chain of causes in words, and what will change it next.

import { ask } from "./api.js";
import { make, mark } from "./dom.js";
import { arrow } from "./signs.js";

/** A button that opens the chain of an output, and the place where it opens. */
export function why(bench, output) {
  const id = `why-${output}`;
  const body = make("div.chain", { id, hidden: true });
  const button = make("button.why", { type: "button", "aria-expanded": "false", "aria-controls": id }, arrow(), make("span", {}, "Why?"));
  mark(button, "aria-label", `Why is ${output} so?`);
  const node = make("div.reason", {}, button, body);
  let isOpen = false;
  let due = null;
  let last = 0;
  /** The moment of a cause that somebody looks at: the chain that is being read stays. */
  let looked = null;

  const fetchIt = async () => {
    due = null;
    last = performance.now();
    const at = bench.moment;
    try {
      const answer = await ask(`/api/why?output=${encodeURIComponent(output)}${at === null ? "" : `&at=${at}`}`);
      if (isOpen) body.replaceChildren(...chain(bench, answer, (moment) => { looked = moment; }));
    } catch (error) {
      body.replaceChildren(make("p.line", {}, error.message));
    }
  };
  const soon = () => {
    if (!isOpen || due !== null) return;
    due = setTimeout(fetchIt, Math.max(150, 1000 - (performance.now() - last)));
  };
  const turn = () => {
    isOpen = !isOpen;
    body.hidden = !isOpen;
    mark(button, "aria-expanded", String(isOpen));
    const card = node.closest(".card");
    mark(card, "data-open", isOpen);
    if (isOpen) {
      body.replaceChildren(make("p.line", {}, "asking …"));
      fetchIt();
    }
  };
  button.addEventListener("click", turn);
  bench.on("moment", () => {
    const isCause = looked !== null && bench.moment === looked;
    looked = null;
    if (!isCause) soon();
  });
  return { node, stale: soon, open: turn, isOpen: () => isOpen };
}

/** The chain in words; `look` is told of the moment of a cause before it is looked at. */
function chain(bench, answer, look) {
  const heading = make("p.chain-title", {}, answer.title ?? "");
  const links = answer.chain.map((link, index) => make("li", {},
    make("button.moment", {
      type: "button", title: "Show this moment in the timing diagram",
      onclick: () => {
        look(link.at);
        bench.look(link.at);
        bench.voice.say("moment", `looking at ${bench.calendar.time(link.at)}`);
        document.getElementById("times")?.scrollIntoView({ block: "nearest" });
      },
    }, bench.calendar.exact(link.at)),
    make("span.what", {}, `${index === 0 ? "" : "because "}${link.what}`, link.file ? make("span.file", {}, ` ${link.file}${link.line ? `:${link.line}` : ""}`) : null,
      (link.remarks ?? []).map((remark) => make("span.remark", {}, `· ${remark}`)))));
  const parts = [heading, make("ol.causes", { "aria-label": "Causes, the latest first" }, links)];
  if (answer.refused?.length > 0) {
    parts.push(make("p.chain-next", {}, "What could have changed it and did not"));
    parts.push(make("ul.next", {}, answer.refused.map((one) => make("li", {}, one))));
  }
  if (answer.next?.length > 0) {
    parts.push(make("p.chain-next", {}, "What will change it next"));
    parts.push(make("ul.next", {}, answer.next.map((one) => make("li", {}, one))));
  }
  if (answer.text) {
    parts.push(make("details.whole", {}, make("summary", {}, "As the command prints it"), make("pre", { tabindex: "0", "aria-label": "The answer of roomrig why" }, answer.text)));
  }
  return parts;
}

