// Pictures of every state of the page, at three widths, light and dark, to look at.
//
// They go to target/live-pictures, which no commit holds.

import { mkdir } from "node:fs/promises";

import { Room, browser, visit } from "./bench.mjs";
import { STATES, WIDTHS } from "./states.mjs";

const folder = new URL("../../target/live-pictures/", import.meta.url).pathname;
const wanted = process.argv.slice(2);
await mkdir(folder, { recursive: true });
const chrome = await browser();
for (const [name, stage] of Object.entries(STATES)) {
  if (wanted.length > 0 && !wanted.some((word) => name.includes(word))) continue;
  const room = await Room.open(stage.room, stage);
  try {
    const page = await visit(chrome, stage.watches ? room.viewer : room.trainer);
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
        await page.evaluate((isWhole) => document.getElementById("said").style.setProperty("position", isWhole ? "static" : "fixed"), sheet === 0);
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
