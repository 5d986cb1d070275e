// The states of the page that are audited and photographed, and how to come to each.

import { becomes, lit, pause, press, runAt, state, until, wallClock } from "./bench.mjs";

/** Phone, tablet, desk; the checks of the edges go up to a projector. */
export const WIDTHS = [[360, 740], [800, 1000], [1440, 900]];

const key = (page, name) => page.getByRole("button", { name, exact: true });

/** Gives orders to the page's room from its own page, faster than hands. */
const order = (page, path, body) => page.evaluate(async ([to, what]) => {
  const answer = await fetch(to, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(what) });
  if (!answer.ok) throw new Error(`${to}: ${await answer.text()}`);
}, [path, body]);

/** Has the room come to a moment, in seconds, as fast as it can; it stands there. */
async function comeTo(page, seconds) {
  await order(page, "/api/clock", { to: seconds * 1000 });
  await until("the moment is shown", () => wallClock(page), (now) => now >= 8 * 3600 + seconds);
}

async function occupied(page) {
  await runAt(page, 1);
  await page.locator(".person").first().click();
  await press(page, "Types");
  await lit(page, "desk-lights", (now) => now === 50);
}

/** A lesson of our own, so that those of the annex may change. */
export const LESSON = {
  "a-first-lesson.toml": `title = "Who turns the receptacle on?"
start = "2026-03-02 08:00"
rows = [
  ["08:01", "ana", "enters"],
  ["08:02", "desk-outlet", "is on"],
]

[lesson]
order = 901
goal = "To see what a role does."

[[steps]]
at = "start"
says = "This is Office 112. Nobody is there yet, and nobody has touched a button."

[[steps]]
at = "08:00:30"
says = "In half a minute Ana comes in and sits down."
asks = "What will the receptacle do?"
choices = ["It stays off", "It turns on by itself", "It waits for the button"]
right = "It turns on by itself"
because = "Its link to the sensor is auto-on."

[[steps]]
at = "08:02"
says = "The lights came on to half, the receptacle as a whole."
`,
};

/** A room of our own that is larger than any of the annex. */
export const FIFTY = {
  "room.toml": `name = "Fifty"
time-zone = "Europe/London"
[outputs.light]
drive = "0-10 V"
copies = 50
[sources.sensor]
kind = "occupancy"
copies = 50
[[links]]
from = "sensor"
to = "light"
role = "auto-on"
`,
};

async function lessonTo(page, question) {
  await press(page, "Lessons");
  await page.getByRole("dialog").getByRole("button", { name: /Who turns the receptacle on/ }).click();
  await page.locator("#lesson").getByText(/Nobody is there yet/).waitFor();
  if (!question) return;
  await press(page, "Go on");
  // A lesson takes some seconds from one step to the next; nobody reads along here.
  await comeTo(page, 30);
  await page.getByText("What will the receptacle do?").first().waitFor();
}

