// SPDX-License-Identifier: MIT
import { kept_current } from "../library.js";
import { readings, slider, summary } from "../parts/controls.js";
import { amber, plum, teal } from "../parts/colours.js";
import { html, shown } from "../parts/element.js";
import { trace } from "../parts/trace.js";

export const two_banks = {
  id: "two-banks",
  title: "Two banks of injectors",
  source: "two_banks.hpp",
  teaches: [
    "A second bank outside the trumpets has a larger and slower [[wall film]] than the one in the port: open it at once, and the cylinder is lean until the new film is full, then rich when it shuts.",
    "Compensation takes the films into account but knows them only roughly; what it gets wrong grows with the speed of the change, so the share is blended no faster than the films are known.",
  ],
  questions: [
    "Set the film error to 0. How large is the excursion that is left, and what does the blend still do for it?",
    "With films 30 % off, which matters more: a smaller aim for lambda, or films measured to 10 %? Try both and watch the time that a change takes.",
  ],
  async open(stage, library) {
    const moved = () => update();
    const speed = slider({ name: "speed_rpm", label: "Speed", unit: "rpm", from: 3000, to: 8500, step: 100, value: 6000, moved });
    const error = slider({ name: "film_error", label: "Films assumed, off by", unit: "%", from: -40, to: 40, step: 1, value: 12, moved });
    const allowed = slider({ name: "allowed_error", label: "Error that the blend allows for", unit: "%", from: 1, to: 40, step: 1, value: 15, moved });
    const aim = slider({ name: "excursion", label: "Largest lambda error, aim", unit: "%", from: 0.2, to: 5, step: 0.1, digits: 1, value: 1.5, moved });
    const lambda = trace({ name: "lambda", title: "Lambda in the cylinder, target 1", x: "time, s", y: "lambda", height: 300, series: [
      { label: "opened at once", colour: amber }, { label: "blended", colour: plum, dash: [7, 4] }, { label: "blended and compensated", colour: teal, width: 3 }] });
    const share = trace({ name: "share", title: "Share of the fuel from the second bank", x: "time, s", y: "%", height: 180, range: () => [0, 60], series: [
      { label: "opened at once", colour: amber }, { label: "blended", colour: plum, dash: [7, 4] }, { label: "blended and compensated", colour: teal, width: 3 }] });
    const numbers = readings([
      { name: "at_once", label: "Excursion, opened at once", unit: "%" }, { name: "blended", label: "Blended", unit: "%" },
      { name: "compensated", label: "Blended and compensated", unit: "%" }, { name: "fastest_per_s", label: "Fastest change of share", unit: "%/s", digits: 1 }]);
    const says = summary();
    const update = kept_current(library, "two_banks", () => ({
      speed_rpm: speed.value, film_error: error.value / 100, allowed_error: allowed.value / 100, excursion: aim.value / 100,
    }), (answer) => {
      const ways = [answer.at_once, answer.blended, answer.compensated];
      lambda.set([answer.time_s, ...ways.map((way) => way.lambda)]);
      share.set([answer.time_s, ...ways.map((way) => way.share.map((part) => 100 * part))]);
      const percent = (way) => 100 * way.excursion;
      numbers.set({ at_once: percent(ways[0]), blended: percent(ways[1]), compensated: percent(ways[2]), fastest_per_s: 100 * answer.fastest_per_s });
      const met = percent(ways[2]) <= aim.value;
      says.set(`Opened at once the mixture strays by ${shown(percent(ways[0]), 1)} %, blended by ${shown(percent(ways[1]), 2)} %, ` +
        `blended and compensated by ${shown(percent(ways[2]), 2)} %: the aim of ${shown(aim.value, 1)} % is ${met ? "met" : "missed"}` +
        `${!met && Math.abs(error.value) > allowed.value ? ", because the films are further off than the blend allows for" : ""}.`);
    });
    stage.append(html("div", {}, lambda.node, says.node, share.node),
      html("div", { class: "controls" }, speed.node, error.node, allowed.node, aim.node, numbers.node));
    await update();
  },
};
