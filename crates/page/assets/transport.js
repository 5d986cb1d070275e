// Time: run and pause, step, speed, and the slider to any moment that has been reached.

import { gauge, make, mark, say } from "./dom.js";
import { span, speedWords } from "./words.js";

const SPEEDS = [1, 10, 60, 600, 3600];
const STEPS = 2000;
/** How long the picture of a moment may be late once the server has granted it, in ms. */
const LATE = 2000;

export function transport(bench, parent) {
  const time = make("p.time");
  const day = make("p.day");
  const how = make("p.how");
  const run = make("button.run", { type: "button", onclick: () => bench.clock({ running: !bench.view.running }) });
  const runSign = make("span.sign", { "aria-hidden": "true" });
  const runWord = make("span");
  run.append(runSign, runWord);
  const step = make("button.step", { type: "button", onclick: () => bench.clock({ step: "event" }) },
    make("span.sign", { "aria-hidden": "true" }, "⇥"), make("span.long", {}, "Step to the next event"), make("span.short", { "aria-hidden": "true" }, "Step"));
  mark(step, "aria-label", "Step to the next event");
  const narrow = matchMedia("(max-width: 640px)");
  const label = (speed) => (narrow.matches ? `×${speed}` : speedWords(speed));
  const speeds = SPEEDS.map((speed) => make("option", { value: speed }, label(speed)));
  narrow.addEventListener("change", () => {
    for (const option of speeds) say(option, label(Number(option.value)));
  });
  /** The pace of a lesson, for as long as it lasts. */
  const other = make("option");
  const speed = make("select", { id: "speed", onchange: () => bench.clock({ speed: Number(speed.value) }) }, speeds);
  const slider = make("input.slider", {
    type: "range", min: 0, max: STEPS, step: 1, id: "moment", "aria-label": "Moment of the run",
  });
  const from = make("span.from", {}, "");
  const to = make("span.to", {}, "");

  const controls = make("div.controls", {}, run, step,
    make("label.speed", { for: "speed" }, make("span.word", {}, "Speed"), speed));
  const back = make("div.rewind", {}, from, slider, to);
  parent.replaceChildren(make("div.wallclock", {}, time, day, how), controls, back);

  let held = false;
  /** The moment that was asked for and is not shown yet; null: the slider follows the room. */
  let wish = null;
  const goal = () => Math.round((Number(slider.value) / STEPS) * reach());
  const reach = () => Math.max(bench.view?.end ?? 0, bench.view?.now ?? 0);
  let wait = null;
  const ask = async () => {
    const mine = { at: goal(), granted: null };
    wish = mine;
    const done = await bench.clock({ to: mine.at }).catch(() => null);
    if (wish !== mine) return;
    mine.granted = performance.now();
    if (done === null) wish = null;
    follow();
  };
  slider.addEventListener("input", () => {
    held = true;
    showGoal();
    clearTimeout(wait);
    // While it is dragged the room follows now and then, not at every pixel.
    wait = setTimeout(ask, 90);
  });
  slider.addEventListener("change", () => {
    held = false;
    clearTimeout(wait);
    ask();
    bench.voice.say("clock", `back at ${bench.calendar.time(goal())}`);
  });
  // Drawn to and fro to where it was, it changes nothing.
  for (const end of ["pointerup", "pointercancel", "blur"]) slider.addEventListener(end, () => { held = false; });
  /** Puts the slider where the room is, unless somebody has just put it elsewhere. */
  const follow = () => {
    const { view, calendar } = bench;
    if (wish !== null && isShown(wish, view)) wish = null;
    if (held || wish !== null) return;
    const share = reach() === 0 ? 1 : view.now / reach();
    slider.value = String(Math.round(share * STEPS));
    gauge(slider, "--share", share);
    mark(slider, "aria-valuetext", `${calendar.day(view.now)} ${calendar.label(view.now, !view.running)}`);
  };
  const showGoal = () => {
    const at = goal();
    mark(slider, "aria-valuetext", `${bench.calendar.day(at)} ${bench.calendar.time(at)}`);
    gauge(slider, "--share", Number(slider.value) / STEPS);
  };

  bench.on("you", () => {
    controls.hidden = !bench.drives;
    slider.disabled = !bench.drives;
  });
  let ran = null;
  bench.on("tick", () => {
    say(time, bench.calendar.time(bench.now));
    if (!held && wish === null && bench.view.end <= bench.view.now) say(to, bench.calendar.label(bench.now));
  });
  bench.on("view", () => {
    const { view, calendar } = bench;
    say(time, calendar.time(bench.now));
    say(day, calendar.day(view.now));
    const behind = view.end > view.now;
    const pace = bench.cut ? "not connected" : view.running ? `running, ×${view.speed}` : "paused";
    say(how, behind ? `${pace}, ${span(view.end - view.now)} ahead` : pace);
    mark(parent, "data-running", view.running);
    mark(parent, "data-behind", behind);
    say(runSign, view.running ? "❚❚" : "▶");
    say(runWord, view.running ? "Pause" : "Run");
    if (SPEEDS.includes(view.speed)) other.remove();
    else {
      other.value = String(view.speed);
      say(other, label(view.speed));
      speed.append(other);
    }
    if (document.activeElement !== speed) speed.value = String(view.speed);
    follow();
    say(from, calendar.label(0));
    say(to, calendar.label(reach()));
    if (ran !== null && ran !== view.running) bench.voice.say("clock", view.running ? "running" : `paused at ${calendar.time(view.now)}`);
    ran = view.running;
  });
}

/** Whether a picture shows the moment that was asked for, or will not any more. */
function isShown({ at, granted }, view) {
  if (granted === null) return false;
  const since = performance.now() - granted;
  // A room that runs has gone on from there.
  const most = view.running ? at + (since + LATE) * view.speed : at;
  return (view.now >= at && view.now <= most) || since > LATE;
}
