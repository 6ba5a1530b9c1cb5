# SPDX-License-Identifier: MIT
"""report_test.py VIRTUAL_ENGINE CORRECT_MAP TRIM_CYLINDERS STAGE_BANKS COMPARE_PASSES: what a reader meets in the reports, in headless Chromium.

At the width of a laptop and of a telephone: the three answers stand on the first screen, nothing is wider than the
screen, a cell that is tapped shows its values in every map, and the print has everything, with and without the script.
"""
import base64
import pathlib
import subprocess
import sys
import tempfile

from selenium import webdriver
from selenium.common.exceptions import SessionNotCreatedException
from selenium.webdriver.common.by import By

FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--hide-scrollbars",
         "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-dev-shm-usage"]
failures = []


def expect(holds, what):
    print(("ok      " if holds else "FAILED  ") + what, flush=True)
    if not holds:
        failures.append(what)


def run(*words):
    done = subprocess.run([str(word) for word in words], capture_output=True, text=True)
    if done.returncode not in (0, 3):
        sys.exit(f"{words}: {done.returncode}\n{done.stdout}{done.stderr}")
    return done.stdout


class Browser:
    def __init__(self, profile):
        options = webdriver.ChromeOptions()
        options.binary_location = "/usr/bin/chromium"
        for flag in FLAGS + [f"--user-data-dir={profile}"]:
            options.add_argument(flag)
        for attempt in range(3):  # a busy machine may be too slow for the driver's patience
            try:
                self.driver = webdriver.Chrome(options=options)
                return
            except SessionNotCreatedException as problem:
                print(f"attempt {attempt + 1}: {problem.msg}", flush=True)
        sys.exit("chromium does not start")

    def command(self, name, **arguments):
        return self.driver.execute_cdp_cmd(name, arguments)

    def open(self, page, width, script=True, medium=""):
        self.command("Emulation.setDeviceMetricsOverride", width=width, height=844 if width < 500 else 800,
                     deviceScaleFactor=1, mobile=width < 500)
        self.command("Emulation.setScriptExecutionDisabled", value=not script)
        self.command("Emulation.setEmulatedMedia", media=medium)
        self.driver.get(page.as_uri())

    def all(self, css):
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def visible(self, css):
        """Those that take room on the page; asked in one go, as a report has a thousand cells."""
        return self.driver.execute_script(
            "return [...document.querySelectorAll(arguments[0])].filter(x => x.checkVisibility())", css)

    def shown_names(self, css):
        return [element.get_attribute("data-name") for element in self.visible(css)]

    def read(self, script):
        return self.driver.execute_script("return " + script)

    def press(self, words):
        self.driver.execute_script(
            "[...document.querySelectorAll('.bar button')].find(x => x.innerText.startsWith(arguments[0])).click()", words)


def first_screen(browser, width, said):
    answers = [answer.text for answer in browser.visible(".answers dd")]
    lines = [line[7:] for line in said.splitlines()[:3]]
    expect(len(answers) == 3, f"{width}: three answers")
    expect(answers[1:] == lines[1:], f"{width}: the report answers as the terminal does: {answers[1:]}")
    bottom = browser.read("document.querySelector('.answers').getBoundingClientRect().bottom")
    height = browser.read("innerHeight")
    expect(bottom <= height, f"{width}: the answers end at {bottom:.0f} of {height} pixels")
    wide = browser.read("Math.max(innerWidth, document.documentElement.scrollWidth)")
    expect(wide == width, f"{width}: nothing is wider than the screen, the page has {wide}")
    sentences = [caution.text for caution in browser.visible(".cautions li") if caution.text]
    expect(len(sentences) == 2, f"{width}: two cautions in sight, the others folded")


def no_complaint(browser):
    """A script that is not the one allowed is refused here, with the hash that it has."""
    errors = [entry["message"] for entry in browser.driver.get_log("browser") if entry["level"] == "SEVERE"]
    expect(not errors, f"the browser has no complaint {errors or ''}")


