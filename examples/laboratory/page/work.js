// SPDX-License-Identifier: MIT
// The programs on somebody's own files: session, maps and logs in, report and results out.
import { button, choice, slider } from "./parts/controls.js";
import { html, shown } from "./parts/element.js";
import { ProgramRun } from "./program.js";

const programs = {
  correct_map: { title: "Correct a fuel map", demo: (minutes) => ["--drive", "stage", "--minutes", minutes] },
  trim_cylinders: { title: "Trim the cylinders", demo: (minutes) => ["--minutes", minutes, "--rotated-runs", "2"] },
  stage_banks: { title: "Plan a second bank", demo: (minutes) => ["--drive", "stage", "--minutes", minutes] },
};

const megabytes = (bytes) => `${shown(bytes / 1e6, bytes < 1e7 ? 2 : 0)} MB`;

/** Files of folders that were dropped, with their paths below the folder. */
async function dropped(items) {
  const found = [];
  async function walk(entry, below) {
    if (entry.isFile) {
      const file = await new Promise((ready, failed) => entry.file(ready, failed));
      found.push({ name: below + entry.name, data: file });
      return;
    }
    const reader = entry.createReader();
    for (;;) {
      const some = await new Promise((ready, failed) => reader.readEntries(ready, failed));
      if (some.length === 0) return;
      for (const inner of some) await walk(inner, `${below}${entry.name}/`);
    }
  }
  const entries = [...items].map((item) => item.webkitGetAsEntry?.()).filter(Boolean);
  for (const entry of entries) await walk(entry, "");
  return without_common_folder(found);
}

