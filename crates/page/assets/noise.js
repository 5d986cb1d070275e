// Noise where somebody hears it: a radio left on, a machine beside the room.
//
// Invariant: a noise is a sound every so often and no more; the sensors of the model know no
// loudness. It is a row of the session, so it is saved with it.

import { make, mark, say } from "./dom.js";
import { count } from "./words.js";

/** How far apart the sounds of a noise are, in seconds of the room; the first is quiet. */
const NOISES = [null, 300, 60, 30, 10];

/** How long the picture of a noise may be late once the server has granted it, in ms. */
const LATE = 2000;

/** A slider for each sensor that hears. */
export function noiseOf(bench, parent) {
  const list = make("div.noises");
  parent.append(list);
  let rows = new Map();
  let built = "";
  const build = () => {
    const hearing = (bench.room?.sources ?? []).filter((source) => source.senses?.includes("sound")).map((source) => source.name);
    const key = JSON.stringify([hearing, bench.drives]);
    if (key === built) return;
    built = key;
    rows = new Map(hearing.map((point) => [point, slide(bench, point)]));
    list.replaceChildren(...[...rows.values()].map((row) => row.node));
    if (bench.view !== null) show();
  };
  const show = () => {
    const now = new Map((bench.view.outside?.noise ?? []).map((one) => [one.point, one.every]));
    for (const [point, row] of rows) row.show(now.get(point) ?? null);
  };
  bench.on("room", build);
  bench.on("you", build);
  bench.on("view", show);
}

function slide(bench, point) {
  const id = `noise-${point}`;
  const slider = make("input", { type: "range", id, min: 0, max: NOISES.length - 1, step: 1, value: 0 });
  const shown = make("output", { for: id });
  const only = make("p.slide-said");
  const node = make("div.slide", {}, bench.drives ? [make("label", { for: id }, `Noise at ${point}`), slider, shown] : only);
  const tell = (every) => {
    say(shown, words(every));
    say(only, `Noise at ${point}: ${words(every)}`);
    mark(slider, "aria-valuetext", words(every));
  };
  /** What was asked for and is not shown yet; null: the slider follows the room. */
  let wish = null;
  const chosen = () => NOISES[Number(slider.value)];
  slider.addEventListener("input", () => {
    wish = { every: chosen(), granted: null };
    tell(wish.every);
  });
  slider.addEventListener("change", async () => {
    const mine = (wish = { every: chosen(), granted: null });
    bench.voice.say(point, `noise at ${point}: ${words(mine.every)}`);
    const done = await bench.tell("/api/noise", { point, every: mine.every }).catch(() => null);
    mine.granted = done === null ? -LATE : performance.now();
    bench.emit("view");
  });
  tell(null);
  return {
    node,
    show: (every) => {
      if (wish !== null && (wish.granted === null || (wish.every !== every && performance.now() - wish.granted < LATE))) return;
      wish = null;
      slider.value = String(NOISES.findIndex((one) => (one ?? Infinity) <= (every ?? Infinity)));
      tell(every);
    },
  };
}

/** A noise in words. */
function words(every) {
  if (every === null) return "quiet";
  return every % 60 === 0 ? `a sound every ${every === 60 ? "minute" : count(every / 60, "minute", "minutes")}` : `a sound every ${count(every, "second", "seconds")}`;
}