def maps(browser, width):
    expect(browser.shown_names(".maps .option") == ["Change"], f"{width}: the change is shown first")
    for name in ("Before", "After", "Needed", "Uncertainty", "Driven", "Change"):
        browser.press(name)
        expect(browser.shown_names(".maps .option") == [name], f"{width}: the button shows {name} alone")
    marked = "[...document.querySelectorAll('.maps [data-name=Change] td[data-mark]')]"
    place = browser.read(f"Math.max(0, {marked}.findIndex(x => x.dataset.mark === 'L'))")
    target = browser.read(f"{marked}[{place}]")
    browser.driver.execute_script("arguments[0].scrollIntoView({block: 'center', inline: 'center'})", target)
    target.click()
    card = [pair.text.split("\n") for pair in browser.visible(".card dl div")]
    for name, value in card:
        own = browser.read(f"document.querySelectorAll('.maps [data-name={name}] tbody td')[{place}].firstChild.nodeValue")
        expect(value.split(" ")[0] == own, f"{width}: tapped, {name} is {value}")
    expect(len(card) == 6, f"{width}: tapped, a cell shows its value in all six maps")
    box = browser.read("(({top, bottom}) => [top, bottom])(document.querySelector('.card').getBoundingClientRect())")
    expect(box[1] > 0 and box[0] < browser.read("innerHeight"), f"{width}: its values are in sight while it is")
    marks = browser.read("[...new Set([...document.querySelectorAll('.maps td[data-mark]')].map(x => x.dataset.mark))]")
    if "n" in marks:
        browser.press("not driven")
        wrong = browser.read("[...document.querySelectorAll('.maps [data-name=Change] td[data-mark]')].filter(x => "
                             "x.classList.contains('dim') === (x.dataset.mark === 'n')).length")
        expect(wrong == 0, f"{width}: cells of one state alone")
        browser.press("all cells")


def paper(browser, page, width, script):
    with_or_without = "with" if script else "without"
    browser.open(page, width, script, "print")
    names = browser.shown_names(".maps .option")
    expect(len(names) == 6, f"on paper {with_or_without} the script: all maps, {names}")
    printed = base64.b64decode(browser.command("Page.printToPDF", printBackground=True)["data"])
    expect(printed.startswith(b"%PDF") and len(printed) > 30000, f"on paper {with_or_without} the script: a PDF")
    heights = [caution.size["height"] for caution in browser.all(".cautions li")]
    expect(min(heights) > 0 and len(heights) == 8, f"on paper {with_or_without} the script: every caution")
    return printed


def buttons(browser, width, names):
    """The buttons of the maps show one at a time, and a tapped cell is known in all of them."""
    shown = browser.read("[...document.querySelectorAll('.maps .option')].map(x => x.dataset.name)")
    expect(shown == names, f"{width}: the maps are {names}")
    for name in names:
        browser.press(name)
        expect(browser.shown_names(".maps .option") == [name], f"{width}: the button shows {name} alone")
    browser.driver.execute_script("arguments[0].click()", browser.visible(".maps tbody td")[0])
    expect(len(browser.visible(".card dl div")) == len(names), f"{width}: tapped, a cell shows its value in every map")


def main(virtual_engine, correct_map, trim_cylinders, stage_banks, compare_passes):
    folder = pathlib.Path(tempfile.mkdtemp(prefix="fettle_browser_"))
    run(virtual_engine, "--seed", 31, "--minutes", 2, "--out", folder / "demo")
    said = run(correct_map, folder / "demo/session.json", "--path", "given", "--out", folder / "out")
    page = folder / "out/report.html"
    expect(page.stat().st_size < 400_000, f"the report has {page.stat().st_size} bytes")
    run(virtual_engine, "--seed", 3, "--minutes", 1, "--rotated-runs", 2, "--out", folder / "pipes")
    trims_said = run(trim_cylinders, folder / "pipes/session.json", "--path", "given", "--out", folder / "trims")
    trims = folder / "trims/report.html"
    expect(trims.stat().st_size < 400_000, f"the report of trims has {trims.stat().st_size} bytes")
    stage_said = run(stage_banks, folder / "demo/session.json", "--pulls", 2, "--out", folder / "staging")
    run(virtual_engine, "--session", folder / "out/session.json", "--minutes", 1, "--out", folder / "next")
    passes_said = run(compare_passes, folder / "demo/session.json", folder / "next/session.json", "--out",
                      folder / "compared")
    others = [(folder / "staging/report.html", stage_said, ["Share", "Primary duty", "Secondary duty", "Pulse margin"]),
              (folder / "compared/report.html", passes_said, ["After 1", "Predicted", "Before"])]
    browser = Browser(folder / "profile")
    try:
        for width in (1280, 390):
            browser.open(page, width)
            no_complaint(browser)
            first_screen(browser, width, said)
            maps(browser, width)
            browser.open(trims, width)
            first_screen(browser, width, trims_said)
            browser.press("4")
            expect(browser.shown_names(".choice > .option") == ["4"], f"{width}: one cylinder is chosen")
            for other, other_said, names in others:
                browser.open(other, width)
                first_screen(browser, width, other_said)
                buttons(browser, width, names)
        browser.open(page, 1280, script=False)
        expect(len(browser.visible(".maps .option")) == 6, "without the script every map is there")
        paper(browser, page, 1280, script=False)
        paper(browser, page, 1280, script=True)
        no_complaint(browser)
    finally:
        browser.driver.quit()
    print(f"{len(failures)} failed; the reports are in {folder}" if failures else "all is well")
    sys.exit(1 if failures else 0)


if __name__ == "__main__":
    main(*map(pathlib.Path, sys.argv[1:]))
