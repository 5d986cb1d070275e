// The sheets that open over the page: lessons, load, save, settings, share.
//
// Invariant: a sheet is a modal dialog of the platform, so Escape closes it and focus comes back.

import { ask, askText, Refused } from "./api.js";
import { make, mark, say } from "./dom.js";
import { count } from "./words.js";

export function sheets(bench, menu, parent) {
  const all = [
    sheet("lessons", "Lessons", (body, close) => lessons(bench, body, close)),
    sheet("load", "Load", (body, close) => load(bench, body, close)),
    sheet("save", "Save", (body) => save(bench, body)),
    sheet("settings", "Settings", (body) => settings(bench, body)),
    sheet("share", "Share", (body) => share(bench, body)),
  ];
  parent.replaceChildren(...all.map((one) => one.dialog));
  menu.replaceChildren(...all.map((one) => one.button));
  const show = () => {
    menu.hidden = !bench.drives;
    all[0].button.hidden = !(bench.room?.lessons?.length > 0);
  };
  bench.on("you", show);
  bench.on("room", show);
}

const TITLES = {
  lessons: "Lessons for a first day",
  load: "Load a scenario or a room",
  save: "Save what was done as a scenario",
  settings: "Settings, changed while it runs",
  share: "Let others watch",
};

function sheet(id, word, fill) {
  const body = make("div.sheet-body");
  const close = make("button.close", { type: "button", "aria-label": "Close" }, "✕");
  const dialog = make("dialog.sheet", { id: `sheet-${id}`, "aria-labelledby": `sheet-${id}-title` },
    make("div.sheet-head", {}, make("h2", { id: `sheet-${id}-title` }, TITLES[id]), close), body);
  close.addEventListener("click", () => dialog.close());
  dialog.addEventListener("click", (event) => { if (event.target === dialog) dialog.close(); });
  const button = make("button", {
    type: "button", "aria-haspopup": "dialog",
    onclick: () => {
      fill(body, () => dialog.close());
      dialog.showModal();
    },
  }, word);
  return { dialog, button };
}

function lessons(bench, body, close) {
  const list = [...(bench.room.lessons ?? [])].sort((a, b) => a.order - b.order);
  body.replaceChildren(make("ol.choose", {}, list.map((lesson) => make("li", {},
    make("button", {
      type: "button",
      onclick: async () => {
        close();
        if (await bench.tell("/api/lesson", { room: lesson.room, file: lesson.file }) !== null) document.getElementById("lesson").scrollIntoView({ block: "nearest" });
      },
    }, make("span.choose-title", {}, lesson.title), make("span.choose-note", {}, lessonNote(bench, lesson)),
      lesson.goal ? make("span.choose-goal", {}, lesson.goal) : null)))));
}

/** Where a lesson is given and how much it asks. */
function lessonNote(bench, lesson) {
  const room = (bench.room.rooms ?? []).find((one) => one.folder === lesson.room)?.name;
  const questions = count(lesson.questions, "question", "questions");
  return room ? `${room}, ${questions}` : questions;
}

function load(bench, body, close) {
  const list = bench.room.scenarios ?? [];
  const begin = async (scenario, room) => {
    close();
    await bench.tell("/api/load", room === undefined ? { scenario } : { room, scenario });
  };
  const others = (bench.room.rooms ?? []).filter((one) => one.folder !== bench.room.room);
  body.replaceChildren(
    make("p", {}, "The room starts again from the rows of the scenario. What was done here and not saved is dropped."),
    make("div.row", {}, make("button", { type: "button", onclick: () => begin(null) }, "Begin anew, with nothing done")),
    list.length === 0 ? make("p", {}, "This room's folder has no scenario.")
      : make("ul.choose", {}, list.map((one) => make("li", {}, make("button", { type: "button", onclick: () => begin(one.file) },
        make("span.choose-title", {}, one.title), make("span.choose-note", {}, one.file))))),
    ...(others.length === 0 ? [] : [
      make("h3", {}, "Another room"),
      make("ul.choose", {}, others.map((one) => make("li", {}, make("button", { type: "button", onclick: () => begin(null, one.folder) }, make("span.choose-title", {}, one.name))))),
    ]));
}

function save(bench, body) {
  const title = make("input", { id: "save-title", type: "text", required: true, autofocus: true, autocomplete: "off", value: "What was done at the bench" });
  const answer = make("div.saved", { role: "status" });
  const form = make("form.save-form", {
    onsubmit: async (event) => {
      event.preventDefault();
      say(answer, "The scenario is written and run once …");
      try {
        show(await bench.orders.give("/api/save", { title: title.value }));
      } catch (error) {
        if (!(error instanceof Refused)) throw error;
        answer.replaceChildren(make("p.error", {}, error.message, error.hint ? ` (${error.hint})` : ""));
      }
    },
  }, make("label", { for: "save-title" }, "Title"), title, make("button", { type: "submit" }, "Write the scenario"));
  const show = (saved) => {
    answer.replaceChildren(
      make("p", {}, `${saved.file}, run once: ${saved.verdict}.`),
      make("div.row", {}, ...copying("Copy", saved.toml),
        make("button", { type: "button", onclick: () => download(saved.file, saved.toml) }, "Download")),
      make("pre.toml", { tabindex: "0", "aria-label": "The scenario" }, saved.toml));
  };
  body.replaceChildren(make("p", {}, "Every act becomes a row, and after each stands what the room then was: a scenario with its checks filled in."), form, answer);
}

