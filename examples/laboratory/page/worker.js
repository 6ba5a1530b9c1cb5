// SPDX-License-Identifier: MIT
// The library in a thread of its own, so that the page never waits.
import make_fettle from "fettle-module";

let fettle;
let call;

/** The library from the module that the page has compiled. */
async function start(compiled) {
  fettle = await make_fettle({
    instantiateWasm(imports, ready) {
      WebAssembly.instantiate(compiled, imports).then((instance) => ready(instance, compiled));
      return {};
    },
  });
  call = fettle.cwrap("laboratory_answer", "string", ["string", "string"]);
}

self.onmessage = async ({ data }) => {
  if (data.compiled) {
    await start(data.compiled).then(() => self.postMessage({ started: true }), (failed) => self.postMessage({ failed: failed.message }));
    return;
  }
  self.postMessage({ id: data.id, answer: call(data.picture, JSON.stringify(data.question)) });
};
