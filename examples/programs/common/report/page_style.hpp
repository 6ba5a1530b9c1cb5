// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

namespace report {

/// The one style sheet of a page.
inline constexpr std::string_view page_style = R"(:root{color-scheme:light;--ink:#1d2429;--soft:#55616a;--line:#d3d0c6;
--paper:#fbfaf6;--stone:#f0eee6;--accent:#1f5a55;--stop:#8c1d18}
*{box-sizing:border-box}
body{margin:0 auto;padding:0 1.2rem 3rem;max-width:68rem;background:var(--paper);color:var(--ink);
font:16px/1.5 system-ui,sans-serif}
h1,h2,.answers dt{font-family:Georgia,"DejaVu Serif",serif}
header{padding:1.2rem 0 .5rem}
h1{margin:0;font-size:1.45rem;line-height:1.2}
header p{margin:.1rem 0 0;color:var(--soft)}
.answers{margin:.4rem 0 1rem;background:#fff;border:2px solid var(--accent);border-top-width:10px}
.answers.unsafe{border-color:var(--stop)}
.answers dl{margin:0;max-width:none}
.answers dl div{display:flex;flex-wrap:nowrap;gap:1rem;padding:.55rem .9rem;border-bottom:1px solid var(--line)}
.answers dl div:last-child{border-bottom:0}
.answers dt{flex:0 0 3.4rem;color:var(--accent);font-size:1.25rem;line-height:1.35}
.answers dd{flex:1 1 0;min-width:0;font-size:1.15rem;line-height:1.4;overflow-wrap:anywhere}
.answers.unsafe dt{color:var(--stop)}
.answers.unsafe div:nth-child(2) dd{font-weight:700}
nav ol{display:flex;flex-wrap:wrap;gap:.1rem 1.6rem;margin:.8rem 0 0;padding:0 0 0 1.2rem}
nav li{padding-right:.8rem}
a{color:var(--accent)}
h2{margin:2.2rem 0 .6rem;padding-bottom:.2rem;border-bottom:1px solid var(--line);font-size:1.3rem}
h3{margin:1.4rem 0 .4rem;font-size:1.05rem}
p{max-width:46rem;margin:.6rem 0}
h1,p,li,dd,figcaption{overflow-wrap:anywhere}
aside{max-width:52rem;margin:1rem 0;padding:.7rem 1rem;background:var(--stone);border-left:8px solid var(--ink)}
aside h3{margin:0}
aside ul{margin:.3rem 0 0;padding-left:1.2rem}
aside li{margin:.2rem 0}
.cautions{max-width:none;margin:.8rem 0}
.cautions>ul{margin-top:0}
summary{margin-top:.3rem;cursor:pointer;color:var(--accent)}
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
.map{margin:.8rem 0;break-inside:avoid}
.cells{font-size:.86rem;line-height:1.25}
.cells td,.cells th{padding:.3rem .5rem;border:1px solid var(--paper);text-align:right;white-space:nowrap}
.cells td{min-width:3.2em;-webkit-print-color-adjust:exact;print-color-adjust:exact}
.cells tbody th,.cells thead th{background:var(--stone);font-weight:600}
.cells .axis{background:none;color:var(--soft);font-weight:400;text-align:left}
.cells tbody th{position:sticky;left:0;z-index:1}
.cells td{position:relative;padding-right:.95em}
.cells sup{position:absolute;top:.1em;right:.15em;font-weight:700;font-size:.85em;line-height:1}
.cells small{display:block;font-size:.82em;font-weight:600}
.cells .none{color:var(--soft);text-align:center}
.outlined{outline:3px solid var(--ink);outline-offset:-3px;font-weight:700}
b.outlined{padding:0 .35em}
.cells .dim{opacity:.16}
.cells .picked{box-shadow:inset 0 0 0 4px var(--accent)}
.cells td:focus-visible{outline:3px dashed var(--accent);outline-offset:-3px}
.bar{display:flex;flex-wrap:wrap;gap:.35rem;align-items:center;margin:.8rem 0 .4rem}
.bar span{margin-right:.3rem;color:var(--soft)}
.bar button{padding:.35rem .75rem;border:1px solid var(--accent);border-radius:0;background:#fff;color:var(--accent);
font:inherit;font-size:.95rem;cursor:pointer}
.bar button[aria-pressed=true]{background:var(--accent);color:#fff}
.card{position:sticky;bottom:0;z-index:2;margin:.4rem 0;padding:.5rem .9rem;background:#fff;
border:1px solid var(--line);border-left:8px solid var(--accent)}
.card p{margin:0}
.card dl{display:flex;flex-wrap:wrap;gap:.1rem 1.6rem;margin:.2rem 0 0;max-width:none}
.card dl div{display:block;border:0;padding:0}
.card dt{font-size:.82rem}
.card dd{font-weight:600}
.legend{display:flex;flex-wrap:wrap;gap:.2rem 1.2rem;align-items:center;max-width:none;margin:.2rem 0 0;font-size:.86rem}
.key{display:inline-flex;flex-wrap:wrap}
.key i{min-width:3.4em;padding:.1rem .4rem;text-align:center;font-style:normal;
-webkit-print-color-adjust:exact;print-color-adjust:exact}
figure{margin:1.2rem 0;break-inside:avoid}
figure svg{display:block;width:100%;min-width:44rem}
figcaption{max-width:46rem;color:var(--soft);font-size:.92rem}
.missing{padding:.5rem .8rem;border:1px dashed var(--soft)}
@media (max-width:40rem){body{padding:0 .7rem 2rem}h1{font-size:1.2rem}dt{flex-basis:100%}
.answers dl div{display:block;padding:.45rem .7rem}.answers dt{font-size:1rem}.answers dd{font-size:1.02rem}
.plain th,.plain td{padding:.3rem .4rem}}
@media print{body{max-width:none;padding:0;font-size:10.5pt;background:#fff}nav,.bar,.card{display:none}
.option[hidden]{display:block!important}details::details-content{content-visibility:visible;block-size:auto}
.cells .dim{opacity:1}h2,h3,caption{break-after:avoid}
.scroll{overflow:visible}.cells{font-size:7.5pt}.cells td,.cells th{padding:.15rem .8em .15rem .25em;min-width:0}
figure svg{min-width:0}tr,aside{break-inside:avoid}}
)";

}  // namespace report
