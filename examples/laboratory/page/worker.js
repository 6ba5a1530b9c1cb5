// SPDX-License-Identifier: MIT
// The library in a thread of its own, so that the page never waits.
import make_fettle from "fettle-module";
import { answering } from "./answering.js";

self.onmessage = answering(make_fettle);
