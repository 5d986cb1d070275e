// The parts of the page that need no browser: words, history, places.

import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { test } from "node:test";

/** A module of the page; those that are tried here import nothing. */
async function part(name) {
  const text = await readFile(new URL(`../../crates/page/assets/${name}`, import.meta.url), "utf8");
  return import(`data:text/javascript;base64,${Buffer.from(text).toString("base64")}`);
}

const { Calendar, percent, span, setSpan, energy, lux } = await part("words.js");
const { History } = await part("history.js");
const { labels, layOut } = await part("place.js");
const { Orders } = await part("orders.js");

test("spans, shares and quantities are said in two units at most and without false digits", () => {
  assert.deepEqual([0, 400, 9_999, 10_001, 61_000, 3_600_000, 90_061_000].map(span), ["0.0 s", "0.4 s", "10.0 s", "11 s", "1 min 01 s", "1 h", "1 d 01 h"]);
  assert.deepEqual([900_000, 30_000, 250, 5_400_000].map(setSpan), ["15 min", "30 s", "250 ms", "90 min"]);
  assert.deepEqual([0, 0.001, 0.5, 1].map(percent), ["0\u202f%", "1\u202f%", "50\u202f%", "100\u202f%"]);
  assert.deepEqual([0.5, 240.2, 1_500].map(energy), ["0.50 Wh", "240.2 Wh", "1.50 kWh"]);
  assert.deepEqual([4.4, 1_234].map(lux), ["4 lx", "1230 lx"]);
});

test("the clock on the wall jumps where the clocks of the place go forward", () => {
  const calendar = new Calendar("2026-03-29T00:59:59+00:00", "Europe/London");
  assert.equal(calendar.time(0), "00:59:59");
  assert.equal(calendar.time(1_000), "02:00:00");
  assert.equal(calendar.exact(1_110), "02:00:00.110");
  assert.equal(calendar.day(0), "Sun 29 Mar");
});

const ROOM = { outputs: [{ name: "lamp", dims: true }, { name: "outlet", dims: false }] };
const view = (now, light, timers = [], more = {}) => ({
  now,
  outputs: [{ name: "lamp", state: light > 0 ? "on" : "off", light, target: "50 %", timers }, { name: "outlet", state: "on", light: 1, timers: [] }],
  sources: [{ name: "sensor", state: "vacant", timers: [] }],
  clauses: [],
  ...more,
});
const timer = (began, ends) => ({ name: "press hold", began, ends });

test("what is recorded twice stands once, and what stood still is two corners", () => {
  const history = new History();
  for (const now of [0, 1_000, 1_000, 2_000, 3_000]) history.record(view(now, 0.5), ROOM);
  assert.deepEqual(history.point("lamp").light, [[0, 0.5], [3_000, 0.5]]);
  assert.deepEqual(history.point("lamp").states, [[0, "on"]]);
  history.record(view(500, 0.1), ROOM);
  assert.equal(history.point("lamp").light.length, 2, "a picture of what is known changes nothing");
});

test("a timer that runs out, one that is stopped and one that is started again are told apart", () => {
  const history = new History();
  history.record(view(0, 0.5, [timer(0, 1_000)]), ROOM);
  history.record(view(1_200, 0.5, [timer(1_100, 5_000)]), ROOM);
  history.record(view(2_000, 0.5, [timer(2_000, 6_000)]), ROOM);
  history.record(view(3_000, 0.5), ROOM);
  const [first, second] = history.point("lamp").timers;
  assert.deepEqual([first.how, first.ended], ["elapsed", 1_000]);
  assert.deepEqual([second.how, second.ended, second.again], ["stopped", 3_000, [2_000]]);
});

test("going another way forgets what came later, and nothing before", () => {
  const history = new History();
  history.record(view(0, 0), ROOM);
  history.record(view(1_000, 0.5, [timer(1_000, 9_000)]), ROOM);
  history.record(view(5_000, 1), ROOM);
  history.cut(2_000);
  assert.equal(history.lightAt("lamp", 5_000), history.lightAt("lamp", 2_000));
  assert.equal(history.stateAt("lamp", 9_999), "on");
  const [only] = history.point("lamp").timers;
  assert.deepEqual([only.how, only.ended], ["running", null]);
  history.record(view(2_500, 0.2), ROOM);
  assert.equal(history.lightAt("lamp", 2_500), 0.2);
});

test("what the server tells takes the place of what was guessed between pictures", () => {
  const history = new History();
  history.record(view(0, 0), ROOM);
  history.record(view(60_000, 0.5), ROOM);
  history.take({
    from: 0, to: 60_000, clauses: [{ id: "A1", verdicts: [[100, "held"]] }],
    points: [{ name: "lamp", light: [[0, 0], [110, 0], [110, 0], [500, 0.5]], states: [[0, "off"], [110, "on"]], marks: [], timers: [{ ...timer(110, 900), again: [], ended: 900, how: "elapsed" }] }],
  });
  assert.equal(history.lightAt("lamp", 305), 0.25);
  assert.equal(history.stateAt("lamp", 105), "off");
  assert.equal(history.stateAt("lamp", 120), "on");
  assert.deepEqual(history.changes().filter((at) => at > 0 && at < 1_000), [100, 110, 900]);
  history.record(view(61_000, 0.5), ROOM);
  assert.equal(history.lightAt("lamp", 61_000), 0.5);
});

