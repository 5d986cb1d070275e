// The wall beside the door: wall units whose keys can be tapped, pressed and held, and the card
// holder.
//
// Invariants: every press is followed by its release, whatever happens to the pointer, the
// keyboard or the focus; while a finger is on a key the room's time runs as it is.

import { clear, make, mark, say } from "./dom.js";
import { keySign } from "./signs.js";

/** How long a key is down at least, in ms. */
const TAP = 100;
/** A finger that was down for less than this has tapped, in ms. */
const TAPPED = 400;

export function wall(bench, parent) {
  const plates = make("div.plates");
  parent.replaceChildren(
    make("div.heading", {}, make("h2", { id: "wall-title" }, "On the wall"), make("p.note.hint")),
    plates);
  const hint = parent.querySelector(".hint");
  let parts = new Map();

  const build = () => {
    clear(plates);
    parts = new Map();
    const units = bench.room.sources.filter((source) => source.kind === "switch" || source.kind === "card");
    parent.hidden = units.length === 0;
    for (const source of units) {
      const part = source.kind === "card" ? holder(bench, source) : unit(bench, source);
      parts.set(source.name, part);
      plates.append(part.node);
    }
    show();
  };
  const show = () => {
    if (bench.view === null) return;
    say(hint, bench.drives ? "Tap, or press and hold: while a key is down, time runs at ×1." : "The trainer's hand is shown here.");
    for (const source of bench.view.sources) parts.get(source.name)?.show(source);
  };
  bench.on("room", build);
  let before = bench.drives;
  bench.on("you", () => {
    if (bench.drives === before || bench.room === null) return;
    before = bench.drives;
    build();
  });
  bench.on("view", show);
}

/** A wall unit drawn as a plate, with its keys in pairs. */
function unit(bench, source) {
  const keys = new Map();
  const rows = pairs(source.buttons);
  const plate = make("div.unit", { role: "group", "aria-label": source.name });
  for (const row of rows) {
    const line = make("div.unit-row");
    if (row.title) line.append(make("span.unit-title", { "aria-hidden": "true" }, row.title));
    for (const button of row.buttons) {
      const key = bench.drives ? pressable(bench, source, button) : shown(button);
      keys.set(button.name, key);
      line.append(key);
    }
    plate.append(line);
  }
  const said = make("p.unit-said");
  const node = make("div.plate-box", { id: `plate-${source.name}` }, make("h3.unit-name", {}, source.name), plate, said);
  return {
    node,
    show: ({ down, says }) => {
      for (const [name, key] of keys) mark(key, "data-down", down?.includes(name));
      say(said, says);
    },
  };
}

/** Keys in rows: "class up" and "class down" are one row named class. */
function pairs(buttons) {
  const rows = new Map();
  for (const button of buttons) {
    const match = /^(?:(.*)[ /])?(up|down)$/.exec(button.name);
    const id = match ? `pair ${match[1] ?? ""}` : button.name;
    if (!rows.has(id)) rows.set(id, { title: match?.[1] ?? "", buttons: [] });
    rows.get(id).buttons.push(button);
  }
  for (const row of rows.values()) row.buttons.sort((a, b) => Number(/down$/.test(a.name)) - Number(/down$/.test(b.name)));
  return [...rows.values()];
}

function face(button) {
  const sign = keySign(button.name);
  const word = /\b(up|down)$/.exec(button.name)?.[1] ?? button.name;
  return [sign, make("span.key-word", {}, word)];
}

function shown(button) {
  return make("span.key", { title: button.does ?? "" }, face(button));
}