/** The same files by their paths below the folder that holds them all. */
function without_common_folder(files) {
  const folder = files[0]?.name.match(/^[^/]+\//)?.[0];
  const all = folder && files.every(({ name }) => name.startsWith(folder));
  return all ? without_common_folder(files.map(({ name, data }) => ({ name: name.slice(folder.length), data }))) : files;
}

const chosen = (list) => without_common_folder([...list].map((file) => ({ name: file.webkitRelativePath || file.name, data: file })));

/** What to do with the files: which program, which session. */
class Desk {
  files = [];
  running = null;
  unsaved = false;

  constructor(compiled) {
    this.compiled = compiled;
    this.program = choice({ name: "program", label: "What to do", value: "correct_map", moved: () => this.list(),
      options: Object.entries(programs).map(([name, { title }]) => [name, title]) });
    this.listed = html("div", { role: "status" });
    this.session = html("select", { name: "session", id: "session-file" });
    this.minutes = slider({ name: "demo_minutes", label: "Demo: minutes of driving", from: 1, to: 15, step: 1, value: 15, moved() {} });
    this.start = button("Run", () => this.run(), { disabled: true, "data-action": "run" });
    this.cancel = button("Cancel", () => this.running?.cancel(), { disabled: true, "data-action": "cancel" });
    this.bar = html("progress", { max: 1, value: 0, "aria-label": "How far the work is" });
    this.stage = html("p", { role: "status" });
    this.result = html("div", { class: "wide", "data-result": "" });
  }

  take(files) {
    for (const file of files) {
      this.files = this.files.filter(({ name }) => name !== file.name);
      this.files.push(file);
    }
    this.list();
  }

  /** The files, the session among them, and what a large log will take. */
  list() {
    const sessions = this.files.filter(({ name }) => name.endsWith(".json") && !/(^|\/)(summary|truth)\.json$/.test(name));
    const before = this.session.value;
    this.session.replaceChildren(...sessions.map(({ name }) => html("option", { value: name, selected: name === before }, name)));
    this.start.disabled = sessions.length === 0 || this.running !== null;
    const total = this.files.reduce((sum, { data }) => sum + data.size, 0);
    this.listed.replaceChildren(
      html("p", {}, this.files.length === 0 ? "No files yet." : `${this.files.length} files, ${megabytes(total)}` +
        (sessions.length === 0 ? ". A session file (.json) is missing." : ".")),
      html("ul", {}, ...this.files.slice(0, 20).map(({ name, data }) => html("li", {}, `${name}, ${megabytes(data.size)}`))));
    if (total > 2e8)
      this.listed.append(html("p", { class: "warning" }, `Files are read as they are needed and not copied, but the numbers of all log rows are kept: ` +
        `about ${megabytes(2 * total)} of memory. A page gets 4000 MB at most; beyond that, split the log or run the program natively.`));
  }

  words() {
    const name = this.program.value;
    const films = this.files.find((file) => /(^|\/)summary\.json$/.test(file.name));
    return [name, `/in/${this.session.value}`, "--out", "/out", ...(name === "stage_banks" && films ? ["--films", `/in/${films.name}`] : [])];
  }

  async demo() {
    const words = ["virtual_engine", "--out", "/out", ...programs[this.program.value].demo(String(this.minutes.value))];
    const done = await this.carry_out(words, [], "Driving the virtual engine");
    if (!done || done.code !== 0) return;
    this.files = done.results.filter(({ name }) => !name.startsWith("truth/")).map(({ name, bytes }) => ({ name, data: new File([bytes], name) }));
    this.stage.textContent = "The demo is ready: an invented engine, driven by the program virtual_engine.";
    this.list();
  }

  async run() {
    this.result.replaceChildren();
    const began = performance.now();
    const done = await this.carry_out(this.words(), this.files, "Starting");
    if (!done) return;
    if (done.results.length > 0) {
      this.stage.textContent = `Done in ${shown((performance.now() - began) / 1000, 1)} s.`;
      this.result.dataset.seconds = String((performance.now() - began) / 1000);
      this.show(done);
    }
  }

  /** Runs a program and says how far it is; nothing when it was cancelled or could not be done. */
  async carry_out(words, files, first) {
    this.stage.textContent = `${first} …`;
    this.bar.value = 0;
    this.running = new ProgramRun(this.compiled, words, files, (part, stage) => {
      this.bar.value = part;
      this.stage.textContent = stage;
    });
    this.start.disabled = true;
    this.cancel.disabled = false;
    try {
      const done = await this.running.finished;
      if (done === null) this.stage.textContent = "Cancelled. Nothing was changed.";
      else if (done.complaints.length > 0) this.complain(done.complaints.join("\n").replaceAll("/in/", ""));
      return done;
    } catch (failed) {
      this.complain(`The page could not do it: ${failed.message}`);
      return null;
    } finally {
      this.running = null;
      this.cancel.disabled = true;
      this.list();
    }
  }

  complain(sentence) {
    this.stage.textContent = "";
    this.result.replaceChildren(html("p", { class: "failure", role: "alert" }, sentence));
  }

  show({ code, printed, results }) {
    this.unsaved = true;
    const link = ({ name, bytes }) => {
      const url = URL.createObjectURL(new Blob([bytes], { type: name.endsWith(".html") ? "text/html" : "application/octet-stream" }));
      return html("a", { href: url, download: name, onclick: () => (this.unsaved = false) }, name);
    };
    const report = results.find(({ name }) => name === "report.html");
    this.result.append(
      html("h3", {}, "What came out"),
      code === 0 ? "" : html("p", { class: "warning" }, `The program ended with code ${code}: read its first lines before you load anything.`),
      html("pre", { tabindex: 0, "aria-label": "What the program says", "data-printed": "" }, printed.filter((line) => !line.startsWith("/out/")).join("\n").trim().replaceAll("/out/", "")),
      html("h3", {}, "Files to save"),
      html("ul", { class: "files" }, ...results.map((result) => html("li", {}, link(result), ` ${megabytes(result.bytes.length)}`))));
    if (report)
      this.result.append(html("h3", {}, "Report"),
        html("iframe", { title: "Report", class: "report", src: URL.createObjectURL(new Blob([report.bytes], { type: "text/html" })) }));
  }
}

export function open_work(main, compiled) {
  const desk = new Desk(compiled);
  const pick = (folder) => html("input", { type: "file", multiple: true, webkitdirectory: folder, class: "pick", "data-pick": folder ? "folder" : "files",
    id: folder ? "pick-folder" : "pick-files", onchange: (event) => desk.take(chosen(event.target.files)) });
  const zone = html("div", { class: "drop", ondragover: (event) => event.preventDefault(),
    ondrop: async (event) => {
      event.preventDefault();
      desk.take(await dropped(event.dataTransfer.items));
    } },
    html("p", {}, "Drop session, maps and logs here, or the folder that holds them. They stay on this machine."),
    html("div", { class: "row" }, html("label", { for: "pick-folder" }, "Folder "), pick(true)),
    html("div", { class: "row" }, html("label", { for: "pick-files" }, "Files "), pick(false)));
  const leaving = (event) => (desk.running || desk.unsaved) && event.preventDefault();
  addEventListener("beforeunload", leaving);
  main.replaceChildren(
    html("h2", {}, "Work"),
    html("p", {}, "The programs of the project, as they are, on your own files. A closed tab loses what it was computing and results that were not saved, nothing else."),
    html("div", { class: "stage" },
      html("div", {}, zone, desk.listed, html("div", { class: "row" }, html("label", { for: "session-file" }, "Session "), desk.session),
        html("div", { class: "row" }, desk.start, desk.cancel), desk.bar, desk.stage),
      html("div", { class: "controls" }, desk.program.node, desk.minutes.node, button("Make the demo", () => desk.demo(), { "data-action": "demo" })),
      desk.result));
  desk.list();
  return {
    close() {
      desk.running?.cancel();
      removeEventListener("beforeunload", leaving);
    },
  };
}