/** A button that copies a text, and what came of it. Where the page is not from this machine, browsers offer no clipboard. */
function copying(word, text) {
  const copied = make("span", { role: "status" });
  const copy = () => (navigator.clipboard ? navigator.clipboard.writeText(text) : Promise.reject(new Error("there is none")));
  const button = make("button", { type: "button", onclick: () => copy().then(() => say(copied, "copied"), () => say(copied, "the browser would not copy: mark the text and copy it")) }, word);
  return [button, copied];
}

function download(name, text) {
  const url = URL.createObjectURL(new Blob([text], { type: "application/toml" }));
  const link = make("a", { href: url, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  URL.revokeObjectURL(url);
}

function settings(bench, body) {
  const groups = new Map();
  for (const one of bench.room.settings) groups.set(one.point, [...(groups.get(one.point) ?? []), one]);
  const search = make("input", { id: "settings-filter", type: "search", autocomplete: "off", spellcheck: "false" });
  const parts = [...groups].map(([point, list]) => {
    const rows = list.map((setting) => settingRow(bench, setting));
    return { words: point, rows, node: make("fieldset.settings-group", {}, make("legend", {}, point), rows.map((row) => row.node)) };
  });
  search.addEventListener("input", () => {
    const wanted = search.value.toLowerCase();
    for (const part of parts) {
      let any = false;
      for (const row of part.rows) {
        row.node.hidden = !`${part.words} ${row.words}`.toLowerCase().includes(wanted);
        any ||= !row.node.hidden;
      }
      part.node.hidden = !any;
    }
  });
  body.replaceChildren(
    make("div.row", {}, make("label", { for: "settings-filter" }, "Find"), search,
      make("button", {
        type: "button",
        onclick: async () => {
          try {
            download("room.toml", await askText("/api/room.toml"));
          } catch (error) {
            bench.voice.say("refused", error.message);
          }
        },
      }, "Export room.toml")),
    ...parts.map((part) => part.node));
}

function settingRow(bench, setting) {
  const id = `set-${setting.path.replaceAll(/[^a-zA-Z0-9-]/g, "-")}`;
  const options = setting.choices?.includes(setting.value) || !setting.choices ? setting.choices : [setting.value, ...setting.choices];
  const field = options
    ? make("select", { id }, options.map((choice) => make("option", { value: choice ?? "" }, choice || "not given")))
    : make("input", { id, type: "text", autocomplete: "off", spellcheck: "false", placeholder: setting.value ?? "" });
  field.value = setting.value ?? "";
  const told = make("p.told", { id: `${id}-told`, role: "status" });
  mark(field, "aria-describedby", `${id}-told ${id}-hint`);
  const form = make("form.setting", {
    onsubmit: async (event) => {
      event.preventDefault();
      mark(field, "aria-invalid", false);
      mark(told, "data-bad", false);
      try {
        await bench.orders.give("/api/set", { path: setting.path, value: field.value });
        say(told, `set to ${field.value}`);
        bench.readRoom().catch(() => {});
      } catch (error) {
        if (!(error instanceof Refused)) throw error;
        mark(field, "aria-invalid", "true");
        mark(told, "data-bad", true);
        say(told, error.hint ? `${error.message}: ${error.hint}` : error.message);
      }
      // What is told stands below the field, perhaps below what of the sheet can be seen.
      told.scrollIntoView({ block: "nearest" });
    },
  }, make("label", { for: id }, setting.key), field,
  make("button", { type: "submit", "aria-label": `Set ${setting.key} of ${setting.point}` }, "Set"),
  make("p.setting-hint", { id: `${id}-hint` }, setting.hint ?? ""), told);
  return { node: form, words: `${setting.key} ${setting.hint ?? ""}` };
}

async function share(bench, body) {
  body.replaceChildren(make("p", {}, "Asking …"));
  const shared = await ask("/api/share").catch(() => null);
  if (!shared?.code) {
    body.replaceChildren(make("p", {}, "This room is bound to this machine alone. Start it with ", make("code", {}, "--listen ADDRESS"), " to let other screens watch; they will need a code."));
    return;
  }
  body.replaceChildren(
    make("p", {}, "Whoever opens this link watches on an own screen and cannot drive."),
    make("p.share-link", {}, make("a", { href: shared.url }, shared.url)),
    make("p.share-code", {}, "Code ", make("strong", {}, shared.code)),
    make("div.row", {}, ...copying("Copy the link", shared.url)),
    make("p", {}, `${count(Math.max(0, (bench.view?.viewers ?? 1) - 1), "other screen", "other screens")} open now.`));
}
