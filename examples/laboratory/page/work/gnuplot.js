// SPDX-License-Identifier: MIT
// gnuplot itself, as WebAssembly: the pictures of the reports are drawn from the same scripts as on a terminal.
import make_gnuplot from "gnuplot-wasm/src/gnuplot.js";
import { started } from "../started.js";

/**
 * Starts gnuplot from the module that the page has compiled.
 *
 * @return  a function that draws: a script that writes to its standard output => the text of the SVG file, null where
 *          gnuplot writes no whole picture.
 */
export async function drawing_gnuplot(compiled) {
  const quiet = () => {}; // its warnings
  const [gnuplot, stack] = await started(make_gnuplot, compiled, { noInitialRun: true, noFSInit: true, print: quiet, printErr: quiet });
  const { FS } = gnuplot, input = "script", output = "picture.svg";
  FS.init(() => null, null, null);
  // its main does not tidy up: each picture begins with the memory as it was
  const unused = gnuplot.HEAPU8.slice(), top = stack.emscripten_stack_get_current();
  return (script) => {
    try {
      gnuplot.HEAPU8.set(unused);
      stack._emscripten_stack_restore(top);
      FS.writeFile(input, script);
      FS.writeFile(output, "");
      const code = gnuplot.callMain(["-d", "-e", `set output "${output}"`, input]);
      const svg = FS.readFile(output, { encoding: "utf8" });
      return code === 0 && svg.includes("</svg>") ? svg : null;
    } catch {
      return null;
    }
  };
}
