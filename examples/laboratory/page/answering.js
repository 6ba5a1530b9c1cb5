// SPDX-License-Identifier: MIT
import { started } from "./started.js";

/** What a worker does with messages: starts the library from the module that the page has compiled, then answers. */
export function answering(make_library) {
  let call;
  async function start(compiled) {
    const [library] = await started(make_library, compiled);
    call = library.cwrap("laboratory_answer", "string", ["string", "string"]);
  }
  return async ({ data }) => {
    if (data.compiled)
      await start(data.compiled).then(() => self.postMessage({ started: true }), (failed) => self.postMessage({ failed: failed.message }));
    else self.postMessage({ id: data.id, answer: call(data.picture, JSON.stringify(data.question)) });
  };
}
