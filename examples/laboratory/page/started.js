// SPDX-License-Identifier: MIT

/**
 * Starts a module that the page has compiled.
 *
 * @param make  what its loader exports.
 * @return  [the module as its loader offers it, what the instance exports].
 */
export function started(make, compiled, options = {}) {
  return new Promise((ready, failed) => {
    let exported;
    make({
      ...options,
      instantiateWasm(imports, done) {
        WebAssembly.instantiate(compiled, imports).then((instance) => {
          exported = instance.exports;
          done(instance, compiled);
        }).catch(failed);
        return {};
      },
    }).then((module) => ready([module, exported]), failed);
  });
}
