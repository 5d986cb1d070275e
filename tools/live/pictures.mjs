// Pictures of every state of the page, at three widths, light and dark, to look at.
//
// They go to target/live-pictures, which no commit holds. `--readme` writes those of README anew.

import { mkdir } from "node:fs/promises";

import { Room, browser, visit } from "./bench.mjs";
import { SHOWN, STATES, WIDTHS } from "./states.mjs";

const folder = new URL("../../target/live-pictures/", import.meta.url).pathname;
const wanted = process.argv.slice(2);
if (wanted[0] === "--readme") {
  await forReadme();
  process.exit(0);
}
await mkdir(folder, { recursive: true });
const chrome = await browser();
for (const [name, stage] of Object.entries(STATES)) {
  if (wanted.length > 0 && !wanted.some((word) => name.includes(word))) continue;
  const room = await Room.open(stage.room, stage);
  try {
    const page = await visit(chrome, room, { stranger: stage.stranger, ...(stage.watches && { url: room.viewer }) });
    await stage.enter(page, room);
    for (const [width, height] of WIDTHS) {
      await page.setViewportSize({ width, height });
      await page.waitForTimeout(150);
      await page.evaluate(() => scrollTo(0, 0));
      await stage.again?.(page);
      for (const scheme of ["light", "dark"]) {
        await page.emulateMedia({ colorScheme: scheme });
        await page.waitForTimeout(150);
        // What is fixed to the window would lie across a picture of the whole page.
        const sheet = await page.locator("dialog[open], #person-menu:popover-open").count();
        await page.evaluate((isWhole) => document.getElementById("said")?.style.setProperty("position", isWhole ? "static" : "fixed"), sheet === 0);
        await page.screenshot({ path: `${folder}${name.replaceAll(/[^a-z]+/g, "-")}-${width}-${scheme}.png`, fullPage: sheet === 0 });
      }
    }
    for (const complaint of page.complaints) console.error(`${name}: ${complaint}`);
    console.log(name);
  } catch (error) {
    console.error(`${name}: ${error.message}`);
    process.exitCode = 1;
  } finally {
    await room.close();
  }
}
await chrome.close();

/** Writes the pictures of README. */
async function forReadme() {
  const chrome = await browser();
  for (const [name, shown] of Object.entries(SHOWN)) {
    const room = await Room.open(shown.room);
    const page = await visit(chrome, room, shown);
    await shown.enter(page);
    await page.evaluate(() => { document.getElementById("said").hidden = true; });
    const { y, height } = await page.locator(shown.through).boundingBox();
    const clip = { x: 0, y: 0, width: shown.width, height: Math.ceil(y + height + 16) };
    await page.screenshot({ path: new URL(`../../.readme/${name}.png`, import.meta.url).pathname, fullPage: true, clip });
    await room.close();
    console.log(name);
  }
  await chrome.close();
}
