// SPDX-License-Identifier: MIT
// Which picture is open, and what every picture has around it.
import { compiled_module, compiled_programs, Library, made_once } from "./library.js";
import { html, with_words } from "./parts/element.js";
import { look_up } from "./pictures/look_up.js";
import { smoothing } from "./pictures/smoothing.js";
import { tip_in } from "./pictures/tip_in.js";
import { wall_film } from "./pictures/wall_film.js";
import { evidence } from "./pictures/evidence.js";
import { three_ways } from "./pictures/three_ways.js";
import { two_banks } from "./pictures/two_banks.js";
import { collector } from "./pictures/collector.js";
import { passes } from "./pictures/passes.js";
import { integer_cells } from "./pictures/integer_cells.js";
import { work } from "./work/work.js";

const has_programs = document.getElementById("programs-wasm").textContent.trim() !== ""; // a test may build without
const pictures = [look_up, smoothing, tip_in, wall_film, evidence, three_ways, two_banks, collector, passes, integer_cells]
  .filter((picture) => has_programs || !picture.drives);
const main = document.getElementById("main");
const inert = (id) => JSON.parse(document.getElementById(id).textContent);

/** What pictures ask that drive the invented car; opened with the first of them. */
const driving_library = made_once(async () => Library.open(await compiled_programs(), "programs-worker"));

/** The C++ that a picture runs, as it stands in the repository. */
function code(picture) {
  const text = inert("sources")[picture.source];
  const headers = [...text.matchAll(/#include "(fettle\/[^"]+)"/g)].map((match) => `include/${match[1]}`);
  return html("details", { class: "code" },
    html("summary", {}, `The code this picture runs: examples/laboratory/pictures/${picture.source}`),
    html("p", {}, `It calls ${headers.join(", ")}.`),
    html("pre", { tabindex: 0, "aria-label": "C++ source" }, text));
}

/** The links to the pictures before and after. */
function onward(index) {
  const link = (to, words) => to ? html("a", { href: `#${to.id}` }, `${words}: ${to.title}`) : html("span");
  return html("div", { class: "onward" }, link(pictures[index - 1], "Before"), link(pictures[index + 1], "Next"));
}

async function open_picture(index, library) {
  const picture = pictures[index];
  const stage = html("div", { class: "stage" });
  main.replaceChildren(
    html("h2", {}, `${index + 1}. ${picture.title}`),
    ...picture.teaches.map((sentence) => html("p", {}, ...with_words(sentence))),
    stage,
    html("h3", {}, "Two questions"),
    html("ol", { class: "ask" }, ...picture.questions.map((question) => html("li", {}, ...with_words(question)))),
    code(picture),
    onward(index));
  if (!picture.drives) return picture.open(stage, library);
  const unpacking = html("p", { role: "status" }, "Unpacking the programs.");
  stage.append(unpacking);
  const driving = await driving_library().finally(() => unpacking.remove());
  return stage.isConnected ? picture.open(stage, driving) : null; // null: left meanwhile
}

async function open_work() {
  const stage = html("div", { class: "stage" });
  main.replaceChildren(html("h2", {}, work.title), ...work.says.map((sentence) => html("p", {}, sentence)), stage);
  return work.open(stage);
}

async function open_words(library, word, is_current) {
  const { words } = await library.ask("glossary", {});
  if (!is_current()) return null;
  main.replaceChildren(
    html("h2", {}, "Words"),
    html("dl", { class: "words" }, ...words.flatMap(({ term, meaning }) =>
      [html("dt", { id: `words/${term.replaceAll(" ", "-").toLowerCase()}` }, term), html("dd", {}, meaning)])));
  document.getElementById(`words/${word}`)?.scrollIntoView({ block: "center" });
}

function contents(current) {
  const link = (id, words) => html("li", {}, html("a", { href: `#${id}`, "aria-current": id === current && "page" }, words));
  document.getElementById("contents").replaceChildren(html("ol", {}, has_programs ? link(work.id, "Your own logs") : null,
    ...pictures.map((picture, i) => link(picture.id, `${i + 1} ${picture.title}`)), link("words", "Words")));
}

/** What an address stands for: its id, its title and what opens it. */
function place_of(id, word) {
  if (id === "words") return { id, title: "Words", open: (library, is_current) => open_words(library, word, is_current) };
  if (id === work.id && has_programs) return { id, title: work.title, open: open_work };
  const index = Math.max(0, pictures.findIndex((picture) => picture.id === id));
  return { id: pictures[index].id, title: pictures[index].title, open: (library) => open_picture(index, library) };
}

/** Says on the page why a part of it cannot be shown; opened again it is tried again. */
const show_failure = (failed) => main.append(html("p", { class: "failure", role: "alert" },
  `This cannot be shown: ${failed.message}. Leave it and come back to try again.`));

let opened = null; // what is on the page
let turn = 0; // how often somebody went somewhere: what opens slowly may have been left by then
async function route(library, is_first) {
  const [id, word] = location.hash.slice(1).split("/");
  if (id === "main") return;
  const place = place_of(id, word), mine = ++turn, is_current = () => mine === turn;
  contents(place.id);
  document.title = `${place.title} · fettle laboratory`;
  document.body.dataset.ready = "";
  opened?.close?.();
  opened = null;
  const now_open = await place.open(library, is_current)
    .catch((failed) => is_current() && show_failure(failed));
  if (!is_current()) {
    now_open?.close?.();
    return;
  }
  opened = now_open;
  document.body.dataset.ready = place.id;
  if (!is_first && !word) main.focus();
}

function show_licences() {
  document.getElementById("licences").append(
    html("p", {}, "fettle: MIT. The library inside was compiled with Emscripten (MIT) and carries Eigen (MPL-2.0), " +
      "Boost headers (BSL-1.0), CLI11 (BSD-3-Clause), JSON for Modern C++, {fmt} and fast_float (MIT) and, from the compiler, musl (MIT) and libc++ (Apache-2.0 with LLVM exception)."),
    ...inert("licence-texts").map(({ name, version, licence, text }) =>
      html("details", {}, html("summary", {}, `${name} ${version}: ${licence}`), html("pre", { tabindex: 0 }, text || licence))));
}

async function start() {
  show_licences();
  document.getElementById("skip").addEventListener("click", (event) => {
    event.preventDefault();
    main.focus();
  });
  const library = await Library.open(await compiled_module("wasm"), "worker");
  addEventListener("hashchange", () => route(library, false));
  await route(library, true);
}

start().catch((failed) => main.replaceChildren(html("p", { class: "failure", role: "alert" },
  `The page cannot start: ${failed.message}. It needs a browser with WebAssembly exceptions, workers and DecompressionStream: any from 2023 on.`)));