function pressable(bench, source, button) {
  const key = make("button.key", { type: "button", "aria-label": `${button.name}, ${source.name}`, title: button.does ?? "" }, face(button));
  const finger = new Finger(bench, source.name, button.name);
  let pointed = false;
  key.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    pointed = true;
    key.setPointerCapture(event.pointerId);
    mark(key, "data-down", true);
    finger.press();
  });
  const up = () => finger.release();
  key.addEventListener("pointerup", up);
  key.addEventListener("pointercancel", up);
  key.addEventListener("lostpointercapture", up);
  key.addEventListener("contextmenu", (event) => event.preventDefault());
  key.addEventListener("keydown", (event) => {
    if (event.key !== " " && event.key !== "Enter") return;
    event.preventDefault();
    if (!event.repeat) finger.press();
  });
  key.addEventListener("keyup", (event) => {
    if (event.key !== " " && event.key !== "Enter") return;
    event.preventDefault();
    finger.release();
  });
  key.addEventListener("blur", up);
  // A click that no pointer and no key made comes from a screen reader or by voice.
  key.addEventListener("click", () => {
    if (!pointed) finger.tap();
    pointed = false;
  });
  return key;
}

/** One finger on one key: what it does reaches the room in its order. */
class Finger {
  constructor(bench, point, button) {
    this.bench = bench;
    this.point = point;
    this.button = button;
    this.isDown = false;
    this.sending = Promise.resolve();
  }

  press() {
    if (this.isDown) return;
    this.isDown = true;
    this.began = performance.now();
    this.touch = { isSent: false, isOver: false, held: 0 };
    const { running, speed } = this.bench.view;
    // A finger lives in the time of the wall: a tap at ×600 must not be held for a minute.
    this.pace = running && speed === 1 ? null : { running, speed };
    if (this.pace !== null) this.order({ running: true, speed: 1 });
    this.begin(this.touch);
  }

  release() {
    if (!this.isDown) return;
    this.isDown = false;
    const held = performance.now() - this.began;
    const how = held < TAPPED ? "tapped" : `held ${(held / 1000).toFixed(1)} s`;
    Object.assign(this.touch, { isOver: true, held });
    if (this.touch.isSent) this.end(held);
    if (this.pace !== null) this.order(this.pace);
    this.bench.voice.say(this.point, `${this.button} ${how} at ${this.point}`);
  }

  /** The key goes down in the room. What was over before the room could hear of it takes as long there as it took here. */
  begin(touch) {
    this.sending = this.sending.then(async () => {
      if (touch.isOver && touch.held < TAPPED) return this.bench.act(this.point, `tap ${this.button}`);
      touch.isSent = !touch.isOver;
      await this.bench.act(this.point, `press ${this.button}`);
      if (touch.isSent) return null;
      await new Promise((go) => setTimeout(go, touch.held));
      return this.bench.act(this.point, `release ${this.button}`);
    }).catch(() => {});
  }

  end(held) {
    // A finger is never down for less than a tap: the release waits so long.
    const wait = Math.max(0, TAP - held);
    this.sending = this.sending.then(() => new Promise((go) => setTimeout(go, wait)));
    this.send(`release ${this.button}`);
  }

  tap() {
    this.press();
    this.release();
  }

  order(pace) {
    this.sending = this.sending.then(() => this.bench.clock(pace)).catch(() => {});
  }

  send(event) {
    this.sending = this.sending.then(() => this.bench.act(this.point, event)).catch(() => {});
  }
}

/** The card holder: a card that is in or out, to put in and to pull. */
function holder(bench, source) {
  const card = make("span.card-drawn", { "aria-hidden": "true" });
  const slot = make("div.slot", {}, card, make("span.slot-lip", { "aria-hidden": "true" }));
  const button = make("button.card-move", { type: "button" });
  const words = make("p.unit-said");
  let isIn = null;
  button.addEventListener("click", () => {
    bench.act(source.name, isIn ? "card out" : "card in");
    bench.voice.say(source.name, isIn ? `card pulled from ${source.name}` : `card put into ${source.name}`);
  });
  const node = make("div.plate-box", { id: `plate-${source.name}` },
    make("h3.unit-name", {}, source.name),
    make("div.unit", { role: "group", "aria-label": source.name }, slot, bench.drives ? button : null), words);
  return {
    node,
    show: ({ state, says }) => {
      isIn = /\bin\b/.test(state) && !/not in/.test(state);
      mark(slot, "data-in", isIn);
      say(button, isIn ? "Pull the card" : "Put the card in");
      say(words, says || (isIn ? "card is in" : "no card"));
    },
  };
}
