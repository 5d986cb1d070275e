// Several screens: one drives, the others watch and agree.

import assert from "node:assert/strict";
import { after, before, test } from "node:test";

import { Room, becomes, browser, lit, pause, press, runAt, until, visit } from "./bench.mjs";

let chrome;
before(async () => { chrome = await browser(); });
after(() => chrome.close());

/** What a screen says of the room: everything that a person could compare. */
const picture = (page) => page.evaluate(() => ({
  cards: [...document.querySelectorAll("article.card")].map((card) => [card.id, card.querySelector(".state strong").textContent, card.querySelector(".level")?.textContent ?? ""]),
  people: [...document.querySelectorAll(".person")].map((person) => person.textContent),
  time: document.querySelector(".time").textContent,
  clauses: [...document.querySelectorAll(".clause")].map((clause) => [clause.id, clause.dataset.verdict]),
}));

test("two who watch see what the trainer sees, and have no controls", async () => {
  const room = await Room.open("private-office");
  try {
    const trainer = await visit(chrome, room);
    const [one, other] = await Promise.all([visit(chrome, room, { url: room.viewer, width: 360, height: 740 }), visit(chrome, room, { url: room.viewer })]);
    await runAt(trainer, 1);
    await press(trainer, "motion at wall-sensor");
    await lit(trainer, "desk-lights", (now) => now === 50);
    await runAt(trainer, 600);
    await becomes(trainer, "desk-lights", "off");
    await pause(trainer);
    const asked = async () => JSON.stringify(await picture(trainer));
    for (const page of [one, other]) {
      await until("the pictures agree", async () => JSON.stringify(await picture(page)) === await asked());
    }
    await trainer.getByText("2 other screens").waitFor();
    for (const page of [one, other]) {
      await page.getByText("You are watching.").waitFor();
      assert.equal(await page.getByRole("button", { name: /^(Run|Pause|Save|Settings|Motion|motion at)/ }).count(), 0);
      assert.equal(await page.locator("button.key").count(), 0);
      assert.ok(await page.locator(".slider").isDisabled());
    }
    for (const page of [trainer, one, other]) assert.deepEqual(page.complaints, []);
  } finally {
    await room.close();
  }
});

test("whoever watches cannot drive, whatever is sent", async () => {
  const room = await Room.open("private-office");
  try {
    const page = await visit(chrome, room, { url: room.viewer });
    const orders = {
      "/api/act": { point: "wall-sensor", event: "motion" },
      "/api/clock": { running: true },
      "/api/set": { path: "sources.wall-sensor.time-delay", value: "1 min" },
      "/api/save": { title: "mine" },
      "/api/lesson": { stop: true },
      "/api/load": { scenario: "quiet-reading" },
    };
    for (const [path, body] of Object.entries(orders)) {
      const status = await page.evaluate(async ([to, what]) => {
        const answer = await fetch(to, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(what) });
        return [answer.status, (await answer.json()).message];
      }, [path, body]);
      assert.equal(status[0], 403, `${path}: ${status}`);
      assert.ok(status[1].length > 5, `${path} says why`);
    }
    assert.equal(await page.locator(".how").innerText(), "paused");
  } finally {
    await room.close();
  }
});

test("a machine that was started anew is found again, and asks for its code", async () => {
  const room = await Room.open("private-office");
  try {
    const page = await visit(chrome, room, { url: room.viewer });
    await room.stop();
    await page.locator("#watching").getByText(/does not answer/).waitFor();
    assert.equal(await page.locator(".how").innerText(), "not connected");
    await room.start(room.port);
    await page.getByLabel(/code/i).waitFor();
    await page.getByLabel(/code/i).fill(new URL(room.viewer).searchParams.get("code"));
    await page.keyboard.press("Enter");
    await page.getByText("You are watching.").waitFor();
  } finally {
    await room.close();
  }
});

test("without a code nobody comes in, and with the link of the sheet somebody does", async () => {
  const room = await Room.open("private-office");
  try {
    const context = await chrome.newContext();
    room.contexts.push(context);
    const stranger = await context.newPage();
    const answer = await stranger.goto(`${room.origin}/`);
    assert.equal(answer.status(), 401);
    await stranger.getByLabel(/code/i).waitFor();
    await stranger.getByLabel(/code/i).fill("guessed");
    await stranger.keyboard.press("Enter");
    await stranger.getByText(/This code lets nobody in/).waitFor();
    const trainer = await visit(chrome, room);
    await press(trainer, "Share");
    const code = (await trainer.locator(".share-code strong").innerText()).trim();
    await stranger.getByLabel(/code/i).fill(code);
    await stranger.keyboard.press("Enter");
    await stranger.getByText("You are watching.").waitFor();
  } finally {
    await room.close();
  }
});
