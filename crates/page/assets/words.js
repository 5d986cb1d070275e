// Times, spans, shares and names as the page says them.

const SECOND = 1000;
const MINUTE = 60 * SECOND;
const HOUR = 60 * MINUTE;
const DAY = 24 * HOUR;

/** "50 %", from a share of one. */
export function percent(share) {
  const value = share * 100;
  const rounded = value > 0 && value < 1 ? 1 : Math.round(value);
  return `${rounded}\u202f%`;
}

/** "4 min 05 s": a span, in its two largest units. */
export function span(ms) {
  const whole = Math.max(0, ms);
  if (whole < 10 * SECOND) return `${(Math.ceil(whole / 100) / 10).toFixed(1)} s`;
  const seconds = Math.ceil(whole / SECOND);
  if (seconds < 60) return `${seconds} s`;
  const minutes = Math.floor(seconds / 60);
  if (minutes < 60) return two(minutes, "min", seconds % 60, "s");
  const hours = Math.floor(minutes / 60);
  if (hours < 24) return two(hours, "h", minutes % 60, "min");
  return two(Math.floor(hours / 24), "d", hours % 24, "h");
}

function two(many, unit, few, small) {
  return few === 0 ? `${many} ${unit}` : `${many} ${unit} ${String(few).padStart(2, "0")} ${small}`;
}

/** A span that was set, "15 min": no zeros, no more than needed. */
export function setSpan(ms) {
  for (const [size, unit] of [[DAY, "d"], [HOUR, "h"], [MINUTE, "min"], [SECOND, "s"]]) {
    if (ms >= size && ms % size === 0) return `${ms / size} ${unit}`;
  }
  return ms < SECOND ? `${ms} ms` : span(ms);
}

/** Reads the clock on the wall of the room at instants since the start. */
export class Calendar {
  constructor(start, zone) {
    this.start = Date.parse(start);
    let good = zone;
    try {
      new Intl.DateTimeFormat("en-GB", { timeZone: zone });
    } catch {
      good = "UTC";
    }
    const make = (options) => new Intl.DateTimeFormat("en-GB", { timeZone: good, hourCycle: "h23", ...options });
    this.clock = make({ hour: "2-digit", minute: "2-digit", second: "2-digit" });
    this.short = make({ hour: "2-digit", minute: "2-digit" });
    this.date = make({ weekday: "short", day: "numeric", month: "short" });
  }

  /** "08:00:00". */
  time(at) {
    return this.clock.format(this.start + at);
  }

  /** "08:00:00.110", where the thousandths are not all nothing. */
  exact(at) {
    const ms = (((this.start + at) % SECOND) + SECOND) % SECOND;
    return ms === 0 ? this.time(at) : `${this.time(at)}.${String(ms).padStart(3, "0")}`;
  }

  /** "08:00", or "08:00:05" where the seconds matter. */
  label(at, seconds) {
    return seconds ? this.time(at) : this.short.format(this.start + at);
  }

  /** "Mon 2 Mar". */
  day(at) {
    return this.date.format(this.start + at).replace(",", "");
  }

  /** Milliseconds since midnight at an instant, for round ticks. */
  sinceMidnight(at) {
    const [hours, minutes, seconds] = this.clock.format(this.start + at).split(":").map(Number);
    const ms = (((this.start + at) % SECOND) + SECOND) % SECOND;
    return hours * HOUR + minutes * MINUTE + seconds * SECOND + ms;
  }
}

/** A speed as a trainer says it. */
export function speedWords(speed) {
  const known = {
    1: "×1, as it is",
    10: "×10",
    60: "×60, a minute a second",
    600: "×600, ten minutes a second",
    3600: "×3600, an hour a second",
  };
  return known[speed] ?? `×${speed}`;
}

/** Energy with a sensible number of digits. */
export function energy(wh) {
  if (wh < 10) return `${wh.toFixed(2)} Wh`;
  if (wh < 1000) return `${wh.toFixed(1)} Wh`;
  return `${(wh / 1000).toFixed(2)} kWh`;
}

/** A number of lux: more digits would be pretended. */
export function lux(value) {
  return `${value >= 100 ? Math.round(value / 10) * 10 : Math.round(value)} lx`;
}

/** "1 clause", "3 clauses". */
export function count(number, one, many) {
  return `${number} ${number === 1 ? one : many}`;
}

/** The first letter large, as a sentence begins. */
export function sentence(words) {
  return words.charAt(0).toUpperCase() + words.slice(1);
}
