// Makes and changes nodes of the page.
//
// Invariant: a node is touched only when what it shows has changed, so that focus, selection and
// screen readers are left in peace.

const SVG = "http://www.w3.org/2000/svg";

/** Makes an element: `make("button.key", { type: "button", onclick }, "Up")`. */
export function make(what, properties = {}, ...children) {
  const [name, ...classes] = what.split(".");
  const node = document.createElement(name);
  return fill(node, classes, properties, children);
}

/** Makes a node of a drawing. */
export function draw(what, properties = {}, ...children) {
  const [name, ...classes] = what.split(".");
  const node = document.createElementNS(SVG, name);
  return fill(node, classes, properties, children);
}

function fill(node, classes, properties, children) {
  if (classes.length > 0) node.setAttribute("class", classes.join(" "));
  for (const [key, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (key.startsWith("on")) node.addEventListener(key.slice(2), value);
    else node.setAttribute(key, value === true ? "" : value);
  }
  for (const child of children.flat()) {
    if (child !== null && child !== undefined && child !== false) node.append(child);
  }
  return node;
}

/** Puts words into a node, if they are others than before. */
export function say(node, words) {
  const text = words ?? "";
  if (node.textContent !== text) node.textContent = text;
}

/** Sets an attribute, or takes it away with null and false. */
export function mark(node, name, value) {
  if (value === null || value === undefined || value === false) {
    if (node.hasAttribute(name)) node.removeAttribute(name);
    return;
  }
  const text = value === true ? "" : String(value);
  if (node.getAttribute(name) !== text) node.setAttribute(name, text);
}

/** Sets a custom property of a node, which the style sheet reads. */
export function gauge(node, name, value) {
  const text = String(value);
  if (node.style.getPropertyValue(name) !== text) node.style.setProperty(name, text);
}

/**
 * Keeps the children of `parent` in step with `items`: made once for each key, changed in place,
 * moved only where their order has changed.
 */
export function keep(parent, items, keyOf, create, change) {
  const known = (parent.kept ??= new Map());
  const seen = new Set();
  let before = null;
  for (const item of items) {
    const key = keyOf(item);
    seen.add(key);
    let node = known.get(key);
    if (node === undefined) {
      node = create(item);
      known.set(key, node);
    }
    const place = before === null ? parent.firstChild : before.nextSibling;
    if (node !== place) parent.insertBefore(node, place);
    change?.(node, item);
    before = node;
  }
  for (const [key, node] of known) {
    if (!seen.has(key)) {
      node.remove();
      known.delete(key);
    }
  }
}

/** Forgets what `keep` made there. */
export function clear(parent) {
  parent.kept = undefined;
  parent.replaceChildren();
}

/** Whether somebody asked for less movement. */
export function calm() {
  return matchMedia("(prefers-reduced-motion: reduce)").matches;
}
