// People on the plan: dragged from place to place, or sent by a menu.
//
// Invariant: whatever a pointer can do here, the keyboard can do from the person's menu.

import { keep, make, mark, say } from "./dom.js";
import { sentence } from "./words.js";

const FIGURE = 44;

export function peopleOn(bench, parent) {
  let plan = null;
  const menu = make("div.person-menu", { popover: "auto", id: "person-menu", role: "group" });
  parent.after(menu);

  const open = (name, from) => {
    fillMenu(bench, menu, name);
    menu.showPopover();
    const box = from.getBoundingClientRect();
    const { width, height } = menu.getBoundingClientRect();
    const left = Math.max(8, Math.min(innerWidth - width - 8, box.left + box.width / 2 - width / 2));
    const below = box.bottom + 6 + height < innerHeight;
    menu.style.setProperty("left", `${left}px`);
    menu.style.setProperty("top", `${below ? box.bottom + 6 : Math.max(8, box.top - height - 6)}px`);
    menu.querySelector("button")?.focus();
    menu.from = from;
  };
  menu.addEventListener("toggle", (event) => {
    if (event.newState === "closed" && menu.contains(document.activeElement)) menu.from?.focus();
  });
  menu.addEventListener("keydown", (event) => walkButtons(event, menu));

  const show = () => {
    if (plan === null || bench.view === null) return;
    const seats = seatsOf(bench, plan);
    keep(parent, bench.view.people, (person) => person.name,
      (person) => figure(bench, person.name, open, () => plan),
      (node, person) => {
        const seat = seats.get(person.name);
        if (!node.classList.contains("dragged")) stand(node, seat);
        mark(node, "data-in", person.in_room);
        mark(node, "aria-disabled", !bench.drives);
        const where = person.in_room ? (person.place ? `at ${person.place}` : "in the room") : "outside";
        say(node.querySelector(".who"), person.name);
        say(node.querySelector(".doing"), person.in_room ? (person.doing ?? "") : "");
        say(node.querySelector(".where"), ` ${where} `);
      });
  };
  return { place: (next) => { plan = next; show(); }, show };
}

function stand(node, { x, y }) {
  node.style.setProperty("--x", `${Math.round(x - FIGURE / 2)}px`);
  node.style.setProperty("--y", `${Math.round(y - FIGURE / 2)}px`);
}

/** Where each person stands: at a place, somewhere in the room, or before the door. */
function seatsOf(bench, plan) {
  const seats = new Map();
  const at = new Map();
  for (const person of bench.view.people) {
    const spot = person.in_room ? plan.spots.find((one) => one.kind === "place" && one.name === person.place) : null;
    const key = person.in_room ? (spot?.name ?? "room") : "porch";
    const nth = at.get(key) ?? 0;
    at.set(key, nth + 1);
    if (!person.in_room) {
      const { x, y } = plan.porch;
      seats.set(person.name, { x: x + 110 + nth * 84, y: y + 36 });
    } else if (spot) {
      seats.set(person.name, { x: spot.x + nth * 40, y: spot.y + (spot.isLabelAbove ? 6 : -26) });
    } else {
      const { x, y, width, height } = plan.box;
      seats.set(person.name, { x: x + width / 2 + nth * 60, y: y + height / 2 });
    }
  }
  return seats;
}

function figure(bench, name, open, planNow) {
  const node = make("button.person", { type: "button" },
    make("span.head", { "aria-hidden": "true" }), make("span.who"), make("span.where.unseen"), make("span.doing"));
  let start = null;
  node.addEventListener("pointerdown", (event) => {
    if (!bench.drives || event.button !== 0) return;
    start = { x: event.clientX, y: event.clientY, moved: false };
    node.setPointerCapture(event.pointerId);
  });
  node.addEventListener("pointermove", (event) => {
    if (start === null) return;
    const [dx, dy] = [event.clientX - start.x, event.clientY - start.y];
    if (!start.moved && Math.hypot(dx, dy) < 6) return;
    start.moved = true;
    node.classList.add("dragged");
    const box = node.parentElement.getBoundingClientRect();
    stand(node, { x: event.clientX - box.left, y: event.clientY - box.top });
  });
  const drop = (event, counts) => {
    const moved = start?.moved;
    start = null;
    node.classList.remove("dragged");
    if (!moved) return;
    node.wasDragged = true;
    setTimeout(() => { node.wasDragged = false; }, 0);
    if (!counts) return;
    const box = node.parentElement.getBoundingClientRect();
    const deed = dropAt(bench, planNow(), name, event.clientX - box.left, event.clientY - box.top);
    if (deed !== null) send(bench, name, deed);
    else bench.emit("view");
  };
  node.addEventListener("pointerup", (event) => drop(event, true));
  node.addEventListener("pointercancel", (event) => drop(event, false));
  node.addEventListener("click", () => {
    if (!bench.drives || node.wasDragged) return;
    open(name, node);
  });
  return node;
}

/** What it means to be put down here. */
function dropAt(bench, plan, name, x, y) {
  const person = bench.view.people.find((one) => one.name === name);
  const { box } = plan;
  const inside = x > box.x && x < box.x + box.width && y > box.y && y < box.y + box.height;
  if (!inside) return person.in_room ? "leaves" : null;
  const spots = plan.spots.filter((spot) => spot.kind === "place");
  const near = spots.toSorted((a, b) => Math.hypot(a.x - x, a.y - y) - Math.hypot(b.x - x, b.y - y))[0];
  if (near === undefined) return person.in_room ? null : "enters";
  if (person.in_room && person.place === near.name) return null;
  return `walks to ${near.name}`;
}

async function send(bench, name, event) {
  const done = await bench.act(name, event);
  if (done !== null) bench.voice.say(name, `${name} ${event}`);
  else bench.emit("view");
}

function fillMenu(bench, menu, name) {
  const person = bench.view.people.find((one) => one.name === name);
  const words = bench.room.words.person;
  const choose = (event) => () => {
    menu.hidePopover();
    send(bench, name, event);
  };
  const button = (event, said) => make("button", { type: "button", onclick: choose(event) }, said ?? sentence(event));
  const places = bench.room.places
    .filter((place) => !(person.in_room && person.place === place.name))
    .map((place) => button(`walks to ${place.name}`, `To ${place.name}`));
  const deeds = words
    .filter((event) => !event.startsWith("walks") && (event !== "leaves" || person.in_room) && (event !== "enters" || !person.in_room))
    .map((event) => button(event));
  mark(menu, "aria-label", `What ${name} does`);
  menu.replaceChildren(
    make("p.menu-title", {}, name),
    ...(places.length > 0 ? [make("div.menu-group", { role: "group", "aria-label": "Where" }, places)] : []),
    make("div.menu-group", { role: "group", "aria-label": "What" }, deeds),
  );
}

/** Arrow keys walk through a menu's buttons. */
function walkButtons(event, menu) {
  const step = { ArrowDown: 1, ArrowRight: 1, ArrowUp: -1, ArrowLeft: -1 }[event.key];
  if (step === undefined) return;
  const buttons = [...menu.querySelectorAll("button")];
  const here = buttons.indexOf(document.activeElement);
  buttons[(here + step + buttons.length) % buttons.length]?.focus();
  event.preventDefault();
}
