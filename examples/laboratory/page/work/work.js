// SPDX-License-Identifier: MIT
// The programs on somebody's own files: dropped, worked on in a worker, saved again.
import { zipSync } from "fflate";
import { button, choice } from "../parts/controls.js";
import { html } from "../parts/element.js";
import { chosen, dropped, in_words, placed, sessions } from "./files.js";
import { jobs } from "./jobs.js";
import { hold_page, run_program, unpack_programs } from "./run.js";

let files = []; // [{path, blob}], kept while other parts of the page are looked at
let running = null; // what cancels it

const largest_bytes = 3.5e9; // of the 4 GB that a page has
const memory_per_byte = 6; // of a log: from the demo with 15 and with 60 minutes, 42 MB and 151 MB for 6 MB and 24 MB

const type_of = (path) => ({ html: "text/html", json: "application/json" })[path.split(".").pop()] ?? "text/csv";

/** A link that saves a file, and its size. */
function file_link(path, bytes) {
  const url = URL.createObjectURL(new Blob([bytes], { type: type_of(path) }));
  return html("li", {}, html("a", { href: url, download: path.split("/").pop() }, path), ` ${in_words(bytes.length)}`);
}

function archive(written) {
  const packed = zipSync(Object.fromEntries(written.map(({ path, bytes }) => [path, bytes])), { level: 6 });
  return URL.createObjectURL(new Blob([packed], { type: "application/zip" }));
}

/** What a run left: its answer in words, its report, its files. */
function shown_result(job, { code, printed, failures, written }, seconds) {
  if (code !== 0 && code !== 3)
    return [html("p", { class: "failure", role: "alert", "data-failure": "" }, failures || `${job.id} ended with code ${code}`)];
  const report = written.find(({ path }) => path.endsWith("report.html"));
  const text = new TextDecoder().decode(report.bytes);
  return [
    html("h3", { tabindex: -1 }, "Result"),
    html("p", { "data-seconds": seconds, "data-code": code }, `Done in ${seconds.toFixed(1)} s. `,
      html("a", { href: URL.createObjectURL(new Blob([text], { type: "text/html" })), target: "_blank", rel: "noopener" }, "Open the report in a tab of its own")),
    html("iframe", { class: "report", title: `Report of ${job.id}`, sandbox: "allow-scripts", srcdoc: text }),
    html("h3", {}, "Files"),
    html("p", {}, "They are in this page only, until you save them."),
    html("div", { class: "row" }, html("a", { class: "button", href: archive(written), download: `${job.folder}.zip` }, `Save all as ${job.folder}.zip`)),
    html("ul", { class: "files" }, ...written.map(({ path, bytes }) => file_link(path, bytes))),
    html("details", {}, html("summary", {}, "What the program prints on a terminal"), html("pre", { tabindex: 0, "aria-label": "Output of the program" }, printed)),
  ];
}

function progress_bar() {
  const bar = html("progress", { max: 1, "aria-label": "Progress of this stage" }), words = html("span", { role: "status" });
  const started = performance.now();
  let stage = "starting";
  const say = () => (words.textContent = `${stage}, ${Math.floor((performance.now() - started) / 1000)} s`);
  const timer = setInterval(say, 1000);
  say();
  return {
    node: html("div", { class: "working" }, bar, words),
    show({ fraction, stage: now }) {
      bar.value = fraction;
      stage = now;
      say();
    },
    close: () => clearInterval(timer),
    seconds: () => (performance.now() - started) / 1000,
  };
}

