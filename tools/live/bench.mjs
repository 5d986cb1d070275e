// What every browser check needs: a room that runs, a browser, and pages that are watched.

import { spawn } from "node:child_process";
import { cp, mkdir, mkdtemp, rm, writeFile } from "node:fs/promises";
import { tmpdir } from "node:os";
import path from "node:path";
import { fileURLToPath } from "node:url";

import { chromium } from "playwright-core";

const ROOT = path.resolve(path.dirname(fileURLToPath(import.meta.url)), "../..");
export const BINARY = process.env.ROOMRIG ?? path.join(ROOT, "target/release/roomrig");
/** How long anything may take, in ms: the machine may be very busy, and no check is about its speed. */
const PATIENCE = 90_000;

const QUIET = [
  "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync",
];

/** A browser without a window. */
export function browser() {
  return chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: QUIET, timeout: PATIENCE });
}

/** A room of the annex, in a copy of its folder, with its page. */
export class Room {
  /** Starts `roomrig live` for a room, or for a scenario of it. */
  static async open(name, { scenario = null, speed = 1, files = {} } = {}) {
    const room = new Room();
    room.contexts = [];
    room.above = await mkdtemp(path.join(tmpdir(), "roomrig-live-"));
    room.folder = path.join(room.above, name);
    // A room that is none of the annex stands in its files alone.
    await cp(path.join(ROOT, "scenarios", name), room.folder, { recursive: true }).catch(() => mkdir(room.folder));
    for (const [file, text] of Object.entries(files)) await writeFile(path.join(room.folder, file), text);
    room.what = [scenario === null ? room.folder : path.join(room.folder, scenario), "--speed", String(speed)];
    await room.start(0);
    return room;
  }

  /** Starts the room at a port; 0: at any that is free. */
  async start(at) {
    this.isStopped = false;
    // Another address than loopback alone, so that there are codes to be let in by.
    this.process = spawn(BINARY, ["live", ...this.what, "--listen", `0.0.0.0:${at}`], { stdio: ["ignore", "pipe", "pipe"] });
    this.said = "";
    const code = (whom) => new RegExp(`for ${whom}: http://[^/]*:(\\d+)/\\?code=(\\S+)`).exec(this.said);
    await new Promise((resolve, reject) => {
      const late = setTimeout(() => reject(new Error(`roomrig live did not say where it is:\n${this.said}`)), PATIENCE);
      const hear = (piece) => {
        this.said += piece;
        if (code("the trainer") && code("those who watch")) {
          clearTimeout(late);
          resolve();
        }
      };
      this.process.stdout.on("data", hear);
      this.process.stderr.on("data", hear);
      this.process.on("exit", (status) => reject(new Error(`roomrig live ended with ${status}:\n${this.said}`)));
    });
    const [, port, trainer] = code("the trainer");
    this.origin = `http://127.0.0.1:${port}`;
    this.trainer = `${this.origin}/?code=${trainer}`;
    this.viewer = `${this.origin}/?code=${code("those who watch")[2]}`;
    this.port = Number(port);
  }

  /** Ends the pages of the room, and the room. */
  async close() {
    await Promise.all(this.contexts.map((context) => context.close()));
    await this.stop();
    await rm(this.above, { recursive: true, force: true });
  }

  /** Ends the room; its pages stay. */
  async stop() {
    if (this.isStopped) return;
    this.isStopped = true;
    this.process.removeAllListeners("exit");
    const gone = new Promise((resolve) => this.process.once("exit", resolve));
    this.process.kill("SIGINT");
    const late = setTimeout(() => this.process.kill("SIGKILL"), 3000);
    await gone;
    clearTimeout(late);
  }
}

