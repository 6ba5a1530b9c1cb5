// SPDX-License-Identifier: MIT
// The programs in the page, in headless Chromium without a network: their results are those of the native programs on
// the same files. NATIVE is the folder of the native programs, LABORATORY_FOLDER where the page was built.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { complaints, drawn, folder, hold_programs, judge_access, judge_width, modules, open, open_without_gnuplot, page } from "./browser.mjs";
import { differences } from "./summaries.mjs";

const { strFromU8, unzipSync } = modules("fflate");
let scratch;
before(() => (scratch = mkdtempSync(join(tmpdir(), "laboratory-"))));
after(() => rmSync(scratch, { recursive: true, force: true }));

function run_native(folder, program, ...words) {
  return spawnSync(join(process.env.NATIVE, program), words, { cwd: join(scratch, folder), encoding: "utf8", maxBuffer: 1e8 });
}

/** The page as it is when it has just been opened, without what an earlier test gave it. */
async function open_anew() {
  await page.goto("about:blank");
  await open("work");
}

/** Drops files on the page as a hand would, under these names. */
async function drop(files) {
  await page.locator('input[name="files"]').setInputFiles(files);
  await page.waitForFunction((count) => document.querySelectorAll(".given li").length >= count, files.length);
}
const below = (path) => readdirSync(join(scratch, path)).map((name) => join(scratch, path, name)).filter((entry) => statSync(entry).isFile());

/** What a link of the page saves. */
async function saved(link) {
  const [download] = await Promise.all([page.waitForEvent("download"), link.click()]);
  return readFileSync(await download.path());
}

/** Presses Run; what the page offers to save, by path: all of it in one archive, as a browser does not save dozens of files
 * one after the other without asking, and the first file by itself. */
async function run() {
  await page.getByRole("button", { name: "Run", exact: true }).click();
  await page.locator(".result [data-seconds], .result [data-failure]").waitFor({ timeout: 900000 });
  const links = await page.locator(".result .files a").all();
  if (links.length === 0) return {};
  const archive = unzipSync(await saved(page.getByRole("link", { name: /^Save all as/ })));
  const offered = Object.fromEntries(Object.entries(archive).map(([path, bytes]) => [path, strFromU8(bytes)]));
  assert.deepEqual(await Promise.all(links.map((link) => link.textContent())), Object.keys(offered));
  assert.equal(String(await saved(links[0])), Object.values(offered)[0]);
  return offered;
}

/** The numbers of a text in order, as they are written, and the text between them. */
const number = /-?\d+(?:\.\d+)?(?:e[+-]?\d+)?/g;
const parts = (text) => ({ numbers: text.match(number) ?? [], words: text.replace(number, "#") });

/** One unit of the last digit that is written. */
const last_digit = (written) => 10 ** (Number(written.split("e")[1] ?? 0) - (written.split("e")[0].split(".")[1]?.length ?? 0));

/** Both texts say the same. What differs by 1e-6 before it is rounded may fall to either side: one number in twenty may be
 * another by one unit of its last digit. */
function assert_same(in_page, native, name) {
  const page_parts = parts(in_page), native_parts = parts(native);
  assert.equal(page_parts.words, native_parts.words, name);
  const others = page_parts.numbers.map((written, i) => [written, native_parts.numbers[i]]).filter(([a, b]) => a !== b);
  const apart = others.filter(([a, b]) => Math.abs(a - b) > 1e-6 * Math.abs(b) + 1.01 * Math.max(last_digit(a), last_digit(b)));
  assert.deepEqual(apart, [], name);
  assert.ok(others.length <= 0.05 * page_parts.numbers.length, `${name}: ${others.length} of ${page_parts.numbers.length} numbers differ: ${others.slice(0, 5)}`);
}

/** The same of a summary, which has all digits. Standard errors, and what follows from them, amplify the last digit, in the
 * native program as here: examples/laboratory/README.md shows it. */
const hangs_on_errors = /standard_error|gets_pct|left_pct|_after$/;
function assert_same_summary(in_page, native) {
  const beyond = differences(in_page, native).filter(({ place, apart }) => apart > (hangs_on_errors.test(place) ? 1e-6 : 1e-9));
  assert.deepEqual(beyond, []);
}

const assert_same_file = (in_page, native, path) => path.endsWith("summary.json") ? assert_same_summary(in_page, native) :
  assert_same(without_lines(in_page), without_lines(native), path);

/** A report with the words of its pictures in place of the drawing, which another version of gnuplot writes in another
 * order, and without the colours of its numbers. */
