// SPDX-License-Identifier: MIT
// A page of the laboratory in headless Chromium, for its tests. LABORATORY_FOLDER is where the page was built.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { networkInterfaces, tmpdir } from "node:os";
import { join } from "node:path";
import assert from "node:assert/strict";
import { after, before, test } from "node:test";

export const folder = process.env.LABORATORY_FOLDER;
const page_url = `file://${join(folder, "laboratory.html")}`;
export const modules = createRequire(join(folder, "node_modules", "any.js"));
const { chromium } = modules("playwright-core");
const axe = readFileSync(modules.resolve("axe-core/axe.min.js"), "utf8");
const switches = ["--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
  "--disable-component-update", "--disable-sync",
  "--disable-gpu", "--enable-unsafe-swiftshader"]; // pages are drawn without a graphics processor, surfaces by one in software
// what that one says of its own speed when a surface is shown
const of_speed = /^\[\.WebGL-\w+\]GL Driver Message \(OpenGL, Performance, /;

let profile, browser;
export let page;
export const complaints = [];

before(async () => {
  profile = mkdtempSync(join(tmpdir(), "laboratory-"));
  // Chromium asks, now and then, before a page saves one file after another; here nobody answers
  mkdirSync(join(profile, "Default"));
  writeFileSync(join(profile, "Default", "Preferences"),
    JSON.stringify({ profile: { default_content_setting_values: { automatic_downloads: 1 } } }));
  browser = await chromium.launchPersistentContext(profile, { executablePath: process.env.CHROMIUM, args: switches,
    viewport: { width: 1280, height: 900 }, timeout: 60000 });
  page = await browser.newPage();
  page.on("console", (message) => ["error", "warning"].includes(message.type()) && !of_speed.test(message.text()) &&
    complaints.push(message.text()));
  page.on("pageerror", (error) => complaints.push(error.message));
});
after(async () => {
  await browser?.close();
  rmSync(profile, { recursive: true, force: true });
});

export async function open(id) {
  await page.goto(`${page_url}#${id}`);
  await page.waitForFunction((wanted) => document.body.dataset.ready === wanted, id);
}

/**
 * A page that has just been opened and whose programs are not unpacked until the test says so, or fail once. The page
 * notes in `been_ready` which parts of it were opened from then on.
 */
export async function hold_programs() {
  await page.addInitScript(() => {
    if (location.search !== "?held" || window.is_held) return;
    window.is_held = true;
    const compile = WebAssembly.compileStreaming.bind(WebAssembly);
    let modules = 0;
    WebAssembly.compileStreaming = async (source) => {
      const wait = ++modules === 2 && new Promise((go, failed) => Object.assign(window, { go, failed }));
      window.unpacked = (async () => (await wait, compile(source)))();
      return window.unpacked;
    };
  });
  await page.goto("about:blank");
  await page.goto(`${page_url}?held#wall-film`);
  await page.waitForFunction(() => document.body.dataset.ready === "wall-film");
  await page.evaluate(() => {
    window.been_ready = [];
    new MutationObserver(() => document.body.dataset.ready && window.been_ready.push(document.body.dataset.ready))
      .observe(document.body, { attributes: true, attributeFilter: ["data-ready"] });
  });
  return {
    release: () => page.evaluate(() => window.go()),
    fail: (words) => page.evaluate((why) => window.failed(new Error(why)), words),
    unpacked: () => page.evaluate(() => window.unpacked.then(() => true)),
  };
}

/** The part of the page that runs programs, where the module that draws the pictures of reports cannot be compiled. */
export async function open_without_gnuplot() {
  await page.addInitScript(() => {
    if (location.search !== "?undrawn") return;
    const compile = WebAssembly.compileStreaming.bind(WebAssembly);
    let modules = 0;
    WebAssembly.compileStreaming = async (source) => {
      if (++modules > 2) throw new Error("no memory left"); // the library and the programs come first
      return compile(source);
    };
  });
  await page.goto("about:blank");
  await page.goto(`${page_url}?undrawn#work`);
  await page.waitForFunction(() => document.body.dataset.ready === "work");
}

/** When all that the page has changed so far is drawn. */
export const drawn = () => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));

/** A picture of what no longer moves. */
export async function at_rest(place) {
  await drawn();
  for (let last = await place.screenshot(); ;) {
    const now = await place.screenshot();
    if (now.equals(last)) return now;
    last = now;
  }
}

/** The exact number behind what the page shows under this name. */
export async function number(name) {
  const text = await page.locator(`output[data-name="${name}"]`).getAttribute("data-value");
  return text === "" ? null : Number(text);
}

export async function shows(name, expected, closeness = 1e-9) {
  await page.waitForFunction(([key, wanted, close]) => {
    const text = document.querySelector(`output[data-name="${key}"]`)?.dataset.value;
    return text !== undefined && Math.abs(Number(text) - wanted) <= close * Math.abs(wanted);
  }, [name, expected, closeness], { timeout: 60000 }).catch(async () =>
    assert.fail(`${name}: the page shows ${await number(name)}, the native program says ${expected}`));
}

export const control = (name) => page.locator(`input[name="${name}"]`);
export const value = async (name) => Number(await control(name).inputValue());

/** Drags a slider to about this part of its way, as a hand would; returns where it came to rest. */
export async function drag(name, part) {
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

/** What a machine can check of WCAG 2.1 AA, and of width from a telephone to 4k, on these parts of the page. */
export async function judge_access(ids) {
  for (const id of ids) {
    await open(id);
    await page.evaluate(axe);
    const { violations } = await page.evaluate(() => axe.run({ runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"] }));
    assert.deepEqual(violations.map(({ id: rule, nodes }) => `${rule}: ${nodes.map((node) => node.html).join(" ")}`), [], id);
  }
}
export async function judge_width(ids) {
  for (const width of [390, 1280, 3840]) {
    await page.setViewportSize({ width, height: 900 });
    for (const id of ids) {
      await open(id);
      await drawn();
      assert.equal(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), true, `${id} at ${width}`);
    }
  }
  await page.setViewportSize({ width: 1280, height: 900 });
}
