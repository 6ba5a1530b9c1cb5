// SPDX-License-Identifier: MIT

/** How many times as large as on a laptop the letters of this page are; charts grow with them. */
export const growth = () => Math.max(1, parseFloat(getComputedStyle(document.documentElement).fontSize) / 18);
