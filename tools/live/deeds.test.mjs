// What somebody does at the page, and what the room makes of it.

import assert from "node:assert/strict";
import { execFile } from "node:child_process";
import { readFile, writeFile } from "node:fs/promises";
import path from "node:path";
import { after, before, describe, test } from "node:test";
import { promisify } from "node:util";

import { BINARY, Room, becomes, browser, card, level, lit, moments, pause, press, runAt, state, until, visit, wallClock } from "./bench.mjs";
import { FIFTY, LESSON } from "./states.mjs";

let chrome;
before(async () => { chrome = await browser(); });
after(() => chrome.close());

const deeds = [];

/** One room and one page for a test; what the page complained of fails it. */
function inRoom(name, what, options, body) {
  deeds.push([what, async () => {
    const room = await Room.open(name, options);
    try {
      const page = await visit(chrome, room, options);
      await body(page, room);
      assert.deepEqual(page.complaints, [], "the page complained");
    } finally {
      await room.close();
    }
  }]);
}

/** The room runs as it is, and somebody moves before the sensor. */
async function somebodyMoves(page) {
  await runAt(page, 1);
  await press(page, "motion at wall-sensor");
  await lit(page, "desk-lights", (now) => now === 50);
}

const key = (page, name) => page.getByRole("button", { name, exact: true });

/** A ramp so slow that somebody who looks now and then sees it on its way. */
const SLOW_RAMP = { "room.toml": `${await readFile(new URL("../../scenarios/private-office/room.toml", import.meta.url), "utf8")}
[controllers.room-controller]
ramp = "30 s"
` };

inRoom("private-office", "a key that is held dims, with a finger and with the space bar, and a tap switches off", { files: SLOW_RAMP }, async (page) => {
  await somebodyMoves(page);
  const down = key(page, "down, wall-button");
  await down.scrollIntoViewIfNeeded();
  const box = await down.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  const dimmed = await lit(page, "desk-lights", (now) => now <= 45);
  await page.mouse.up();
  assert.ok(dimmed >= 10, `still alight at ${dimmed} %`);
  assert.equal(await state(page, "desk-lights"), "on");
  await until("the key is up", () => down.getAttribute("data-down"), (it) => it === null);
  const settled = await level(page, "desk-lights");

  await key(page, "up, wall-button").focus();
  await page.keyboard.down("Space");
  await lit(page, "desk-lights", (now) => now >= settled + 5);
  await page.keyboard.up("Space");
  await until("the key is up", () => key(page, "up, wall-button").getAttribute("data-down"), (it) => it === null);
  const raised = await level(page, "desk-lights");
  assert.ok(raised < 100, `let go at ${raised} %`);

  await down.click();
  await becomes(page, "desk-lights", "off");
});

inRoom("private-office", "what is done while the clock stands is answered at once, and then it stands again", {}, async (page) => {
  await page.locator(".how", { hasText: /^paused/ }).waitFor();
  await press(page, "motion at wall-sensor");
  await becomes(page, "desk-lights", "on");
  assert.equal(await page.locator(".how").innerText(), "paused");
  // By hand the tap takes its time, and what comes of it is seen as well; a slow way to the room makes no hold of it.
  await page.route("**/api/clock", async (route) => {
    await new Promise((resolve) => setTimeout(resolve, 900));
    await route.continue();
  });
  await key(page, "down, wall-button").focus();
  await page.keyboard.press("Enter");
  await becomes(page, "desk-lights", "off");
  await page.locator(".how", { hasText: /^paused$/ }).waitFor();
  assert.ok(await wallClock(page) - 8 * 3600 < 60, "the room has not run on");
});

