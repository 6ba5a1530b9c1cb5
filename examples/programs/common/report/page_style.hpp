// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

namespace report {

/// The one style sheet of a page.
inline constexpr std::string_view page_style = R"(:root{color-scheme:light;--ink:#1d2429;--soft:#55616a;--line:#cfd6da;
--accent:#1f5061}
*{box-sizing:border-box}
body{margin:0 auto;padding:0 1.2rem 3rem;max-width:66rem;background:#fff;color:var(--ink);
font:16px/1.5 system-ui,sans-serif}
header{padding:1.8rem 0 .8rem;border-bottom:3px solid var(--accent)}
h1{margin:0;font-size:1.9rem;line-height:1.2}
header p{margin:.3rem 0 0;color:var(--soft)}
nav ol{display:flex;flex-wrap:wrap;gap:.1rem 1.6rem;margin:.8rem 0 0;padding:0 0 0 1.2rem}
nav li{padding-right:.8rem}
a{color:var(--accent)}
h2{margin:2.4rem 0 .6rem;padding-bottom:.2rem;border-bottom:1px solid var(--line);font-size:1.35rem}
h3{margin:1.4rem 0 .4rem;font-size:1.05rem}
p{max-width:46rem;margin:.6rem 0}
aside{max-width:52rem;margin:1.2rem 0;padding:.8rem 1.1rem;background:#fdf6e7;border:1px solid #d8b26a;
border-left:8px solid #b26a00}
aside h3{margin:0}
aside ul{margin:.4rem 0 0;padding-left:1.2rem}
aside li{margin:.2rem 0}
dl{margin:.8rem 0;max-width:52rem}
dl div{display:flex;flex-wrap:wrap;gap:0 1rem;padding:.25rem 0;border-bottom:1px solid var(--line)}
dt{flex:0 0 18rem;color:var(--soft)}
dd{flex:1 1 12rem;margin:0;font-variant-numeric:tabular-nums}
.scroll{overflow-x:auto}
table{border-collapse:collapse;margin:.4rem 0;font-variant-numeric:tabular-nums}
caption{padding:.3rem 0;text-align:left;font-weight:600}
.plain th,.plain td{padding:.3rem .6rem;border-bottom:1px solid var(--line);text-align:left;vertical-align:top}
.plain thead th{border-bottom:2px solid var(--soft);vertical-align:bottom}
.plain .number{text-align:right}
.plain td.number{white-space:nowrap}
.map{margin:1.2rem 0;break-inside:avoid}
.cells{font-size:.86rem;line-height:1.25}
.cells td,.cells th{padding:.3rem .5rem;border:1px solid #fff;text-align:right;white-space:nowrap}
.cells td{min-width:3.2em;-webkit-print-color-adjust:exact;print-color-adjust:exact}
.cells tbody th,.cells thead th{background:#eef1f2;font-weight:600}
.cells .axis{background:none;color:var(--soft);font-weight:400;text-align:left}
.cells tbody th{position:sticky;left:0;z-index:1}
.cells td{position:relative;padding-right:.95em}
.cells sup{position:absolute;top:.1em;right:.15em;font-weight:700;font-size:.85em;line-height:1}
.cells .none{color:var(--soft);text-align:center}
.legend{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;align-items:center;max-width:none;margin:.2rem 0 0;font-size:.86rem}
.key{display:inline-flex;flex-wrap:wrap}
.key i{min-width:3.4em;padding:.1rem .4rem;text-align:center;font-style:normal;
-webkit-print-color-adjust:exact;print-color-adjust:exact}
figure{margin:1.2rem 0;break-inside:avoid}
figure svg{display:block;width:100%;min-width:44rem}
figcaption{max-width:46rem;color:var(--soft);font-size:.92rem}
.missing{padding:.5rem .8rem;border:1px dashed var(--soft)}
@media (max-width:40rem){body{padding:0 .8rem 2rem}h1{font-size:1.5rem}dt{flex-basis:100%}}
@media print{body{max-width:none;padding:0;font-size:10.5pt}nav{display:none}h2,h3,caption{break-after:avoid}
.scroll{overflow:visible}.cells{font-size:7.5pt}.cells td,.cells th{padding:.15rem .8em .15rem .25em;min-width:0}
figure svg{min-width:0}tr,aside{break-inside:avoid}}
)";

}  // namespace report