test("what was only guessed of later is no ramp that begins where the server's words end", () => {
  const history = new History();
  history.record(view(0, 0.5), ROOM);
  history.record(view(3_600_000, 0.5), ROOM);
  history.record(view(3_601_000, 1), ROOM);
  // The room went back to half an hour, and tells of it: a hand had set it to full.
  history.take({
    from: 0, to: 1_800_000, clauses: [],
    points: [{ name: "lamp", light: [[0, 0.5], [6_000, 0.5], [6_000, 1]], states: [[0, "on"]], marks: [], timers: [] }],
  });
  for (const at of [6_000, 900_000, 1_800_000, 3_000_000]) assert.equal(history.lightAt("lamp", at), 1, `${at} ms`);
});

/** Orders whose answers come when a check lets them, in the order in which they were sent. */
function slow() {
  const sent = [];
  const orders = new Orders((path, body) => new Promise((take, fail) => sent.push({ path, body, take, fail })));
  const go = async () => { for (let turn = 0; turn < 8; turn += 1) await null; };
  return { orders, sent, go };
}

test("orders go one after the other, and of moments asked for meanwhile only the newest goes", async () => {
  const { orders, sent, go } = slow();
  const answers = [0, 100, 200].map((to) => orders.give("/api/clock", { to }));
  orders.give("/api/act", { point: "wall-button", event: "tap up" });
  orders.give("/api/clock", { to: 300 });
  assert.deepEqual(sent.map(({ body }) => body.to), [0], "one is on its way");
  while (sent.some((order) => !order.done)) {
    const order = sent.find((one) => !one.done);
    order.done = true;
    order.take(order.body.to ?? "done");
    await go();
  }
  assert.deepEqual(sent.map(({ body }) => body.to ?? body.event), [0, 200, "tap up", 300]);
  assert.deepEqual(await Promise.all(answers), [0, 200, 200], "who was overtaken hears of the newest");
});

test("an order that is refused holds up none that comes after it", async () => {
  const { orders, sent, go } = slow();
  const refused = assert.rejects(orders.give("/api/act", { point: "wall-button", event: "tap it" }), /not known/);
  const paused = orders.give("/api/clock", { running: false });
  const moved = orders.give("/api/clock", { to: 5, running: true });
  sent[0].fail(new Error("not known"));
  await refused;
  await go();
  sent[1].take("paused");
  assert.equal(await paused, "paused");
  await go();
  sent[2].take("moved");
  assert.equal(await moved, "moved", "more than a moment is an order of its own");
});

const thing = (name, kind, at = null, group = null) => ({ name, kind, at, group });
const ROOMS = {
  office: {
    size: { w: 4_000, d: 4_000 }, people: [{ name: "ana" }],
    outputs: [thing("desk-lights", "light", [2_000, 2_000]), thing("desk-outlet", "receptacle", [300, 2_000])],
    sources: [thing("wall-button", "switch", [3_900, 500]), thing("wall-sensor", "occupancy", [3_900, 500])],
    places: [thing("desk", "place", [2_000, 3_000]), thing("door", "place", [3_600, 300])],
  },
  warehouse: {
    size: null, people: [], places: [],
    outputs: [1, 2, 3, 4].map((number) => thing(`aisle-${number}`, "light")),
    sources: [...[1, 2, 3, 4].map((number) => thing(`aisle-sensor-${number}`, "occupancy")), thing("door-switch", "switch")],
  },
  corridor: {
    size: null, people: [], places: [], outputs: [thing("corridor-lights", "light")],
    sources: ["clock", "fire-alarm", "demand-response", "normal-power"].map((kind) => thing(kind, kind)).concat(thing("north-sensor", "occupancy")),
  },
};

test("outputs of one group stand in one outline with its name, and nothing else does", () => {
  const lights = [thing("near", "light", [1_000, 3_000], "rows"), thing("far", "light", [3_000, 3_000], "rows"), thing("door", "light", [2_000, 500], "alone")];
  const room = { size: { w: 4_000, d: 4_000 }, people: [], outputs: lights, sources: [], places: [] };
  const { zones, spots } = layOut(room, 500, 500);
  assert.deepEqual(zones.map(({ name }) => name), ["rows"], "one is no group");
  const [{ x, y, width, height }] = zones;
  const inside = spots.filter((spot) => spot.x > x && spot.x < x + width && spot.y > y && spot.y < y + height);
  assert.deepEqual(inside.map(({ name }) => name), ["near", "far"]);
});

for (const [name, room] of Object.entries(ROOMS)) {
  for (const width of [300, 336, 420, 500, 560, 620, 700, 900]) {
    test(`everything of the ${name} stands on a plan of ${width} px, and no two words lie on each other`, () => {
      const plan = layOut(room, width, 500);
      assert.equal(plan.spots.length, room.outputs.length + room.sources.length + room.places.length);
      for (const spot of plan.spots) {
        assert.ok(spot.x > 8 && spot.x < width - 8 && spot.y > 8 && spot.y < plan.height - 8, `${spot.name} at ${spot.x}, ${spot.y}`);
        spot.widest = "occupied";
      }
      const placed = labels(plan, (words) => words.length * 7.4);
      placed.forEach(({ box }, index) => {
        assert.ok(box.left >= -2 && box.right <= width + 2, `${plan.spots[index].name} reaches over the edge`);
        placed.slice(index + 1).forEach((other, later) => {
          const wide = Math.min(box.right, other.box.right) - Math.max(box.left, other.box.left);
          const tall = Math.min(box.bottom, other.box.bottom) - Math.max(box.top, other.box.top);
          assert.ok(wide <= 4 || tall <= 4, `${plan.spots[index].name} lies on ${plan.spots[index + 1 + later].name} (${wide} × ${tall} px)`);
        });
      });
    });
  }
}
