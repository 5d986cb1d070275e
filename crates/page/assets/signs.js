// The signs of the page: each a small drawing, told from the others by its shape.

import { draw } from "./dom.js";

function sign(name, ...parts) {
  return draw(`svg.sign.sign-${name}`, { viewBox: "0 0 20 20", width: 20, height: 20, "aria-hidden": "true", focusable: "false" }, ...parts);
}

const path = (d, classes = "line") => draw(`path.${classes.replaceAll(" ", ".")}`, { d });
const disc = (x, y, r, classes) => draw(`circle.${classes.replaceAll(" ", ".")}`, { cx: x, cy: y, r });

/** A verdict: a tick in a ring, a cross in a filled square, dots, an empty ring. */
export function verdictSign(verdict) {
  if (verdict === "held") return sign("held", disc(10, 10, 8, "ring"), path("M5.8 10.2l3 3.4 5.4-6.6"));
  if (verdict === "broken") return sign("broken", draw("rect.full", { x: 1, y: 1, width: 18, height: 18 }), path("M5.5 5.5l9 9m0-9l-9 9", "cross"));
  if (verdict === "pending") return sign("pending", disc(10, 10, 8, "ring"), disc(6.2, 10, 1.3, "dot"), disc(10, 10, 1.3, "dot"), disc(13.8, 10, 1.3, "dot"));
  return sign("untested", disc(10, 10, 8, "ring"));
}

/** An output or a source of a kind. */
export function kindSign(kind) {
  switch (kind) {
    case "light": return sign("light", draw("rect.line", { x: 2, y: 6, width: 16, height: 8 }), path("M2 6l16 8M18 6L2 14"));
    case "receptacle": return sign("receptacle", disc(10, 10, 8, "line"), path("M10 2v16M5 7.5v5M15 7.5v5"));
    case "contact": return sign("contact", disc(4, 13, 2, "line"), disc(16, 13, 2, "line"), path("M5.6 11.8L15 5"));
    case "occupancy": return sign("occupancy", disc(10, 10, 3, "full"), path("M3.6 5a8 8 0 0 0 0 10M16.4 5a8 8 0 0 1 0 10"));
    case "switch": return sign("switch", draw("rect.line", { x: 4, y: 1.5, width: 12, height: 17 }), path("M10 4.5l3 4H7zM10 15.5l3-4H7z"));
    case "card": return sign("card", draw("rect.line", { x: 2, y: 4, width: 16, height: 12, rx: 1.5 }), path("M2 8h16"));
    case "photo":
    case "daylight": return sign("daylight", disc(10, 10, 4, "line"), path("M10 1v3M10 16v3M1 10h3M16 10h3M3.6 3.6l2 2M14.4 14.4l2 2M16.4 3.6l-2 2M5.6 14.4l-2 2"));
    case "clock": return sign("clock", disc(10, 10, 8, "line"), path("M10 5v5l3.5 2.5"));
    case "fire-alarm": return sign("alarm", path("M10 2l8 15H2zM10 7.5v5M10 14.5v1"));
    default: return sign("signal", path("M11.5 1.5L4 11h5l-1 7.5L16 9h-5.5z"));
  }
}

/** A word of state, as a shape: full, half, hollow. */
export function stateSign(word) {
  const text = word.toLowerCase();
  if (/warn|grace|emerg/.test(text)) return sign("warning", path("M10 2l8 15H2z", "fullish"), path("M10 7.5v5M10 14.5v1", "cross"));
  if (/unknown|lost|no power|dead|stuck|fault/.test(text)) return sign("unknown", path("M10 1.5l8.5 8.5-8.5 8.5L1.5 10z", "line"), path("M10 6v5M10 13v1.5"));
  if (/setback|ramp|fade|dim/.test(text)) return sign("half", disc(10, 10, 7.5, "line"), path("M10 2.5a7.5 7.5 0 0 0 0 15z", "full"));
  if (/^(on|occupied|in|closed|normal|present|open hours|in hours)\b/.test(text)) return sign("full", disc(10, 10, 7.5, "full"));
  return sign("hollow", disc(10, 10, 7.5, "line"));
}

/** The mark of a key on a wall unit. */
export function keySign(name) {
  if (/\bup$|raise|\bon$/.test(name)) return sign("up", path("M10 3l7 13H3z", "full"));
  if (/\bdown$|lower|\boff$/.test(name)) return sign("down", path("M10 17L3 4h14z", "full"));
  return null;
}

/** A mark that turns open and shut. */
export function arrow() {
  return sign("arrow", path("M7 4l6 6-6 6"));
}