/** A page of a room, by default the trainer's; it must not complain, and has cookies of its own. A stranger has no code. */
export async function visit(chrome, room, { stranger = false, url = stranger ? `${room.origin}/` : room.trainer, width = 1280, height = 800, scheme = "light", reduced = false, touch = false } = {}) {
  const context = await chrome.newContext({
    viewport: { width, height }, colorScheme: scheme, reducedMotion: reduced ? "reduce" : "no-preference", hasTouch: touch,
    permissions: ["clipboard-read", "clipboard-write"], acceptDownloads: true,
  });
  room.contexts.push(context);
  const page = await context.newPage();
  page.setDefaultTimeout(PATIENCE);
  page.complaints = [];
  page.on("pageerror", (error) => page.complaints.push(String(error.stack ?? error)));
  page.on("console", (message) => {
    // A refused command is an answer, not a fault of the page; nor is it one that nobody answers any more.
    const refused = /status of (401|403|404|422)/.test(message.text());
    const gone = room.isStopped && /net::ERR_|status of 503/.test(message.text());
    if (["error", "warning"].includes(message.type()) && !refused && !gone) page.complaints.push(message.text());
  });
  page.on("request", (request) => {
    if (!request.url().startsWith(new URL(url).origin)) page.complaints.push(`asked elsewhere: ${request.url()}`);
  });
  if (process.env.ASSETS) await fromDisk(page, process.env.ASSETS);
  await page.goto(url);
  if (stranger) return page;
  await page.locator("body[data-you]").waitFor();
  await page.waitForFunction(() => /\d\d:\d\d:\d\d/.test(document.querySelector(".time")?.textContent ?? ""));
  await page.locator("article.card").first().waitFor();
  return page;
}

/** Takes the files of the page from a folder, so that they can be tried without building. */
async function fromDisk(page, folder) {
  await page.route("**/assets/*", (route) => route.fulfill({ path: path.join(folder, path.basename(new URL(route.request().url()).pathname)) }));
  await page.route((url) => url.pathname === "/" && url.search === "", async (route) => {
    const response = await route.fetch();
    // Whoever is not let in gets no page.
    await route.fulfill(response.ok() ? { response, path: path.join(folder, "index.html") } : { response });
  });
}

/** Asks again until it is so; the last answer stands in the failure. */
export async function until(what, ask, good = Boolean, patience = PATIENCE) {
  const end = Date.now() + patience;
  let answer;
  for (;;) {
    answer = await ask();
    if (good(answer)) return answer;
    if (Date.now() > end) throw new Error(`${what}: still ${JSON.stringify(answer)} after ${patience} ms`);
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}

/** The card of an output or a source, as somebody reads it. */
export const card = (page, name) => page.locator(`#card-${name}`);
/** The word of state on a card. */
export const state = (page, name) => card(page, name).locator(".state strong").innerText();
/** The level on a card, in percent. */
export async function level(page, name) {
  return Number.parseFloat((await card(page, name).locator(".state .level").innerText()).replace(/\s/g, ""));
}
/** The clock on the wall, in seconds since midnight. */
export async function wallClock(page) {
  const [hours, minutes, seconds] = (await page.locator(".time").innerText()).split(":").map(Number);
  return hours * 3600 + minutes * 60 + seconds;
}
/** Presses a button by the words on it. */
export const press = (page, words, options = {}) => page.getByRole("button", { name: words, exact: options.exact ?? true }).first().click();

/** Sets the pace and lets the room run; it does when this returns. */
export async function runAt(page, speed) {
  await page.locator("#speed").selectOption(String(speed));
  if (await page.getByRole("button", { name: "Run", exact: true }).count() > 0) await press(page, "Run");
  await page.locator(".how", { hasText: new RegExp(`^running, ×${speed}\\b`) }).waitFor();
}

/** Has the room stand still; it does when this returns. */
export async function pause(page) {
  await press(page, "Pause");
  await page.locator(".how", { hasText: /^paused/ }).waitFor();
}

/** Waits until the page has laid out and drawn what it was just made to show. */
export const drawn = (page) => page.evaluate(() => new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go))));

/** What the log says of a point, in ms since midnight, latest first: the moments of the rows that match. */
export async function moments(page, point, what) {
  await page.locator("#log-kind").selectOption("all");
  await page.locator("#log-filter").fill(point);
  const asked = () => page.locator("tbody tr").evaluateAll((rows, [who, words]) => rows
    .filter((row) => row.querySelector(".who").textContent === who && new RegExp(words).test(row.querySelector(".what").textContent))
    .map((row) => row.querySelector(".when").textContent), [point, what]);
  const found = await until(`${what} of ${point} in the log`, asked, (rows) => rows.length > 0);
  return found.map((when) => {
    const [hours, minutes, seconds] = when.split(":").map(Number);
    return Math.round(((hours * 60 + minutes) * 60 + seconds) * 1000);
  });
}

/** Waits for a light to be at a level, in percent. */
export const lit = (page, name, good, patience) => until(`light of ${name}`, () => level(page, name), good, patience);
/** Waits for a word of state. */
export const becomes = (page, name, word, patience) => until(`state of ${name}`, () => state(page, name), (now) => now === word, patience);
