// For everybody: keyboard alone, screen readers, small and large screens, light and dark.

import assert from "node:assert/strict";
import { readFile, readdir } from "node:fs/promises";
import { createRequire } from "node:module";
import { after, before, describe, test } from "node:test";

import { Room, becomes, browser, card, drawn, lit, press, runAt, until, visit } from "./bench.mjs";
import { STATES, WIDTHS } from "./states.mjs";

const AXE = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

let chrome;
before(async () => { chrome = await browser(); });
after(() => chrome.close());

/** What the auditor finds, each finding in a line; `rules` are the tags of those that are asked, by default all. */
async function findings(page, rules = null) {
  // The page's policy lets no inline script in, so the auditor comes by the debugging protocol, once.
  if (!await page.evaluate(() => "axe" in globalThis)) await page.evaluate(AXE);
  const found = await page.evaluate((tags) => globalThis.axe.run(document, { resultTypes: ["violations"], ...(tags && { runOnly: tags }) }), rules);
  return found.violations.flatMap((rule) => rule.nodes.map((node) => `${rule.id}: ${node.target.join(" ")}: ${node.failureSummary}`));
}

/** What an auditor does not look for: text too small to read, things beyond the edge, targets too small to hit. */
function measure(page) {
  return page.evaluate(() => {
    const found = [];
    const width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth > width) found.push(`the page is ${document.documentElement.scrollWidth} px wide on ${width}`);
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const parent = walker.currentNode.parentElement;
      if (walker.currentNode.textContent.trim() === "" || !parent.checkVisibility?.({ visibilityProperty: true })) continue;
      const size = Number.parseFloat(getComputedStyle(parent).fontSize);
      if (size < 14) found.push(`${size} px: ${walker.currentNode.textContent.trim().slice(0, 40)}`);
    }
    for (const target of document.querySelectorAll("button, select, input, summary, a[href]")) {
      if (!target.checkVisibility?.() || target.classList.contains("skip")) continue;
      const box = target.getBoundingClientRect();
      if (box.width < 24 || box.height < 24) {
        if (target.tagName !== "A" && target.type !== "radio") found.push(`${Math.round(box.width)} × ${Math.round(box.height)} px: ${target.textContent.trim() || target.id}`);
      }
    }
    return found;
  });
}

// Two at a time: a browser waits for its room, and a room for its browser.
describe("the audit", { concurrency: 2 }, () => {
  for (const [name, stage] of Object.entries(STATES)) if (!stage.like) audited(name, stage);
});

function audited(name, stage) {
  test(`nothing is found in the state "${name}", in three widths, light and dark`, async () => {
    const room = await Room.open(stage.room, stage);
    try {
      const page = await visit(chrome, room, { stranger: stage.stranger, ...(stage.watches && { url: room.viewer }) });
      await stage.enter(page, room);
      for (const [width, height] of WIDTHS) {
        await page.setViewportSize({ width, height });
        await stage.again?.(page);
        for (const [scheme, rules] of [["light", null], ["dark", ["cat.color"]]]) {
          await page.emulateMedia({ colorScheme: scheme, reducedMotion: "reduce" });
          await drawn(page);
          assert.deepEqual(await findings(page, rules), [], `${width} px, ${scheme}`);
        }
        await until(`${width} px`, () => measure(page), (found) => found.length === 0);
      }
      assert.deepEqual(page.complaints, []);
    } finally {
      await room.close();
    }
  });
}

