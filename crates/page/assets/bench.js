// What the page knows: the room, what moves in it, what was, and who is told of changes.
//
// Invariants: the server is right and the page draws it; what lies after the present is kept, and
// shown grey, until the server says that it was dropped.

import { ask, follow, tell, Refused } from "./api.js";
import { calm } from "./dom.js";
import { History } from "./history.js";
import { Orders } from "./orders.js";
import { Calendar } from "./words.js";

const LOG_KEPT = 4000;
/** How often what only shrinks or moves on is drawn again between two pictures, in ms. */
const TICK = 100;
const NUMBERED = new Intl.Collator("en", { numeric: true });
/** For how long the page reckons on when nothing comes, in ms. */
const MOST_RECKONED = 500;

export class Bench {
  constructor(voice) {
    this.voice = voice;
    this.you = "viewer";
    this.room = null;
    this.view = null;
    this.calendar = null;
    this.history = new History();
    this.orders = new Orders((path, body) => this.send(path, body));
    this.log = new Map();
    this.missed = 0;
    this.cut = false;
    /** The moment somebody looks at in the diagram; null: the present. */
    this.moment = null;
    /** The latest instant that the server has reached. */
    this.reached = 0;
    this.heard = new Map();
    this.seen = 0;
    this.asking = null;
    this.reading = null;
    this.isReading = false;
    setInterval(() => this.tick(), TICK);
  }

  /** The present moment: between two pictures it is reckoned from the speed. */
  get now() {
    if (this.view === null) return 0;
    if (!this.view.running || this.cut) return this.view.now;
    const since = Math.min(MOST_RECKONED, performance.now() - this.seen);
    return this.view.now + since * this.view.speed;
  }

  tick() {
    if (this.view?.running && !this.cut && !document.hidden && !calm()) this.emit("tick");
  }

  /** Whether this screen may drive. */
  get drives() {
    return this.you === "trainer";
  }

  on(name, take) {
    if (!this.heard.has(name)) this.heard.set(name, []);
    this.heard.get(name).push(take);
  }

  emit(name) {
    for (const take of this.heard.get(name) ?? []) take(this);
  }

  async begin() {
    await this.readRoom();
    follow(
      {
        hello: (hello) => this.greet(hello),
        view: (view) => this.see(view),
        log: (log) => this.note(log),
        missed: (missed) => this.miss(missed),
        reset: () => this.reset(),
      },
      (isCut) => {
        this.connected(!isCut);
        if (isCut) this.knock();
      },
    );
  }

  async readRoom() {
    this.isReading = true;
    const room = await ask("/api/room").finally(() => { this.isReading = false; });
    // People count: the tenth comes after the ninth.
    for (const list of [room.outputs, room.sources]) list.sort((a, b) => NUMBERED.compare(a.name, b.name));
    const other = this.room !== null && (this.room.name !== room.name || this.room.start !== room.start);
    this.room = room;
    this.calendar = new Calendar(room.start, room.zone);
    if (other) this.forget();
    this.emit("room");
    if (this.view !== null) this.emit("view");
  }

  forget() {
    this.history = new History();
    this.log.clear();
    this.moment = null;
  }

  greet(hello) {
    this.you = hello.you;
    this.emit("you");
    if (hello.revision !== this.room.revision) this.readRoom().catch(() => {});
    this.readPast().catch(() => {});
    this.readLog().catch(() => {});
  }

  /** Reads the steps before this screen came. */
  async readLog() {
    // Asked for what lies beyond the end, the server says how many steps there are.
    const end = await ask(`/api/log?from=${Number.MAX_SAFE_INTEGER}`);
    let next = Math.max(0, end.first - LOG_KEPT / 2);
    while (next !== null && next !== undefined && next < end.first) {
      const piece = await ask(`/api/log?from=${next}`);
      this.note(piece);
      next = piece.next;
    }
    this.missed = 0;
    this.emit("log");
  }

  /** Reads what was before this screen came, or after a rewind. */
  async readPast() {
    clearTimeout(this.asking);
    this.asking = null;
    const { exact } = this.history;
    const past = await ask(`/api/history?from=${exact}`);
    if (this.history.exact === exact) this.history.take(past);
    this.emit("past");
  }

  see(view) {
    const before = this.view;
    const isNew = before !== null && view.end === 0 && before.end > 0;
    if (isNew) this.forget();
    if (before !== null && view.branch !== before.branch) this.drop(view.now);
    else if (view.end < this.reached) this.drop(view.end);
    this.reached = view.end;
    this.view = view;
    this.seen = performance.now();
    this.history.record(view, this.room);
    if (view.revision !== this.room.revision && !this.isReading) this.readRoom().catch(() => {});
    // Pictures come a few times a second; what was in between is asked for now and then.
    if (view.now !== this.history.exact && this.asking === null && !document.hidden) {
      this.asking = setTimeout(() => this.readPast().catch(() => {}), view.running ? 1000 : 150);
    }
    this.emit("view");
  }

  /** Forgets what came after an instant: another way was taken. */
  drop(at) {
    this.history.cut(at);
    for (const [step, row] of this.log) if (row.at > at) this.log.delete(step);
    this.emit("log");
  }

  note({ rows }) {
    for (const row of rows) this.log.set(row.step, row);
    if (this.log.size > LOG_KEPT) {
      const old = [...this.log.keys()].sort((a, b) => a - b).slice(0, this.log.size - LOG_KEPT);
      for (const step of old) this.log.delete(step);
    }
    this.emit("log");
  }

  miss({ n }) {
    this.missed += n;
    // What came too fast is asked for when there is time.
    clearTimeout(this.reading);
    this.reading = setTimeout(() => this.readLog().catch(() => {}), 1500);
    this.emit("log");
  }

  reset() {
    this.voice.hush();
    this.moment = null;
    // The room has run there again, so it can tell of more than it had kept.
    this.history.exact = 0;
    this.emit("log");
  }

  connected(isConnected) {
    if (this.cut === !isConnected) return;
    this.cut = !isConnected;
    this.emit("you");
    if (this.view !== null) this.emit("view");
  }

  /** A machine that was started anew has other codes: whoever is let in no more is asked for one. */
  async knock() {
    await ask("/api/room").catch((error) => { if (error.status === 401) location.reload(); });
  }

  /** A row of the scenario, now. */
  async act(point, event) {
    const done = await this.tell("/api/act", { point, event });
    if (done !== null && !this.view.running && !/^(press|release) /.test(event)) {
      this.voice.say("paused", "the room has answered and stands again");
    }
    return done;
  }

  /** Runs, pauses, steps, goes back. */
  clock(order) {
    return this.tell("/api/clock", order);
  }

  /** Sends an order. Before the room goes back, what it leaves is read: it can be asked for no more. */
  async send(path, body) {
    if (path === "/api/clock" && body.to < this.now && this.history.exact < this.now) await this.readPast().catch(() => {});
    return tell(path, body);
  }

  /** Tells the server; what it refuses is said, with its hint. */
  async tell(path, body) {
    try {
      return await this.orders.give(path, body);
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.voice.say("refused", error.hint === "" ? error.message : `${error.message}: ${error.hint}`);
      return null;
    }
  }

  /** Looks at a moment in the diagram; null: follows the present again. */
  look(at) {
    this.moment = at === null ? null : Math.max(0, Math.round(at));
    this.emit("moment");
  }
}
