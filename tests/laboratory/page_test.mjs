// SPDX-License-Identifier: MIT
// The page in headless Chromium, without a network: every picture is dragged and its numbers are those of the native
// program; the programs on files give what they give natively. LABORATORY_FOLDER is where the page was built, PROGRAMS
// the folder of the native programs.
import assert from "node:assert/strict";
import { execFileSync, spawnSync } from "node:child_process";
import { cpSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { networkInterfaces, tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";

const folder = process.env.LABORATORY_FOLDER, programs = process.env.PROGRAMS;
const terminal = join(programs, "laboratory_terminal");
const page_url = `file://${join(folder, "laboratory.html")}`;
const modules = createRequire(join(folder, "node_modules", "any.js"));
const { chromium } = modules("playwright-core");
const axe = readFileSync(modules.resolve("axe-core/axe.min.js"), "utf8");
const switches = ["--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"];

let profile, browser, page;
const complaints = [];

before(async () => {
  profile = mkdtempSync(join(tmpdir(), "laboratory-"));
  browser = await chromium.launchPersistentContext(profile, { executablePath: process.env.CHROMIUM, args: switches,
    viewport: { width: 1280, height: 900 }, timeout: 60000 });
  page = await browser.newPage();
  page.on("console", (message) => ["error", "warning"].includes(message.type()) && complaints.push(message.text()));
  page.on("pageerror", (error) => complaints.push(error.message));
});
after(async () => {
  await browser?.close();
  rmSync(profile, { recursive: true, force: true });
});

const native = (picture, question) => JSON.parse(execFileSync(terminal, [picture, JSON.stringify(question)], { maxBuffer: 1e8 }));

async function open(id) {
  await page.goto(`${page_url}#${id}`);
  await page.waitForFunction((wanted) => document.body.dataset.ready === wanted, id);
}

/** The exact number behind what the page shows under this name. */
async function number(name) {
  const text = await page.locator(`output[data-name="${name}"]`).getAttribute("data-value");
  return text === "" ? null : Number(text);
}

async function shows(name, expected) {
  await page.waitForFunction(([key, wanted]) => {
    const text = document.querySelector(`output[data-name="${key}"]`)?.dataset.value;
    return text !== undefined && Math.abs(Number(text) - wanted) <= 1e-9 * Math.abs(wanted);
  }, [name, expected], { timeout: 10000 }).catch(async () =>
    assert.fail(`${name}: the page shows ${await number(name)}, the native program says ${expected}`));
}

const control = (name) => page.locator(`input[name="${name}"]`);
const value = async (name) => Number(await control(name).inputValue());

/** Drags a slider to about this part of its way, as a hand would; returns where it came to rest. */
async function drag(name, part) {
  const slider = control(name);
  await slider.scrollIntoViewIfNeeded();
  const box = await slider.boundingBox();
  const from = await slider.evaluate((input) => (input.value - input.min) / (input.max - input.min));
  const x = (at) => box.x + 9 + at * (box.width - 18), y = box.y + box.height / 2;
  const before = await value(name);
  await page.mouse.move(x(from), y);
  await page.mouse.down();
  await page.mouse.move(x((from + part) / 2), y);
  await page.mouse.move(x(part), y);
  await page.mouse.up();
  const now = await value(name);
  assert.notEqual(now, before, `dragging ${name} moved nothing`);
  return now;
}

test("there is no network here", { skip: process.env.LABORATORY_ONLINE }, () => {
  assert.deepEqual(Object.keys(networkInterfaces()).filter((name) => name !== "lo"), []);
});

test("a look-up: the point is dragged and moved by keys, beyond the ends it is refused when asked", async () => {
  await open("look-up");
  const plane = page.locator('svg[data-drawing="look_up"]');
  await plane.scrollIntoViewIfNeeded();
  const box = await plane.boundingBox();
  await page.mouse.move(box.x + 200, box.y + 200);
  await page.mouse.down();
  await page.mouse.move(box.x + 300, box.y + 120);
  await page.mouse.move(box.x + 350, box.y + 90);
  await page.mouse.up();
  const at = async (outside) => native("look_up", { speed_rpm: await value("speed_rpm"), throttle_pct: await value("throttle_pct"), outside });
  const dragged = await at("hold");
  assert.notEqual(await value("speed_rpm"), 3100);
  await shows("value_mg", dragged.value_mg);
  await shows("slope_mg_per_pct", dragged.slope_mg_per_pct);
  await page.locator('[data-handle="point"]').focus();
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("ArrowUp");
  const moved = await at("hold");
  assert.notEqual(moved.value_mg, dragged.value_mg);
  await shows("value_mg", moved.value_mg);
  await drag("speed_rpm", 1);
  await page.locator('input[data-control="outside"][value="extend"]').check();
  await shows("value_mg", (await at("extend")).value_mg);
  await page.locator('input[data-control="outside"][value="refuse"]').check();
  await page.waitForFunction(() => document.querySelector('output[data-name="value_mg"]').textContent === "–");
  assert.equal((await at("refuse")).value_mg, null);
});

test("a look-up: the surface turns", async () => {
  await open("look-up");
  const canvas = page.locator('[data-surface="surface"] canvas');
  await canvas.scrollIntoViewIfNeeded();
  await page.waitForTimeout(1500);
  const first = await canvas.screenshot();
  await page.getByRole("button", { name: "Turn left" }).click();
  await page.waitForTimeout(1500);
  assert.notDeepEqual(await canvas.screenshot(), first);
});

test("smoothing: REML's choice, and a slider that overrules it", async () => {
  await open("smoothing");
  const question = async (log10_strength) => ({ seed: 7, count: await value("count"), noise_mg: await value("noise_mg"), log10_strength });
  const chosen = native("smoothing", await question(null));
  for (const name of ["strength", "effective_parameters", "noise_mg", "rms_error_mg"])
    await shows(name, chosen[name]);
  const by_hand = native("smoothing", await question(await drag("log10_strength", 0.8)));
  assert.equal(await control("by_reml").isChecked(), false);
  for (const name of ["strength", "effective_parameters", "rms_error_mg"]) await shows(name, by_hand[name]);
  await shows("inside_95", 100 * by_hand.inside_95);
});

test("a tip-in: pipe and lag are dragged, the moment is moved", async () => {
  await open("tip-in");
  await drag("pipe_gas_mass_g", 0.9);
  await drag("lag_s", 0.5);
  const question = { speed_rpm: await value("speed_rpm"), revolutions: await value("revolutions"),
    pipe_gas_mass_g: await value("pipe_gas_mass_g"), lag_s: await value("lag_s") };
  const answer = native("tip_in", question);
  for (const name of ["delay_shut_s", "delay_open_s", "arrives_s"]) await shows(name, answer[name]);
  await drag("row", 0.4);
  await shows("read_now", answer.lambda_read[Math.round((await value("row")) / 0.0025)]);
});

test("the wall film: without compensation and with a wrong one", async () => {
  await open("wall-film");
  await drag("deposited", 0.8);
  const question = async (is_compensated) => ({ speed_rpm: await value("speed_rpm"), is_compensated,
    film: { deposited: (await value("deposited")) / 100, evaporation_ms: await value("evaporation_ms") },
    assumed: { deposited: Math.min(95, (await value("deposited")) * (1 + (await value("share_error")) / 100)) / 100,
      evaporation_ms: (await value("evaporation_ms")) * (1 + (await value("time_error")) / 100) } });
  const plain = native("wall_film", await question(false));
  await shows("leanest", plain.leanest);
  await shows("richest", plain.richest);
  await page.getByText("Compensated by the controller").click();
  await drag("share_error", 0.2);
  const wrong = native("wall_film", await question(true));
  await shows("leanest", wrong.leanest);
  await shows("richest", wrong.richest);
});

test("two banks: at once, blended, compensated", async () => {
  await open("two-banks");
  await drag("film_error", 0.9);
  const answer = native("two_banks", { speed_rpm: await value("speed_rpm"), film_error: (await value("film_error")) / 100,
    allowed_error: (await value("allowed_error")) / 100, excursion: (await value("excursion")) / 100 });
  for (const way of ["at_once", "blended", "compensated"]) await shows(way, 100 * answer[way].excursion);
  await shows("fastest_per_s", 100 * answer.fastest_per_s);
});

test("one sensor: faster until it is refused with a reason, and sensors rotate until all is identifiable", async () => {
  await open("one-sensor");
  await drag("speed_rpm", 0.95);
  const lambda = [];
  for (let i = 1; i <= 5; ++i) lambda.push(await value(`lambda_${i}`));
  const answer = native("collector", { speed_rpm: await value("speed_rpm"), lag_s: (await value("lag_s")) / 1000,
    noise: (await value("noise")) / 100, cycles: await value("cycles"), lambda });
  for (const name of ["weakest_gain", "delay_events", "highest_rpm", "collector_lambda"]) await shows(name, answer[name]);
  await page.getByText(answer.refusal).waitFor();
  await drag("runs", 1);
  await page.getByText("5 of 5 cylinders are identifiable").waitFor();
});

test("integer cells: a span is dragged, 16 bits are chosen", async () => {
  await open("integer-cells");
  const question = async (bits) => ({ bits, lowest_mg: await value("lowest_mg"), highest_mg: await value("highest_mg"),
    speed_rpm: await value("speed_rpm"), last_pct: await value("last_pct") });
  await drag("highest_mg", 0.8);
  const coarse = native("integer_cells", await question(8));
  for (const name of ["unit_mg", "bytes", "worst_pct"]) await shows(name, coarse[name]);
  await page.locator('input[data-control="bits"][value="16"]').check();
  const fine = native("integer_cells", await question(16));
  for (const name of ["unit_mg", "bytes", "worst_pct"]) await shows(name, fine[name]);
});

/** Runs a program natively; its standard error. */
function run_native(program, ...words) {
  const { status, stderr } = spawnSync(join(programs, program), words, { encoding: "utf8" });
  return { status, stderr };
}

/** What the virtual engine leaves for a tuner, in a folder of this name. */
function session_of(name, ...words) {
  const made = join(profile, name);
  assert.equal(run_native("virtual_engine", "--out", made, ...words).status, 0);
  rmSync(join(made, "truth"), { recursive: true });
  return made;
}

/** The page's results on a folder, by name, as text. */
async function page_results(program, session_folder) {
  await open("work");
  await page.locator(`input[data-control="program"][value="${program}"]`).check();
  await page.locator('[data-pick="folder"]').setInputFiles(session_folder);
  await page.locator('[data-action="run"]').click();
  await page.waitForFunction(() => document.querySelector("[data-result] a") || document.querySelector(".failure"), null, { timeout: 300000 });
  assert.equal(await page.locator(".failure").count(), 0, await page.locator(".failure").allTextContents().then(String));
  const results = {};
  for (const link of await page.locator("[data-result] .files a").all()) {
    const [download] = await Promise.all([page.waitForEvent("download"), link.click()]);
    results[await link.textContent()] = readFileSync(await download.path(), "utf8");
  }
  return results;
}

/** All numbers of a summary, with the way to each; percentages as the factors they stand for. */
function numbers_in(value, way = "") {
  if (typeof value === "number") return [[way, way.includes("pct") ? 1 + value / 100 : value]];
  if (value === null || typeof value !== "object") return [];
  return Object.entries(value).flatMap(([key, inner]) => numbers_in(inner, `${way}/${key}`));
}

/** Every number of a text, the words between them, and the unit of each number's last decimal. */
function split_numbers(text) {
  const number = /-?\d+(?:\.\d+)?(?:e[+-]?\d+)?/g;
  return { words: text.split(number), values: text.match(number) ?? [] };
}

/** Files agree: the same words, and numbers equal to 1e-9, but for a rounding to the last decimal that fell the other way. */
function assert_alike(name, ours, theirs) {
  const a = split_numbers(ours), b = split_numbers(theirs);
  assert.deepEqual(a.words, b.words, name);
  let rounded_otherwise = 0;
  a.values.forEach((text, i) => {
    const off = Math.abs(Number(text) - Number(b.values[i])), size = Math.abs(Number(b.values[i]));
    if (off <= 1e-9 * size) return;
    const decimals = Math.max(...[text, b.values[i]].map((digits) => (digits.split(".")[1] ?? "").length));
    assert.ok(off <= 1.001 * 10 ** -decimals, `${name}: ${text} in the page, ${b.values[i]} natively`);
    ++rounded_otherwise;
  });
  assert.ok(rounded_otherwise <= 0.01 * a.values.length, `${name}: ${rounded_otherwise} numbers were rounded otherwise`);
}

/** The page and the native program leave the same files, numbers equal to 1e-9. */
async function assert_same_results(program, session_folder) {
  const out = join(profile, `${program}-out`);
  const status = run_native(program, join(session_folder, "session.json"), "--out", out).status;
  assert.ok(status === 0 || status === 3, `${program} ended with ${status}`);
  const results = await page_results(program, session_folder);
  assert.deepEqual(Object.keys(results).sort(), readdirSync(out).sort());
  const ours = numbers_in(JSON.parse(results["summary.json"])), theirs = numbers_in(JSON.parse(readFileSync(join(out, "summary.json"), "utf8")));
  assert.deepEqual(ours.map(([way]) => way), theirs.map(([way]) => way));
  ours.forEach(([way, value], i) => {
    const expected = theirs[i][1];
    assert.ok(Math.abs(value - expected) <= 1e-9 * Math.max(Math.abs(expected), 1e-3), `${program}${way}: ${value} in the page, ${expected} natively`);
  });
  for (const name of readdirSync(out).filter((file) => file.endsWith(".csv")))
    assert_alike(`${program}: ${name}`, results[name], readFileSync(join(out, name), "utf8"));
}

/** What virtual_engine and correct_map leave natively for one drive: the folders of both. */
function native_drive(minutes, seed) {
  const made = join(profile, `drive-${minutes}-${seed}`), done = join(profile, `corrected-${minutes}-${seed}`);
  assert.equal(run_native("virtual_engine", "--out", made, "--drive", "stage", "--minutes", minutes, "--seed", seed).status, 0);
  assert.equal(run_native("correct_map", join(made, "session.json"), "--out", done).status, 0);
  return { made, done };
}

// These pictures drive the virtual engine in the page, and the sine of another C library may differ in its last digit: a
// log entry that is rounded the other way then changes results beyond 1e-9. Percentages are compared to two decimals.
test("a drive corrects a map: every cell says what correct_map says natively, pointed at or reached by keys", async () => {
  await open("one-drive");
  const minutes = await drag("minutes", 0.02);
  await page.locator('[data-action="drive"]').click();
  await page.waitForFunction(() => document.querySelector(".stage").dataset.driven, null, { timeout: 120000 });
  const { cells } = JSON.parse(readFileSync(join(native_drive(minutes, 1).done, "summary.json"), "utf8"));
  const plane = page.locator('svg[data-drawing="cells"]');
  const same = async () => {
    const [, rpm, pct] = /^([\d.]+) rpm, ([\d.]+) %/.exec(await page.locator('output[data-name="cell"]').textContent());
    const cell = Object.values(cells).flat().find((one) => one.rpm === Number(rpm) && one.throttle_pct === Number(pct));
    for (const name of ["needs_pct", "gets_pct", "left_pct", "standard_error_pct"])
      assert.ok(Math.abs((await number(name)) - cell[name]) < 0.005, `${rpm} ${pct} ${name}: ${await number(name)}, natively ${cell[name]}`);
    return rpm;
  };
  const first = await same();
  await plane.focus();
  await page.keyboard.press("ArrowRight");
  assert.notEqual(await same(), first);
  const box = await plane.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + 100);
  await same();
});

test("one log, three methods: another delay, truth hidden and shown", async () => {
  await open("same-log");
  await drag("minutes", 0.02);
  await page.locator('[data-action="drive"]').click();
  await page.waitForFunction(() => document.querySelector(".stage").dataset.delay, null, { timeout: 120000 });
  assert.equal(await number("identified_rms"), null);
  await page.getByText("Show the truth").click();
  const first = await number("nearest_rms");
  assert.ok((await number("identified_rms")) < (await number("fixed_delay_rms")));
  assert.ok((await number("fixed_delay_rms")) < first);
  await drag("delay_s", 0.9);
  await page.waitForFunction((old) => Number(document.querySelector('output[data-name="nearest_rms"]').dataset.value) !== old, first);
});

test("work: correct_map gives what it gives natively, and the report opens beside it", async () => {
  await assert_same_results("correct_map", session_of("stage", "--drive", "stage", "--minutes", "3"));
  await page.frameLocator("iframe.report").getByRole("heading", { level: 1 }).waitFor();
});

test("work: trim_cylinders gives what it gives natively", async () => {
  await assert_same_results("trim_cylinders", session_of("pipes", "--minutes", "1", "--rotated-runs", "2"));
});

test("work: stage_banks gives what it gives natively", async () => {
  await assert_same_results("stage_banks", join(profile, "stage"));
});

test("work: a file that is missing is named by the program's own sentence", async () => {
  const part = join(profile, "part");
  mkdirSync(part);
  cpSync(join(profile, "stage", "session.json"), join(part, "session.json"));
  const expected = run_native("correct_map", join(part, "session.json"), "--out", join(profile, "nothing")).stderr.trim().replaceAll(`${part}/`, "");
  await open("work");
  await page.locator('[data-pick="folder"]').setInputFiles(part);
  await page.locator('[data-action="run"]').click();
  await page.locator(".failure").waitFor();
  assert.equal(await page.locator(".failure").textContent(), expected);
});

test("work: the demo is made in the page, a run is cancelled, another asks before unsaved results are lost", async () => {
  await open("work");
  await drag("demo_minutes", 0.05);
  await page.locator('[data-action="demo"]').click();
  await page.getByText("The demo is ready").waitFor({ timeout: 60000 });
  await page.locator('[data-action="run"]').click();
  await page.locator('[data-action="cancel"]').click();
  await page.getByText("Cancelled. Nothing was changed.").waitFor();
  await page.locator('[data-action="run"]').click();
  await page.locator("[data-printed]").waitFor({ timeout: 120000 });
  const asked = page.waitForEvent("dialog");
  page.reload().catch(() => {});
  const dialog = await asked;
  assert.equal(dialog.type(), "beforeunload");
  await dialog.accept();
});

const ids = ["look-up", "smoothing", "tip-in", "wall-film", "one-drive", "same-log", "two-banks", "one-sensor", "integer-cells", "work", "words"];

test("a word leads to its meaning", async () => {
  await open("wall-film");
  await page.locator("a.word").first().click();
  await page.waitForFunction(() => document.body.dataset.ready === "words");
  await page.getByText("Fuel on the wall of the port").waitFor();
});

test("every picture passes the rules of WCAG 2.1 AA that a machine can check", async () => {
  for (const id of ids) {
    await open(id);
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"] }));
    assert.deepEqual(violations.map(({ id: rule, nodes }) => `${rule}: ${nodes.map((node) => node.html).join(" ")}`), [], id);
  }
});

test("keys alone reach the controls and move them", async () => {
  await open("wall-film");
  await page.locator("#main").focus();
  const reached = new Set();
  for (let i = 0; i < 25; ++i) {
    await page.keyboard.press("Tab");
    reached.add(await page.evaluate(() => document.activeElement.getAttribute("name") ?? document.activeElement.textContent));
  }
  for (const name of ["moment", "is_compensated", "deposited", "evaporation_ms", "speed_rpm"]) assert.ok(reached.has(name), `${name} is not reached`);
  const before = await number("leanest");
  await control("deposited").focus();
  for (let i = 0; i < 5; ++i) await page.keyboard.press("ArrowRight");
  await page.waitForFunction((old) => Number(document.querySelector('output[data-name="leanest"]').dataset.value) > old, before);
});

test("nothing is wider than the window, from a telephone to 4k", async () => {
  for (const width of [390, 1280, 3840]) {
    await page.setViewportSize({ width, height: 900 });
    for (const id of ids) {
      await open(id);
      await page.waitForTimeout(150);
      assert.equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, `${id} at ${width}`);
    }
  }
});

test("the page is below 3 MB, asks nothing of a network and complains of nothing", () => {
  const html = readFileSync(join(folder, "laboratory.html"), "utf8");
  assert.ok(html.length < 3e6);
  assert.deepEqual(complaints, []);
});