test("in the dark nothing is another but colours, so the auditor asks there for colours alone", async () => {
  const assets = new URL("../../crates/page/assets/", import.meta.url);
  for (const name of await readdir(assets)) {
    const text = await readFile(new URL(name, assets), "utf8");
    const dark = [...text.matchAll(/@media \(prefers-color-scheme: dark\) \{\s*:root \{([^{}]*)\}\s*\}/g)];
    // The timing diagram is a painting, and is painted again.
    const named = name === "diagram.js" ? [] : text.match(/prefers-color-scheme/g) ?? [];
    assert.equal(dark.length, named.length, `${name} asks for the scheme in another way`);
    for (const [, body] of dark) {
      for (const set of body.split(";").map((it) => it.trim()).filter(Boolean)) {
        assert.match(set, /^(--[a-z-]+: #[0-9a-f]{6,8}|color-scheme: dark)$/, name);
      }
    }
  }
});

test("nothing reaches beyond the edge at any width in between", async () => {
  const room = await Room.open("guest-room");
  try {
    const page = await visit(chrome, room);
    for (const width of [320, 400, 480, 560, 640, 641, 768, 899, 900, 960, 961, 1000, 1001, 1100, 1180, 1181, 1366, 1599, 1600, 2560]) {
      await page.setViewportSize({ width, height: 800 });
      // The plan is laid out again when its place has another width.
      await until(`${width} px`, () => measure(page), (found) => found.length === 0);
    }
  } finally {
    await room.close();
  }
});

test("a tour with the keyboard alone: everything can be reached, seen and worked", async () => {
  const room = await Room.open("private-office");
  try {
    const page = await visit(chrome, room);
    await page.keyboard.press("Tab");
    assert.equal(await page.evaluate(() => document.activeElement.textContent), "Skip to the room");
    const seen = [];
    const tabTo = async (words) => {
      for (let steps = 0; steps < 90; steps += 1) {
        const here = await page.evaluate(() => {
          const node = document.activeElement;
          const style = getComputedStyle(node);
          const box = node.getBoundingClientRect();
          const hidden = document.elementsFromPoint(box.x + box.width / 2, box.y + Math.min(box.height / 2, 20)).includes(node);
          return {
            words: node.getAttribute("aria-label") ?? (node.labels?.[0]?.textContent || node.textContent),
            outlined: style.outlineStyle !== "none" && Number.parseFloat(style.outlineWidth) >= 2,
            uncovered: hidden || node === document.body || node.closest(".person") !== null,
          };
        });
        assert.ok(here.outlined, `no focus can be seen on "${here.words}"`);
        assert.ok(here.uncovered, `"${here.words}" is covered while it has the focus`);
        seen.push(here.words);
        if (words.test(here.words)) return;
        await page.keyboard.press("Tab");
      }
      throw new Error(`"${words}" was not reached; seen: ${seen.join(" | ")}`);
    };
    await runAt(page, 1);
    await page.locator(".skip").focus();
    await page.keyboard.press("Tab");
    // Somebody sits down and works.
    await tabTo(/^ana/);
    await page.keyboard.press("Enter");
    await page.keyboard.press("ArrowDown");
    await page.keyboard.press("ArrowUp");
    await page.getByRole("button", { name: "Types" }).focus();
    await page.keyboard.press("Enter");
    await lit(page, "desk-lights", (now) => now === 50);
    await until("the focus is back", () => page.evaluate(() => document.activeElement.className), (name) => name.includes("person"));
    // A hand on the wall.
    await tabTo(/^up, wall-button/);
    await page.keyboard.press("Enter");
    await lit(page, "desk-lights", (now) => now === 100);
    // Why?
    await tabTo(/^Why is desk-lights so/);
    await page.keyboard.press("Enter");
    await card(page, "desk-lights").getByText(/wall-button/).first().waitFor();
    // Time runs, and stands.
    await page.getByRole("button", { name: "Pause" }).focus();
    await page.keyboard.press("Enter");
    await page.getByRole("button", { name: "Run" }).waitFor();
    await page.keyboard.press("Enter");
    await page.getByRole("button", { name: "Pause" }).waitFor();
    // A sheet opens, holds the focus, and gives it back.
    await page.getByRole("button", { name: "Settings" }).focus();
    await page.keyboard.press("Enter");
    await page.getByRole("dialog").waitFor();
    for (let steps = 0; steps < 5; steps += 1) {
      await page.keyboard.press("Tab");
      assert.ok(await page.evaluate(() => document.activeElement === document.body || document.querySelector("dialog[open]").contains(document.activeElement)));
    }
    await page.keyboard.press("Escape");
    await until("the focus is back", () => page.evaluate(() => document.activeElement.textContent), (words) => words === "Settings");
    // Out by the menu, and the timing diagram by its buttons.
    await page.locator(".person").focus();
    await page.keyboard.press("Enter");
    await page.getByRole("button", { name: "Leaves" }).focus();
    await page.keyboard.press("Enter");
    await until("outside", () => page.locator(".person .where").textContent(), (words) => /outside/.test(words));
    await page.getByRole("button", { name: "Change before" }).focus();
    await page.keyboard.press("Enter");
    await page.getByText(/^At .* ago: /).waitFor();
    assert.deepEqual(page.complaints, []);
  } finally {
    await room.close();
  }
});

test("the live region says at most one short sentence a second, however fast the room runs", async () => {
  const room = await Room.open("private-office");
  try {
    const page = await visit(chrome, room);
    assert.equal(await page.locator("[aria-live], [role=status], [role=alert], [role=log]").filter({ visible: true }).count(), 1);
    await page.evaluate(() => {
      const heard = (globalThis.heard = []);
      const node = document.getElementById("said");
      const plain = Object.getOwnPropertyDescriptor(Node.prototype, "textContent");
      // Timed where it is said: whoever only watches may be late, and would see two sentences closer than they were.
      Object.defineProperty(node, "textContent", {
        get: () => plain.get.call(node),
        set: (words) => {
          heard.push([performance.now(), words]);
          plain.set.call(node, words);
        },
      });
      // What is said in any other way counts too.
      new MutationObserver(() => {
        if (node.textContent !== heard.at(-1)?.[1]) heard.push([performance.now(), node.textContent]);
      }).observe(node, { childList: true, characterData: true, subtree: true });
    });
    await runAt(page, 3600);
    for (let times = 0; times < 12; times += 1) {
      await press(page, "motion at wall-sensor");
      await page.waitForTimeout(250);
    }
    await becomes(page, "desk-lights", "off");
    const said = () => page.evaluate(() => globalThis.heard);
    const heard = await until("it says that the lights went off", said, (all) => all.length >= 3 && all.some(([, words]) => words === "desk-lights off"));
    heard.forEach(([at, words], index) => {
      assert.ok(words.length <= 140, words);
      if (index > 0) assert.ok(at - heard[index - 1][0] >= 950, `two sentences within ${at - heard[index - 1][0]} ms`);
    });
  } finally {
    await room.close();
  }
});

test("who asks for less movement gets none, and colours that are forced leave everything readable", async () => {
  const room = await Room.open("private-office");
  try {
    const page = await visit(chrome, room, { reduced: true });
    const moving = await page.evaluate(() => [...document.querySelectorAll("*")].filter((node) => {
      const style = getComputedStyle(node);
      return style.transitionDuration.split(",").some((time) => Number.parseFloat(time) > 0) && style.transitionProperty !== "none" || style.animationName !== "none";
    }).map((node) => node.className));
    assert.deepEqual(moving, []);
    await page.emulateMedia({ forcedColors: "active" });
    await runAt(page, 1);
    await press(page, "motion at wall-sensor");
    await lit(page, "desk-lights", (now) => now === 50);
    assert.ok(await page.locator("svg.paper").isVisible());
    assert.deepEqual(page.complaints, []);
  } finally {
    await room.close();
  }
});