/** Each state: its room, and how to come there. One that is `like` another has all its parts there, where they are audited. */
export const STATES = {
  "as it opens": { room: "private-office", enter: async () => {} },
  "somebody works, and why": {
    room: "private-office",
    enter: async (page) => {
      await occupied(page);
      await pause(page);
      await comeTo(page, 400);
      await page.locator("#card-desk-lights button.why").click();
      await page.locator("#card-desk-lights .causes").waitFor();
    },
  },
  "back in time": {
    room: "private-office",
    like: "back in time, and why",
    enter: async (page) => {
      await occupied(page);
      await key(page, "up, wall-button").click();
      await lit(page, "desk-lights", (now) => now === 100);
      await pause(page);
      await comeTo(page, 3601);
      await page.locator(".slider").focus();
      for (let times = 0; times < 4; times += 1) await page.keyboard.press("PageDown");
      await page.locator(".how", { hasText: "ahead" }).waitFor();
      await page.getByRole("button", { name: "Change before" }).click();
    },
  },
  "back in time, and why": {
    room: "private-office",
    enter: async (page) => {
      await occupied(page);
      await pause(page);
      await comeTo(page, 1800);
      await order(page, "/api/clock", { to: 20 * 60 * 1000 });
      await page.locator(".how", { hasText: "ahead" }).waitFor();
      await page.locator("#card-desk-outlet button.why").click();
      await page.locator("#card-desk-outlet .causes button.moment").last().click();
      await page.getByText(/^At 08:0.* ago: /).waitFor();
    },
  },
  "another way": {
    room: "private-office",
    like: "somebody works, and why",
    enter: async (page) => {
      await occupied(page);
      await pause(page);
      await comeTo(page, 1800);
      await order(page, "/api/clock", { to: 5 * 60 * 1000 });
      await page.locator(".how", { hasText: "ahead" }).waitFor();
      await key(page, "down, wall-button").click();
      await becomes(page, "desk-lights", "off");
    },
  },
  "running": {
    room: "three-offices",
    enter: async (page) => {
      await runAt(page, 60);
      await press(page, "motion at sensor-201");
      await becomes(page, "air-terminal", "closed");
    },
  },
  "a key held": {
    room: "private-office",
    enter: async (page) => {
      await occupied(page);
      await key(page, "up, wall-button").focus();
      await page.keyboard.down("Space");
      await lit(page, "desk-lights", (now) => now === 100);
    },
  },
  "a person's menu": {
    room: "private-office",
    enter: async () => {},
    again: async (page) => {
      await page.keyboard.press("Escape");
      await page.locator(".person").first().click();
      await page.locator("#person-menu").waitFor();
    },
  },
  settings: { room: "private-office", enter: (page) => press(page, "Settings") },
  "a setting turned, and one refused": {
    room: "private-office",
    enter: async (page) => {
      await press(page, "Settings");
      const delay = page.locator("form.setting", { hasText: /^time-delay/ }).first();
      await delay.locator("input").fill("5 min");
      await delay.getByRole("button").click();
      await delay.getByText("set to 5 min").waitFor();
      const level = page.locator("form.setting", { hasText: /^level/ }).first();
      await level.locator("input").fill("soon");
      await level.getByRole("button").click();
      await level.locator(".told[data-bad]").waitFor();
    },
  },
  save: {
    room: "private-office",
    enter: async (page) => {
      await occupied(page);
      await press(page, "Save");
      await press(page, "Write the scenario");
      await page.locator("pre.toml").waitFor();
    },
  },
  load: { room: "private-office", enter: (page) => press(page, "Load") },
  share: { room: "private-office", enter: (page) => press(page, "Share") },
  "a code is asked": { room: "private-office", stranger: true, enter: async () => {} },
  "a code is refused": {
    room: "private-office",
    stranger: true,
    enter: async (page) => {
      await page.getByLabel(/code/i).fill("guessed");
      await page.keyboard.press("Enter");
      await page.getByText(/This code lets nobody in/).waitFor();
    },
  },
  "nobody answers": {
    room: "private-office",
    enter: async (page, room) => {
      await occupied(page);
      await room.stop();
      await page.getByText(/does not answer/).first().waitFor();
    },
  },
  "fifty sensors": {
    room: "fifty",
    files: FIFTY,
    enter: async (page) => {
      await runAt(page, 1);
      await press(page, "motion at sensor-7");
      await becomes(page, "light-7", "on");
    },
  },
  "lessons": { room: "private-office", enter: (page) => press(page, "Lessons") },
  "watching": { room: "private-office", watches: true, enter: async () => {} },
  "a card and five outputs": {
    room: "guest-room",
    enter: async (page) => {
      await runAt(page, 1);
      await press(page, "Put the card in");
      await becomes(page, "entry-light", "on");
      await pause(page);
      await comeTo(page, 400);
    },
  },
  "a wall unit of eight keys": {
    room: "conference-room",
    enter: async (page) => {
      await runAt(page, 1);
      await key(page, "film, door-unit").click();
      await becomes(page, "wall-wash", "on");
    },
  },
  "a broken clause": {
    room: "private-office",
    scenario: "auto-on-to-full-in-an-office.toml",
    enter: async (page) => {
      await runAt(page, 600);
      await page.locator('.clause[data-verdict="broken"]').first().waitFor();
      await pause(page);
    },
  },
  "a lesson tells": { room: "private-office", files: LESSON, enter: (page) => lessonTo(page, false) },
  "a lesson asks": { room: "private-office", files: LESSON, enter: (page) => lessonTo(page, true) },
  "a lesson answered": {
    room: "private-office",
    files: LESSON,
    enter: async (page) => {
      await lessonTo(page, true);
      await page.getByLabel("It stays off").check();
      await press(page, "Answer");
      await page.getByText("Not so.").waitFor();
    },
  },
  "four aisles": {
    room: "warehouse",
    enter: async (page) => {
      await runAt(page, 1);
      await press(page, "motion at aisle-sensor-1");
      await lit(page, "aisle-1", (now) => now === 100);
    },
  },
  "an egress corridor": {
    room: "corridor",
    enter: async (page) => {
      await runAt(page, 1);
      await press(page, "motion at north-sensor");
      await press(page, "lost at normal-power");
      await lit(page, "corridor-lights", (now) => now === 100);
    },
  },
  "daylight on three rows": {
    room: "open-office",
    enter: async (page) => {
      await runAt(page, 1);
      await press(page, "motion at ceiling-sensor");
      await becomes(page, "inner-lights", "on");
      const slider = page.locator("#daylight");
      await slider.focus();
      for (let times = 0; times < 8; times += 1) await page.keyboard.press("PageUp");
      await pause(page);
      await comeTo(page, 300);
    },
  },
};

const MINUTE = 60_000;

async function play(page, deeds) {
  for (const [at, point, event] of deeds) {
    await order(page, "/api/clock", { to: Math.round(at * MINUTE) });
    if (point) await order(page, "/api/act", { point, event });
  }
  await page.waitForTimeout(1800);
}

/** The two pictures of README. */
export const SHOWN = {
  "live-office": {
    room: "private-office", width: 1280, height: 640, scheme: "light", through: "#times",
    enter: async (page) => {
      await play(page, [[2, "ana", "enters"], [2.1, "ana", "types"], [9, "wall-button", "tap up"], [26, "ana", "leaves"], [33]]);
      await page.locator(".run").evaluate((button) => button.blur());
    },
  },
  "live-guest-room": {
    room: "guest-room", width: 390, height: 700, scheme: "dark", through: "#plan",
    enter: (page) => play(page, [[0.1, "card-reader", "card in"], [2, "bed-unit", "tap night"], [3, "bath-sensor", "motion"], [4]]),
  },
};

export { state };
