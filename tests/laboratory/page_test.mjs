// SPDX-License-Identifier: MIT
// The page in headless Chromium, without a network: every picture is dragged and its numbers are those of the native
// program. LABORATORY_FOLDER is where the page was built, LABORATORY_TERMINAL the native program.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { at_rest, complaints, control, drag, folder, judge_access, judge_width, number, open, page, shows, value } from "./browser.mjs";

const terminal = process.env.LABORATORY_TERMINAL;
const native = (picture, question) => JSON.parse(execFileSync(terminal, [picture, JSON.stringify(question)], { maxBuffer: 1e8 }));

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

test("a look-up: the surface turns", { timeout: 60000 }, async () => {
  await open("look-up");
  const canvas = page.locator('[data-surface="surface"] canvas');
  await canvas.scrollIntoViewIfNeeded();
  const first = await at_rest(canvas);
  await page.getByRole("button", { name: "Turn left" }).click();
  assert.equal((await at_rest(canvas)).equals(first), false);
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

const ids = ["look-up", "smoothing", "tip-in", "wall-film", "two-banks", "one-sensor", "integer-cells", "words"];

test("a word leads to its meaning", async () => {
  await open("wall-film");
  await page.locator("a.word").first().click();
  await page.waitForFunction(() => document.body.dataset.ready === "words");
  await page.getByText("Fuel on the wall of the port").waitFor();
});

test("every picture passes the rules of WCAG 2.1 AA that a machine can check", () => judge_access(ids));

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

test("nothing is wider than the window, from a telephone to 4k", () => judge_width(ids));

test("the page is below 3 MB, asks nothing of a network and complains of nothing", () => {
  const html = readFileSync(join(folder, "laboratory.html"), "utf8");
  assert.ok(html.length < 3e6);
  assert.deepEqual(complaints, []);
});