const without_lines = (html) => html
  .replace(/<svg[^>]*>.*?<\/svg>/gs, (picture) => picture.match(/^<svg[^>]*>|<text>.*?<\/text>/gs).sort().join("\n"))
  .replace(/#[0-9a-f]{6}\b/g, "");

const count = (html, part) => html.split(part).length - 1;

/** Runs a program here and in the page on the same files: equal exit codes, file names and contents. */
async function assert_as_native(program, given, out, words = []) {
  const { status } = run_native(given, program, "session.json", "--out", out, ...words);
  await open_anew();
  await page.locator(`input[data-control="job"][value="${program}"]`).check();
  await drop(below(given));
  const saved = await run();
  assert.equal(await page.locator("[data-code]").getAttribute("data-code"), String(status));
  const names = below(join(given, out)).map((path) => `${out}/${path.split("/").pop()}`);
  assert.deepEqual(Object.keys(saved).sort(), names.sort());
  for (const [path, text] of Object.entries(saved)) {
    const native = readFileSync(join(scratch, given, path), "utf8");
    assert_same_file(text, native, path);
  }
}

test("the demo is made, corrected and shown as on a terminal", { timeout: 900000 }, async () => {
  run_native(".", "virtual_engine", "--out", "demo", "--drive", "stage", "--minutes", "15");
  await open_anew();
  await page.getByRole("button", { name: "Take the demo" }).click();
  await page.getByRole("button", { name: "Run", exact: true, disabled: false }).waitFor({ timeout: 120000 });
  const in_page = await run();
  await assert_as_native("correct_map", "demo", "corrected");
  for (const [path, text] of Object.entries(in_page))
    assert_same_file(text, readFileSync(join(scratch, "demo", path), "utf8"), path);
  assert.ok(count(in_page["corrected/report.html"], "<figure>") >= 3);
  const report = page.frameLocator("iframe.report");
  assert.equal(await report.locator(".answers dd").count(), 3);
  await report.getByRole("button", { name: "Needed", exact: true }).click(); // the report's own script runs
  assert.equal(await report.locator('.option[data-name="Needed"]').isVisible(), true);
});

test("trims are those of the native program", { timeout: 900000 }, async () => {
  run_native(".", "virtual_engine", "--out", "pipes", "--seed", "3", "--minutes", "1", "--rotated-runs", "2");
  await assert_as_native("trim_cylinders", "pipes", "trims");
});

test("the plan of a second bank is that of the native program", { timeout: 900000 }, async () => {
  run_native(".", "virtual_engine", "--out", "banks", "--minutes", "1");
  await assert_as_native("stage_banks", "banks", "staging");
});

test("without gnuplot the report says what its pictures would show", { timeout: 120000 }, async () => {
  const native = readFileSync(join(scratch, "banks/staging/report.html"), "utf8");
  await open_without_gnuplot();
  await page.locator('input[data-control="job"][value="stage_banks"]').check();
  await drop(below("banks"));
  const report = (await run())["staging/report.html"];
  assert.equal(count(report, "<figure>"), 0);
  assert.equal(count(report, '<p class="missing">'), count(native, "<figure>"));
});

test("what cannot be read is refused in the program's own words", async () => {
  run_native(".", "virtual_engine", "--out", "bad", "--minutes", "0.5");
  const log = readFileSync(join(scratch, "bad/stage.csv"), "utf8").split("\n");
  log[20] = log[20].replace(/[^,]+,/, "twelve,");
  writeFileSync(join(scratch, "bad/stage.csv"), log.join("\n"));
  const { stderr, status } = run_native("bad", "correct_map", "session.json", "--out", "corrected");
  assert.equal(status, 2);
  await open_anew();
  await drop(below("bad"));
  assert.deepEqual(await run(), {});
  assert.equal(await page.locator("[data-failure]").textContent(), stderr.trim());
});

test("a run is cancelled, and a tab that works asks before it closes", { timeout: 60000 }, async () => {
  await open_anew();
  await drop(below("demo"));
  await page.getByRole("button", { name: "Run", exact: true }).click();
  await page.locator("progress").waitFor();
  const dialog_type = new Promise((done) => page.once("dialog", (dialog) => done(dialog.type(), dialog.dismiss())));
  await page.close({ runBeforeUnload: true });
  assert.equal(await dialog_type, "beforeunload");
  await page.getByRole("button", { name: "Cancel" }).click();
  await page.getByText("Cancelled. Nothing was written.").waitFor();
});

test("a run that is cancelled while the programs are unpacked does not begin", { timeout: 60000 }, async () => {
  const { release, unpacked } = await hold_programs();
  await page.evaluate(() => (location.hash = "work"));
  await page.getByRole("button", { name: "Take the demo" }).click();
  await page.getByRole("button", { name: "Cancel" }).click();
  await page.getByRole("button", { name: "Take the demo", disabled: false }).waitFor();
  let begun = 0;
  page.on("worker", () => ++begun);
  await release();
  await unpacked();
  await drawn();
  assert.equal(begun, 0);
});

test("programs that could not be unpacked are unpacked again when a run needs them", { timeout: 120000 }, async () => {
  const { fail } = await hold_programs();
  await page.evaluate(() => (location.hash = "work"));
  await page.getByRole("button", { name: "Take the demo" }).click();
  await fail("no memory left");
  await page.getByRole("alert").getByText("virtual_engine: no memory left").waitFor();
  await page.getByRole("button", { name: "Take the demo", disabled: false }).click();
  await page.getByRole("button", { name: "Run", exact: true, disabled: false }).waitFor({ timeout: 100000 });
});

test("what a log of a gigabyte takes is said before it is read", async () => {
  await open_anew();
  await page.evaluate(() => {
    const files = new DataTransfer();
    const log = new File([], "stage.csv");
    Object.defineProperty(log, "size", { value: 1e9 });
    files.items.add(log);
    Object.defineProperty(files, "files", { value: [log] });
    const drop = new Event("drop");
    Object.defineProperty(drop, "dataTransfer", { value: { items: [], files: [log] } });
    document.querySelector(".drop").dispatchEvent(drop);
  });
  await page.getByText("takes about 6.0 GB of memory; a page can have 4 GB").waitFor();
});

test("the rules of WCAG 2.1 AA that a machine can check hold, and nothing is wider than the window", async () => {
  await judge_access(["work"]);
  await judge_width(["work"]);
});

test("the page is below 3 MB and complains of nothing", () => {
  assert.ok(statSync(join(folder, "laboratory.html")).size < 3e6);
  assert.deepEqual(complaints, []);
});