function open(stage) {
  let job = jobs[0], options = job.options(), release = () => {};
  const which = choice({ name: "job", label: "What to do", value: job.id, options: jobs.map(({ id, title }) => [id, title]), moved: choose_job });
  const needs = html("p", { class: "needs" }), settings = html("div", { class: "settings" });
  const session = html("select", { id: "session" });
  const list = html("div", { class: "given", role: "status" });
  const doing = html("div"), result = html("div", { class: "wide result" });
  const start = button("Run", work, { class: "main", disabled: true }), stop = button("Cancel", () => running?.(), { disabled: true });
  const demo = button("Take the demo", take_demo);
  const picker = (attributes) => html("input", { type: "file", multiple: true, ...attributes, onchange: ({ target }) => give(chosen(target.files)) });
  const place = html("div", { class: "drop" },
    html("p", {}, "Drop a session, its maps and its logs here, one by one or as a folder. They are read on this machine and go nowhere."),
    html("div", { class: "row" }, html("label", { class: "button" }, "Choose files", picker({ class: "hidden", name: "files" })),
      html("label", { class: "button" }, "Choose a folder", picker({ class: "hidden", name: "folder", webkitdirectory: true })), demo));

  function choose_job() {
    job = jobs.find(({ id }) => id === which.value);
    options = job.options();
    needs.textContent = job.needs;
    settings.replaceChildren(...options.nodes);
    demo.title = `An invented car: ${job.demo_words}`;
  }

  function give(more) {
    files = [...files.filter(({ path }) => !more.some((other) => other.path === path)), ...more];
    result.replaceChildren();
    show_files();
  }

  function show_files() {
    const paths = sessions(files), kept = session.value;
    session.replaceChildren(...paths.map((path) => html("option", { value: path, selected: path === kept }, path)));
    start.disabled = paths.length === 0;
    const bytes = files.reduce((sum, { blob }) => sum + blob.size, 0);
    const logs = files.filter(({ path }) => path.endsWith(".csv")).reduce((sum, { blob }) => sum + blob.size, 0);
    const memory = memory_per_byte * logs;
    list.replaceChildren(...(files.length === 0 ? [] : [
      html("p", {}, `${files.length} file${files.length > 1 ? "s" : ""}, ${in_words(bytes)}` + (paths.length === 0 ? "; no session among them: it is a JSON file" : "")),
      ...(memory > 2e8 ? [html("p", { class: memory > largest_bytes ? "failure" : "warning", "data-memory": memory },
        `To read these logs takes about ${in_words(memory)} of memory; a page can have 4 GB. ` +
        (memory > largest_bytes ? "Leave out some, or use the program on a terminal, which has all that the machine has." : ""))] : []),
      html("details", {}, html("summary", {}, "Which"), html("ul", { class: "files" }, ...files.map(({ path, blob }) => html("li", {}, `${path} ${in_words(blob.size)}`)))),
      html("div", { class: "row" }, html("label", { for: "session" }, "Session"), session,
        button("Forget them", () => { files = []; result.replaceChildren(); show_files(); }))]));
  }

  /** Runs one program with the bar in sight; null if it was cancelled. */
  async function in_sight(program, words, given) {
    release();
    const bar = progress_bar();
    result.replaceChildren();
    doing.replaceChildren(bar.node);
    start.disabled = demo.disabled = true;
    stop.disabled = false;
    const run = run_program(program, words, given, bar.show);
    running = run.cancel;
    const ended = await run.ended;
    running = null;
    bar.close();
    stop.disabled = true;
    demo.disabled = false;
    doing.replaceChildren();
    show_files();
    return ended && { ...ended, seconds: bar.seconds() };
  }

  async function take_demo() {
    const made = await in_sight("virtual_engine", ["--out", ".", ...job.demo], []);
    if (!made) return;
    files = [];
    if (made.code !== 0) result.replaceChildren(html("p", { class: "failure", role: "alert" }, made.failures));
    else give(made.written.filter(({ path }) => !path.startsWith("truth/")).map(({ path, bytes }) => ({ path, blob: new Blob([bytes]) })));
  }

  async function work() {
    const chosen_session = session.value, chosen_job = job;
    const out = chosen_session.slice(0, chosen_session.lastIndexOf("/") + 1) + chosen_job.folder;
    const ended = await in_sight(chosen_job.id, [chosen_session, "--out", out, ...options.words()], await placed(files, chosen_session));
    if (!ended) {
      result.replaceChildren(html("p", { role: "status" }, "Cancelled. Nothing was written."));
      return;
    }
    result.replaceChildren(...shown_result(chosen_job, ended, ended.seconds));
    if (ended.written.length > 0) release = hold_page(); // not saved yet
    result.querySelector("h3")?.focus();
  }

  const over = (is) => (event) => {
    event.preventDefault();
    place.classList.toggle("over", is);
  };
  place.addEventListener("dragover", over(true));
  place.addEventListener("dragleave", over(false));
  place.addEventListener("drop", async (event) => {
    over(false)(event);
    give(await dropped(event.dataTransfer));
  });
  result.addEventListener("click", ({ target }) => target.closest?.("[download]") && release());
  stage.classList.add("working-place");
  stage.append(html("div", {}, place, list, doing),
    html("div", { class: "controls" }, which.node, needs, settings, html("div", { class: "row" }, start, stop)), result);
  choose_job();
  show_files();
  unpack_programs();
  return { close: () => (running?.(), release()) };
}

export const work = {
  id: "work",
  title: "Work on your own logs",
  says: [
    "The programs of fettle, in this page: the same C++ and the same report, without an installation.",
    "A lean mixture destroys an engine within seconds. What comes out is a calculation from your logs: read the report's cautions, confirm the result with an independent measurement, and let a qualified person decide what goes into the engine.",
  ],
  open,
};
