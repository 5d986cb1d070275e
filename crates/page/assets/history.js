// What was: levels, states and timers of each point, as this screen saw them or was told.
//
// Invariants: entries of a point are in order of time; recording an instant again changes nothing;
// nothing is kept that the server has dropped.

/** Points of one list, at most: a screen that stays on for a week stays small. */
const MOST = 6000;

export class History {
  constructor() {
    this.points = new Map();
    this.rules = new Map();
    /** The last instant recorded from views. */
    this.last = -1;
    /** Up to where the server has told what was; after it, it was seen in pictures. */
    this.exact = 0;
  }

  point(name) {
    if (!this.points.has(name)) this.points.set(name, { light: [], states: [], timers: [], marks: [] });
    return this.points.get(name);
  }

  /** Takes what the server knows of the past, in place of what stands here up to there. */
  take(past) {
    for (const { name, light, states, timers, marks } of past.points) {
      const point = this.point(name);
      if (light) point.light = stepped(point.light, light, past.to);
      point.states = joined(point.states, states, past.to);
      const others = point.marks.filter(([at]) => at < past.from || at > past.to);
      point.marks = [...others, ...marks].sort(([a], [b]) => a - b).slice(-MOST);
      const told = new Set(timers.map((timer) => `${timer.name} ${timer.began}`));
      const untold = point.timers.filter((timer) => {
        if (told.has(`${timer.name} ${timer.began}`)) return false;
        // What the server did not tell of its own time was only guessed here.
        return timer.began > past.to || (timer.ended ?? Infinity) < past.from;
      });
      point.timers = [...untold, ...timers].sort((a, b) => a.began - b.began);
    }
    for (const { id, verdicts } of past.clauses ?? []) this.rules.set(id, joined(this.rules.get(id) ?? [], verdicts, past.to));
    this.exact = past.to;
    this.last = Math.max(this.last, past.to);
  }

  /** Records a picture of the present. */
  record(view, room) {
    const fresh = view.now >= this.last;
    if (!fresh) return;
    for (const output of view.outputs) {
      const dims = room.outputs.find((one) => one.name === output.name)?.dims ?? false;
      const point = this.point(output.name);
      this.bend(point, view.now, output.light, dims);
      this.word(point, view.now, output.state);
      this.clocks(point, view.now, output.timers);
    }
    for (const source of view.sources) {
      const point = this.point(source.name);
      this.word(point, view.now, source.state);
      this.clocks(point, view.now, source.timers);
    }
    for (const rule of view.clauses) this.rule(rule, view.now);
    this.last = view.now;
  }

  bend(point, at, light, ramps) {
    const list = point.light;
    const last = list.at(-1);
    if (last !== undefined && at < last[0]) return;
    if (last === undefined) {
      list.push([at, light]);
      return;
    }
    if (last[1] === light) {
      // Three equal ones in a row say no more than the outer two.
      if (list.length > 1 && list.at(-2)[1] === light) last[0] = at;
      else if (last[0] !== at) list.push([at, light]);
      return;
    }
    // What does not fade steps; what fades goes there in a straight line.
    if (!ramps || at - last[0] > 20_000) list.push([at, last[1]]);
    list.push([at, light]);
    if (list.length > MOST) list.splice(0, list.length - MOST);
  }

  word(point, at, state) {
    const last = point.states.at(-1);
    if (last !== undefined && (last[1] === state || at < last[0])) return;
    point.states.push([at, state]);
    if (point.states.length > MOST) point.states.shift();
  }

  clocks(point, now, running) {
    for (const timer of point.timers) {
      if (timer.how !== "running") continue;
      const still = running.find((one) => one.name === timer.name);
      if (still !== undefined && still.began === timer.began) {
        timer.ends = still.ends;
        continue;
      }
      if (still !== undefined && still.began <= timer.ends) {
        // Started again while it ran: one bar, as on paper.
        timer.again = [...(timer.again ?? []), still.began].slice(-200);
        timer.ends = still.ends;
        continue;
      }
      const elapsed = now >= timer.ends;
      timer.how = elapsed ? "elapsed" : "stopped";
      timer.ended = elapsed ? timer.ends : now;
    }
    for (const one of running) {
      const known = point.timers.some((timer) => timer.how === "running" && timer.name === one.name);
      if (!known) point.timers.push({ name: one.name, began: one.began, ends: one.ends, ended: null, how: "running" });
    }
    if (point.timers.length > MOST / 4) point.timers.shift();
  }

  rule({ id, verdict, since }, now) {
    if (!this.rules.has(id)) this.rules.set(id, []);
    const list = this.rules.get(id);
    const at = Math.min(since ?? now, now);
    const last = list.at(-1);
    if (last !== undefined && last[1] === verdict && last[0] === at) return;
    if (last !== undefined && at < last[0]) return;
    list.push([at, verdict]);
    if (list.length > 400) list.shift();
  }

  /** Forgets what came after an instant. */
  cut(at) {
    for (const point of this.points.values()) {
      const value = lightAt(point.light, at);
      point.light = point.light.filter(([when]) => when <= at);
      if (value !== null) point.light.push([at, value]);
      point.states = point.states.filter(([when]) => when <= at);
      point.marks = point.marks.filter(([when]) => when <= at);
      point.timers = point.timers.filter((timer) => timer.began <= at);
      for (const timer of point.timers) {
        if (timer.ended !== null && timer.ended > at) {
          timer.ended = null;
          timer.how = "running";
        }
      }
    }
    for (const [id, list] of this.rules) this.rules.set(id, list.filter(([when]) => when <= at));
    this.last = at;
    this.exact = Math.min(this.exact, at);
  }

  /** Every instant at which something that is drawn changed, in order. */
  changes() {
    const all = new Set();
    for (const point of this.points.values()) {
      for (const [at] of point.states) all.add(at);
      for (const timer of point.timers) {
        all.add(timer.began);
        if (timer.ended !== null) all.add(timer.ended);
      }
    }
    for (const list of this.rules.values()) for (const [at] of list) all.add(at);
    return [...all].sort((a, b) => a - b);
  }

  lightAt(name, at) {
    return lightAt(this.points.get(name)?.light ?? [], at);
  }

  stateAt(name, at) {
    return (this.points.get(name)?.states ?? []).findLast(([when]) => when <= at)?.[1] ?? null;
  }
}

/** What the server told, between what was known before it and what was seen after it. */
function joined(known, told, to) {
  if (told.length === 0) return known.filter(([at]) => at > to);
  const before = known.filter(([at]) => at < told[0][0]);
  const end = Math.max(to, told.at(-1)[0]);
  return [...before, ...told, ...known.filter(([at]) => at > end)];
}

/** The same for levels: what is known of later is no ramp that began where the server's words end. */
function stepped(known, told, to) {
  const list = joined(known, told, to);
  const next = list.findIndex(([at]) => at > Math.max(to, told.at(-1)?.[0] ?? 0));
  if (next > 0 && list[next - 1][1] !== list[next][1]) list.splice(next, 0, [list[next][0], list[next - 1][1]]);
  return list;
}

function lightAt(list, at) {
  const next = list.findIndex(([when]) => when > at);
  if (next === 0 || list.length === 0) return null;
  if (next < 0) return list.at(-1)[1];
  const [[from, low], [to, high]] = [list[next - 1], list[next]];
  return low + ((high - low) * (at - from)) / (to - from);
}
