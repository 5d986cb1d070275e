// The page of a live room: puts its parts together and starts them.

import { Bench } from "./bench.js";
import { outputs, shrinkAll, sources } from "./cards.js";
import { diagram } from "./diagram.js";
import { make, mark, say } from "./dom.js";
import { lesson } from "./lesson.js";
import { log } from "./log.js";
import { plan } from "./plan.js";
import { rules } from "./rules.js";
import { sheets } from "./sheets.js";
import { transport } from "./transport.js";
import { Voice } from "./voice.js";
import { wall } from "./wall.js";
import { count } from "./words.js";

const at = (id) => document.getElementById(id);

const bench = new Bench(new Voice(at("said")));
transport(bench, at("transport"));
lesson(bench, at("lesson"));
plan(bench, at("plan"));
wall(bench, at("wall"));
outputs(bench, at("outputs"));
sources(bench, at("sources"));
shrinkAll(bench);
diagram(bench, at("times"));
rules(bench, at("rules"));
log(bench, at("log"));
sheets(bench, at("menu"), at("sheets"));
masthead();
bench.begin().catch((error) => say(at("said"), error.message));

/** The name of the room, who drives, and whether the machine still answers. */
function masthead() {
  const watching = at("watching");
  const said = make("p");
  watching.append(said);
  bench.on("room", () => {
    say(at("room-name"), bench.room.name);
    say(at("room-says"), bench.room.says ?? "");
    document.title = `${bench.room.name} · roomrig live`;
  });
  const show = () => {
    mark(document.body, "data-you", bench.you);
    mark(document.body, "data-cut", bench.cut);
    const faults = bench.view?.faults ?? [];
    const lines = [];
    if (bench.cut) lines.push("The machine that runs the room does not answer. This screen shows what it was, and tries again.");
    if (!bench.drives && !bench.cut) lines.push("You are watching. The trainer's screen drives the room.");
    if (faults.length > 0) lines.push(`Fault: ${faults.join("; ")}.`);
    watching.hidden = lines.length === 0;
    mark(watching, "data-bad", bench.cut || faults.length > 0);
    say(said, lines.join(" "));
    const others = (bench.view?.viewers ?? 1) - 1;
    say(at("over"), others > 0 ? `roomrig live · ${count(others, "other screen", "other screens")}` : "roomrig live");
  };
  bench.on("you", show);
  bench.on("view", show);
}
