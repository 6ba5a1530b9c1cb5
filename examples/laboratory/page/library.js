// SPDX-License-Identifier: MIT
// The way to the library: unpacked once, asked by message.

/** A WebAssembly module in the page, unpacked by the browser. */
export async function compiled_module(id) {
  const coded = atob(document.getElementById(id).textContent.trim());
  const bytes = new Uint8Array(coded.length);
  for (let i = 0; i < coded.length; ++i) bytes[i] = coded.charCodeAt(i);
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return WebAssembly.compileStreaming(new Response(stream, { headers: { "content-type": "application/wasm" } }));
}

/** What makes something when it is first needed and keeps it; what failed is tried again the next time. */
export function made_once(make) {
  let made = null;
  return () => (made ??= make().catch((failed) => {
    made = null;
    throw failed;
  }));
}

/** The module with the programs. */
export const compiled_programs = made_once(() => compiled_module("programs-wasm"));

/** The module of gnuplot, which draws the pictures of their reports. */
export const compiled_gnuplot = made_once(() => compiled_module("gnuplot-wasm"));

/** A worker with code of the page, not started yet. */
export function new_worker(id) {
  const code = JSON.parse(document.getElementById(id).textContent);
  const url = URL.createObjectURL(new Blob([code], { type: "text/javascript" }));
  const worker = new Worker(url);
  URL.revokeObjectURL(url);
  return worker;
}

/** The library, ready to be asked. Questions and answers are described in examples/laboratory/pictures. */
export class Library {
  #worker;
  #waiting = new Map();
  #next = 0;

  /** @param worker  id of the worker's code in the page. */
  static async open(compiled, worker) {
    const library = new Library();
    library.#worker = new_worker(worker);
    await new Promise((ready, failed) => {
      library.#worker.onmessage = ({ data }) => (data.started ? ready() : failed(new Error(data.failed)));
      library.#worker.onerror = (event) => failed(new Error(event.message));
      library.#worker.postMessage({ compiled });
    });
    library.#worker.onmessage = ({ data }) => library.#take(data);
    return library;
  }

  /** Rejects with the library's own sentence. */
  ask(picture, question) {
    const id = this.#next++;
    this.#worker.postMessage({ id, picture, question });
    return new Promise((answered, refused) => this.#waiting.set(id, { answered, refused }));
  }

  #take({ id, answer }) {
    const { answered, refused } = this.#waiting.get(id);
    this.#waiting.delete(id);
    const parsed = JSON.parse(answer);
    if (parsed.error) refused(new Error(parsed.error));
    else answered(parsed);
  }
}

/** A function to call whenever a control moves: asks, shows the answer, and skips what was overtaken meanwhile. */
export function kept_current(library, picture, question, show) {
  let running = false, stale = false;
  return async function update() {
    stale = true;
    if (running) return;
    running = true;
    try {
      while (stale) {
        stale = false;
        await show(await library.ask(picture, question()));
      }
    } finally {
      running = false;
    }
  };
}
