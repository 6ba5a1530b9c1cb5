// SPDX-License-Identifier: MIT
import { html, shown, unbroken } from "./element.js";

let controls = 0;

/** A labelled slider: the browser's own, so that keyboards and screen readers work. `value` reads and sets it. */
export function slider({ name, label, unit = "", from, to, step, value, digits = 0, moved }) {
  const id = `control-${++controls}`;
  const text = html("output", { for: id });
  const input = html("input", { id, type: "range", name, min: from, max: to, step, value });
  const say = () => {
    const words = `${shown(Number(input.value), digits)}${unit && ` ${unit}`}`;
    text.textContent = words;
    input.setAttribute("aria-valuetext", words);
  };
  input.addEventListener("input", () => {
    say();
    moved();
  });
  say();
  return {
    node: html("div", { class: "slider" }, html("label", { for: id }, label), text, input),
    get value() {
      return Number(input.value);
    },
    set value(next) {
      input.value = next;
      say();
    },
    set disabled(is) {
      input.disabled = is;
    },
  };
}

/** One of a few: radio buttons under a heading. */
export function choice({ name, label, options, value, moved }) {
  const group = `choice-${++controls}`;
  const inputs = options.map(([key]) =>
    html("input", { type: "radio", name: group, value: key, "data-control": name, checked: key === value, onchange: moved }));
  return {
    node: html("fieldset", { class: "choice" }, html("legend", {}, label),
      ...options.map(([, words], i) => html("label", {}, inputs[i], html("span", {}, words)))),
    get value() {
      return inputs.find((input) => input.checked).value;
    },
  };
}

/** On or off. */
export function tick({ name, label, value = false, moved }) {
  const input = html("input", { type: "checkbox", name, checked: value, onchange: moved });
  return {
    node: html("label", { class: "tick" }, input, html("span", {}, label)),
    get value() {
      return input.checked;
    },
    set value(is) {
      input.checked = is;
    },
  };
}

export function button(words, pressed, attributes = {}) {
  return html("button", { type: "button", onclick: pressed, ...attributes }, words);
}

/** Named numbers beside a picture. `set({name: value})`; each keeps its exact value in `data-value`. */
export function readings(rows) {
  const outputs = new Map();
  const list = html("dl", { class: "readings" });
  for (const { name, label, unit = "", digits = 2 } of rows) {
    const output = html("output", { "data-name": name });
    outputs.set(name, { output, unit, digits });
    list.append(html("div", {}, html("dt", {}, label), html("dd", {}, output)));
  }
  return {
    node: list,
    set(values) {
      for (const [name, value] of Object.entries(values)) {
        const { output, unit, digits } = outputs.get(name);
        output.dataset.value = value ?? "";
        output.textContent =
          typeof value === "string" ? value : shown(value, digits) + (unit && value !== null ? ` ${unit}` : "");
      }
    },
  };
}

/** The sentence that says what the picture shows, spoken when it settles. */
export function summary() {
  const node = html("p", { class: "summary", role: "status" });
  let pending;
  return {
    node,
    set(text) {
      clearTimeout(pending);
      pending = setTimeout(() => (node.textContent = unbroken(text)), 250);
    },
  };
}

/** A moment on a row of samples: a slider, and a button that lets time pass. `row` is where it stands. */
export function player({ name, label, rows, row, step_s, moved }) {
  let timer = null;
  const at = slider({ name, label, unit: "s", from: 0, to: (rows - 1) * step_s, step: step_s, digits: 2, value: row * step_s, moved: () => (stop(), moved()) });
  const pressed = button("Play", () => (timer ? stop() : play()));
  function stop() {
    clearInterval(timer);
    timer = null;
    pressed.textContent = "Play";
  }
  function play() {
    pressed.textContent = "Stop";
    timer = setInterval(() => {
      at.value = at.value >= (rows - 1) * step_s ? 0 : at.value + Math.max(1, Math.round(0.02 / step_s)) * step_s;
      moved();
    }, 50);
  }
  return {
    node: html("div", { class: "player" }, pressed, at.node),
    stop,
    get row() {
      return Math.min(rows - 1, Math.round(at.value / step_s));
    },
  };
}