inRoom("private-office", "a noise is set with the keyboard, holds the light, ends, and is saved as one row", {}, async (page) => {
  const noise = page.getByRole("slider", { name: "Noise at wall-sensor" });
  assert.equal(await noise.getAttribute("aria-valuetext"), "quiet");
  await press(page, "motion at wall-sensor");
  await becomes(page, "desk-lights", "on");
  await noise.focus();
  await page.keyboard.press("End");
  await until("it is noisy", () => noise.getAttribute("aria-valuetext"), (words) => words === "a sound every 10 seconds");
  await runAt(page, 600);
  await until("half an hour", () => wallClock(page), (now) => now > 8.5 * 3600);
  await pause(page);
  assert.equal(await state(page, "desk-lights"), "on");
  assert.equal(await noise.getAttribute("aria-valuetext"), "a sound every 10 seconds");
  await noise.focus();
  await page.keyboard.press("Home");
  await until("it is quiet", () => noise.getAttribute("aria-valuetext"), (words) => words === "quiet");
  await press(page, "Save");
  await press(page, "Write the scenario");
  await page.getByText(/run once: held/).waitFor();
  assert.match(await page.locator("pre.toml").innerText(), /08:00:00\.\d+ to .* every 10 s", +"wall-sensor", "sound"/);
});

inRoom("private-office", "a timer is a bar that shrinks and says what its end brings, and steps lead there; a clause comes to be held", {}, async (page) => {
  const clause = page.locator("li", { hasText: "Whoever comes finds the lights on" });
  await clause.getByText("not put to the test yet").waitFor();
  await press(page, "motion at wall-sensor");
  await becomes(page, "wall-sensor", "occupied");
  const timer = card(page, "wall-sensor").locator("li.timer", { hasText: "time delay" });
  const width = () => timer.locator(".timer-fill").boundingBox().then((box) => box?.width ?? 0);
  const full = await until("the bar stands there", width);
  assert.match(await timer.locator(".timer-then").innerText(), /08:15:00.*vacant/);
  await runAt(page, 600);
  await until("half of it is over", wallClock.bind(null, page), (now) => now > 8 * 3600 + 7 * 60);
  await pause(page);
  const left = await width();
  assert.ok(left < full * 0.6, `${left} px are left of ${full}`);
  await clause.getByText(/held, since 08:00:00/).waitFor();
  // From event to event, and not a moment in between.
  const stepped = [];
  while (await state(page, "wall-sensor") !== "vacant" && stepped.length < 8) {
    const before = await page.locator(".time").innerText();
    await press(page, "Step to the next event");
    await until("a step further", () => page.locator(".time").innerText(), (now) => now !== before);
    stepped.push(await wallClock(page) - 8 * 3600);
  }
  assert.equal(await state(page, "wall-sensor"), "vacant");
  assert.equal(stepped.at(-1), 15 * 60, `by ${stepped.join(", ")} s`);
  assert.equal(await timer.count(), 0, "the bar is gone");
});

inRoom("open-office", "light from outside is set with its slider, dims the row by the window, and is saved", {}, async (page) => {
  const daylight = page.getByRole("slider", { name: "Daylight outside" });
  assert.equal(await daylight.getAttribute("aria-valuetext"), "0 lx");
  await press(page, "motion at ceiling-sensor");
  await becomes(page, "primary-lights", "on");
  await daylight.focus();
  await page.keyboard.press("End");
  await until("it is bright outside", () => daylight.getAttribute("aria-valuetext"), (words) => words === "100000 lx");
  await runAt(page, 60);
  await lit(page, "primary-lights", (now) => now === 10);
  assert.equal(await level(page, "inner-lights"), 50, "the inner row has no daylight to spare");
  await pause(page);
  await press(page, "Save");
  await press(page, "Write the scenario");
  await page.getByText(/run once: held/).waitFor();
  assert.match(await page.locator("pre.toml").innerText(), /"room", +"daylight 100000 lx"/);
});

inRoom("private-office", "walking out ends in the dark after the delay, at ×600", {}, async (page) => {
  await runAt(page, 1);
  await page.locator(".person").click();
  await press(page, "Enters");
  await lit(page, "desk-lights", (now) => now === 50);
  const left = await wallClock(page);
  // Out of the door: dragged from the desk to the strip outside. To hover waits until she stands still.
  await page.locator(".person").hover({ position: { x: 22, y: 12 } });
  const porch = await page.locator("rect.porch").boundingBox();
  await page.mouse.down();
  await page.mouse.move(porch.x + 160, porch.y + 40, { steps: 8 });
  await page.mouse.up();
  await until("outside", () => page.locator(".person .where").textContent(), (it) => /outside/.test(it));
  await runAt(page, 600);
  await becomes(page, "desk-lights", "off");
  await pause(page);
  const dark = await wallClock(page);
  assert.ok(dark - left >= 15 * 60, `dark only after ${dark - left} s`);
  await card(page, "desk-lights").getByRole("button", { name: /Why/ }).click();
  await card(page, "desk-lights").getByText(/time delay of wall-sensor ended/).first().waitFor();
  // And in again: put down at the desk she goes there, and is seen.
  await runAt(page, 1);
  await page.locator(".person").hover({ position: { x: 22, y: 12 } });
  const desk = await page.locator("g.spot-place", { hasText: "desk" }).locator("path.seat").boundingBox();
  await page.mouse.down();
  await page.mouse.move(desk.x + desk.width / 2, desk.y + desk.height / 2, { steps: 8 });
  await page.mouse.up();
  await until("at the desk", () => page.locator(".person .where").textContent(), (it) => /desk/.test(it));
  await becomes(page, "desk-lights", "on");
});

inRoom("guest-room", "pulling the card darkens the guest room after 30 s", {}, async (page) => {
  await runAt(page, 1);
  await press(page, "Put the card in");
  for (const output of ["entry-light", "tv-outlet", "bath-light"]) await becomes(page, output, "on");
  await runAt(page, 10);
  await press(page, "Pull the card");
  for (const output of ["entry-light", "bath-light", "tv-outlet", "room-lights"]) await becomes(page, output, "off");
  await pause(page);
  const [pulled] = await moments(page, "card-reader", "^card out");
  const [dark] = await moments(page, "entry-light", "off");
  assert.equal(dark - pulled, 30_010, "thirty seconds of linger, and a frame");
});

inRoom("private-office", "going back greys what was; another act takes another way", {}, async (page) => {
  await somebodyMoves(page);
  await runAt(page, 60);
  await until("some minutes", () => wallClock(page), (now) => now % 3600 > 180);
  await runAt(page, 1);
  await key(page, "up, wall-button").click();
  await lit(page, "desk-lights", (now) => now === 100);
  await pause(page);
  const end = await wallClock(page);

  const slider = page.getByRole("slider", { name: "Moment of the run" });
  await slider.focus();
  // The machine answers more slowly than somebody presses: each move counts from the one before all the same.
  await page.route("**/api/clock", async (route) => {
    await new Promise((resolve) => setTimeout(resolve, 400));
    await route.continue();
  });
  for (const move of ["Home", "PageUp", "PageUp"]) {
    await page.keyboard.press(move);
    await page.waitForTimeout(250);
  }
  const fifth = 8 * 3600 + (end - 8 * 3600) / 5;
  await until("a fifth of the way", () => wallClock(page), (now) => Math.abs(now - fifth) <= 1);
  assert.equal(await slider.inputValue(), "400");
  await page.unroute("**/api/clock");
  await lit(page, "desk-lights", (now) => now === 50);
  await page.locator(".how", { hasText: "ahead" }).waitFor();
  const later = page.locator("tr[data-later]");
  await until("greyed rows of the log", () => later.count());

  await key(page, "down, wall-button").click();
  await becomes(page, "desk-lights", "off");
  await until("nothing ahead", () => page.locator(".how", { hasText: "ahead" }).count(), (count) => count === 0);
  await until("no greyed rows", () => later.count(), (count) => count === 0);
  await page.locator("#log-kind").selectOption("acts");
  await page.locator("#log-filter").fill("wall-button");
  const rows = () => page.locator("tbody td.what").allInnerTexts();
  await until("the log has the new way and not the other", rows, (all) => all.join() === "down is released,down is pressed");
});

inRoom("private-office", "what was done is saved as a scenario, and it passes", {}, async (page, room) => {
  await somebodyMoves(page);
  await key(page, "up, wall-button").click();
  await lit(page, "desk-lights", (now) => now === 100);
  await runAt(page, 600);
  await becomes(page, "desk-lights", "off");
  await pause(page);
  await press(page, "Save");
  await page.getByLabel("Title").fill("A short visit");
  await press(page, "Write the scenario");
  const toml = await page.locator("pre.toml").innerText();
  assert.match(toml, /title += +"A short visit"/);
  assert.match(toml, /"desk-lights", .*is off/);
  const download = page.waitForEvent("download");
  await press(page, "Download");
  const saved = await (await download).path();
  const file = path.join(room.folder, "a-short-visit.toml");
  await writeFile(file, await readFile(saved));
  await press(page, "Copy");
  await page.getByText("copied").waitFor();
  const { stdout } = await promisify(execFile)(BINARY, ["run", file]);
  assert.match(stdout, /1 as expected|held|passed/);
});

inRoom("private-office", "why says the chain, and each time shows its moment", {}, async (page) => {
  await somebodyMoves(page);
  await runAt(page, 60);
  await until("a while later", () => wallClock(page), (now) => now % 3600 > 120);
  await pause(page);
  const lights = card(page, "desk-lights");
  await lights.getByRole("button", { name: /Why/ }).focus();
  await page.keyboard.press("Enter");
  await lights.getByText(/motion at wall-sensor/).first().waitFor();
  const chain = await lights.locator(".causes").innerText();
  await lights.locator("button.moment").last().click();
  await page.getByText(/^At 08:0.* ago: /).waitFor();
  await page.waitForTimeout(1300);
  assert.equal(await lights.locator(".causes").innerText(), chain, "the chain that is read stays");
  await press(page, "Back to the present");
  await page.getByText(/^Now: /).waitFor();
});

inRoom("private-office", "a setting is changed while it runs, and a wrong one is refused with a hint", {}, async (page) => {
  await card(page, "desk-lights").getByRole("button", { name: /Why/ }).click();
  const chain = card(page, "desk-lights").locator(".chain-title");
  await chain.waitFor();
  await press(page, "Settings");
  const delay = page.locator("form.setting", { hasText: /^time-delay/ }).first();
  await delay.locator("input").fill("soon");
  await delay.getByRole("button").click();
  await until("refused", () => delay.locator(".told").innerText(), (words) => words.length > 10);
  assert.equal(await delay.locator("input").getAttribute("aria-invalid"), "true");
  const level = page.locator("form.setting", { hasText: /^level/ }).first();
  await level.locator("input").fill("soon");
  await level.getByRole("button").click();
  const below = async () => {
    const [told, sheet] = [await level.locator(".told").boundingBox(), await page.getByRole("dialog").boundingBox()];
    return told === null ? null : told.y + told.height - sheet.y - sheet.height;
  };
  await until("what is wrong is told where it can be seen", below, (by) => by !== null && by <= 0);
  await delay.locator("input").fill("5 min");
  await delay.getByRole("button").click();
  await delay.getByText("set to 5 min").waitFor();
  assert.ok(await chain.isVisible(), "a reason that was open stays open");
  const download = page.waitForEvent("download");
  await press(page, "Export room.toml");
  const text = await readFile(await (await download).path(), "utf8");
  assert.match(text, /time-delay\s*=\s*"5 min"/);
  assert.match(text, /# A combined wall unit is two sources/);
  await page.keyboard.press("Escape");
  await runAt(page, 1);
  await press(page, "motion at wall-sensor");
  await card(page, "wall-sensor").getByText(/time delay 5 min/).waitFor();
});

inRoom("private-office", "a lesson stops for its question, takes the answer and lets the room answer", { files: LESSON }, async (page) => {
  await press(page, "Lessons");
  await page.getByRole("dialog").getByRole("button", { name: /Who turns the receptacle on/ }).click();
  const lesson = page.locator("#lesson");
  await lesson.getByText(/Nobody is there yet/).waitFor();
  await press(page, "Go on");
  await lesson.locator("legend", { hasText: "What will the receptacle do?" }).waitFor();
  assert.equal(await state(page, "desk-outlet"), "off");
  await press(page, "Answer");
  await lesson.getByText("choose one first").waitFor();
  const stands = await wallClock(page);
  await page.waitForTimeout(400);
  assert.equal(await wallClock(page), stands, "the clock stands while a question is open");
  await page.getByLabel("It turns on by itself").check();
  await press(page, "Answer");
  await lesson.getByText("Right.").waitFor();
  await lesson.getByText(/auto-on/).first().waitFor();
  await press(page, "Go on");
  await lesson.getByText(/came on to half/).waitFor();
  assert.equal(await state(page, "desk-outlet"), "on");
  await press(page, "Finish");
  await until("the lesson is over", () => lesson.isVisible(), (isShown) => !isShown);
  const speeds = () => page.locator("#speed option").evaluateAll((all) => all.map((one) => one.value).join());
  await until("the pace of the lesson is gone", speeds, (all) => all === "1,10,60,600,3600");
});

inRoom("private-office", "a change is found at its moment, however fast the room came here", {}, async (page) => {
  await press(page, "motion at wall-sensor");
  await becomes(page, "desk-lights", "on");
  // Between two pictures lie a delay that ends and a light that goes off.
  await page.route("**/api/history*", async (route) => {
    await new Promise((resolve) => setTimeout(resolve, 700));
    await route.continue();
  });
  await page.evaluate(() => fetch("/api/clock", { method: "POST", headers: { "Content-Type": "application/json" }, body: '{"to":3600000}' }));
  await until("an hour later", () => wallClock(page), (now) => now === 9 * 3600);
  await press(page, "Change before");
  await page.getByText(/^At 08:15:20.*desk-lights off/).first().waitFor();
});

inRoom("fifty", "a large room is shown on few screens: cards scroll, what is still is counted", { files: FIFTY }, async (page) => {
  await runAt(page, 1);
  await press(page, "motion at sensor-7");
  await becomes(page, "light-7", "on");
  const names = await page.locator("#outputs h3").allInnerTexts();
  assert.deepEqual([names[1], names[9], names.length], ["light-2", "light-10", 50], "people count");
  await page.getByText(/49 outputs off; sensor-7 occupied; 49 sources/).waitFor();
  await page.getByText("98 points at which nothing happens are not drawn").waitFor();
  const screens = await page.evaluate(() => document.documentElement.scrollHeight / innerHeight);
  assert.ok(screens < 9, `${screens} screens`);
});

inRoom("private-office", "another scenario is loaded with its rows", {}, async (page) => {
  await press(page, "Load");
  await page.getByRole("dialog").getByRole("button", { name: /quiet-reading/ }).click();
  await page.locator("#log-kind").selectOption("all");
  await runAt(page, 60);
  await lit(page, "desk-lights", (now) => now === 50);
});

// Two at a time: much of each is waiting for a light on its way.
describe("what somebody does", { concurrency: 2 }, () => {
  for (const [what, body] of deeds) test(what, body);
});
