// SPDX-License-Identifier: MIT
// node bundle.mjs MODULES PAGE STEM [PROGRAMS]: makes the page from the folder page/, the libraries that npm put into
// MODULES, what the pictures run, STEM.js and STEM.wasm, and the programs in PROGRAMS.js and PROGRAMS.wasm, if any.
import { createHash } from "node:crypto";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";

const here = dirname(fileURLToPath(import.meta.url));
const [modules, out, stem, programs] = process.argv.slice(2).map((path) => resolve(path));
const { build } = createRequire(join(modules, "any.js"))("esbuild");

/** One script or style sheet as text, with all that it imports. */
async function bundled(entry) {
  const result = await build({
    entryPoints: [join(here, "page", entry)],
    absWorkingDir: here,
    nodePaths: [modules],
    alias: { "fettle-module": `${stem}.js`, "programs-module": `${programs}.js` },
    external: ["module"], // which gnuplot's loader asks for under node
    define: { "import.meta.url": '""' }, // likewise: here it is given its module
    bundle: true,
    write: false,
    minify: true,
    format: "iife",
    target: "es2022",
    charset: "utf8",
    legalComments: "none",
  });
  return result.outputFiles[0].text;
}

/** Licence texts of the libraries that the page carries. */
function licences() {
  const named = JSON.parse(readFileSync(join(here, "package.json"), "utf8")).dependencies;
  const gnuplot = { name: "gnuplot", version: "6.0.2", licence: "its own", text: readFileSync(join(here, "licences/gnuplot.txt"), "utf8") };
  return [gnuplot, ...Object.keys(named).map((name) => {
    const folder = join(modules, name);
    const about = JSON.parse(readFileSync(join(folder, "package.json"), "utf8"));
    const file = readdirSync(folder).find((entry) => /^(licen[cs]e|unlicense)/i.test(entry));
    return { name, version: about.version, licence: about.license, text: file ? readFileSync(join(folder, file), "utf8") : "" };
  })];
}

const sources = Object.fromEntries(
  readdirSync(join(here, "pictures")).map((file) => [file, readFileSync(join(here, "pictures", file), "utf8")]),
);
const inert = (value) => JSON.stringify(value).replaceAll("<", "\\u003c"); // may stand inside an element of HTML
const [script, worker, style] = await Promise.all([bundled("main.js"), bundled("worker.js"), bundled("style.css")]);
const hash = createHash("sha256").update(script).digest("base64");
// the one script of a report, which a frame of this page runs only if this page's own policy allows it too
const [report_hash] = /sha256-[^"]+/.exec(readFileSync(join(here, "../programs/common/report/page_script.hpp"), "utf8"));
const packed = (module) => gzipSync(readFileSync(module), { level: 9 }).toString("base64");
const parts = {
  policy:
    `default-src 'none'; script-src 'sha256-${hash}' '${report_hash}' 'wasm-unsafe-eval' blob:; worker-src blob:; ` +
    "style-src 'unsafe-inline'; img-src data: blob:; frame-src blob:",
  style,
  script,
  worker: inert(worker),
  wasm: packed(`${stem}.wasm`),
  programs_worker: programs ? inert(await bundled("work/worker.js")) : "",
  programs_wasm: programs ? packed(`${programs}.wasm`) : "",
  gnuplot_wasm: programs ? packed(join(modules, "gnuplot-wasm/src/gnuplot.wasm")) : "",
  sources: inert(sources),
  licences: inert(licences()),
};
const html = readFileSync(join(here, "page/index.html"), "utf8").replace(/\{\{(\w+)\}\}/g, (_, name) => parts[name]);
writeFileSync(out, html);
console.log(`${out}: ${(html.length / 1e6).toFixed(2)} MB`);
