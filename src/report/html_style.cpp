// SPDX-License-Identifier: GPL-3.0-or-later
// The page's looks: warm paper by day, a dim darkroom by night, ink on white in print. No '<' or '&' in here, so that the
// page stays well-formed XML. Every text colour keeps 4.5 : 1 against its ground [WCAG2.1, 1.4.3]; a test computes it.
#include "report/page.h"

namespace basefog::report {
namespace {

constexpr std::string_view kColours = R"(:root{color-scheme:light dark;
--paper:#f6f2ea;--card:#fdfbf6;--ink:#25211b;--dim:#655d51;--rule:#d8cfbf;--accent:#8a3d10;--warn:#9b1c1c;--good:#2f5d34;
--red:#a8231c;--green:#1d6b38;--blue:#234f9e;--shade:#e9e1d2;--hatch:#b9ad97}
@media (prefers-color-scheme:dark){:root{
--paper:#171513;--card:#201d1a;--ink:#ece5d8;--dim:#b1a797;--rule:#3d372f;--accent:#f0a468;--warn:#ff9d8f;--good:#a5d3a0;
--red:#ff8f7f;--green:#86cf93;--blue:#93b8ff;--shade:#2b2722;--hatch:#5d5447}}
@media print{:root{color-scheme:light;
--paper:#ffffff;--card:#ffffff;--ink:#000000;--dim:#444444;--rule:#bbbbbb;--accent:#000000;--warn:#8a1010;--good:#1f4a24;
--red:#a8231c;--green:#1d6b38;--blue:#234f9e;--shade:#eeeeee;--hatch:#aaaaaa}}
)";

constexpr std::string_view kText = R"(*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%;text-size-adjust:100%}
body{margin:0;background:var(--paper);color:var(--ink);font:1rem/1.5 ui-serif,"Iowan Old Style","Palatino Linotype",Palatino,Georgia,"DejaVu Serif",serif;
font-variant-numeric:lining-nums tabular-nums;overflow-wrap:break-word}
header,main{max-width:77rem;margin:0 auto;padding:0 1.25rem}
h1,h2,h3,h4{line-height:1.2;font-weight:600;margin:0}
h1{font-size:clamp(2rem,5vw,3rem);letter-spacing:-.01em;font-weight:500}
h2{font-size:1.6rem;font-weight:500;margin:3.5rem 0 1.1rem;padding-top:.7rem;border-top:2px solid var(--ink)}
h3{font-size:1.2rem}
h4{font-size:1rem;margin:1.1rem 0 .3rem}
p{margin:.4rem 0;max-width:46rem}
a{color:var(--accent);text-underline-offset:.15em;text-decoration-thickness:.06em}
a:focus-visible,summary:focus-visible,input:focus-visible{outline:3px solid var(--accent);outline-offset:2px}
code{font:0.86em/1.4 ui-monospace,"DejaVu Sans Mono",monospace}
.skip{position:absolute;left:-99rem}.skip:focus{left:1rem;top:1rem;background:var(--card);padding:.5rem}
.mast{padding-top:2.5rem}
.eyebrow,nav,.chip,dt,th,.caption,figcaption,caption,svg text,label,.find{font-family:ui-sans-serif,"Segoe UI","Helvetica Neue",Helvetica,Arial,"DejaVu Sans",sans-serif}
.eyebrow{font-size:.8rem;letter-spacing:.04em;color:var(--dim);margin:0 0 .2rem}
.lead{font-size:1.15rem;margin:.5rem 0 1rem}
nav{font-size:.9rem;display:flex;flex-wrap:wrap;gap:.3rem 1.1rem;border-top:1px solid var(--rule);border-bottom:1px solid var(--rule);padding:.55rem 0}
nav a{padding:.15rem 0}
.dim{color:var(--dim)}
.warn{color:var(--warn)}
.caption,figcaption,caption{font-size:.82rem;line-height:1.45;color:var(--dim)}
.chip{font-size:.74rem;font-weight:400;border:1px solid var(--dim);border-radius:1rem;padding:.05rem .5rem;white-space:nowrap;color:var(--dim)}
dl{margin:0}dd{margin:0}
.facts div{display:grid;grid-template-columns:8.5rem 1fr;gap:.2rem .8rem;padding:.26rem 0;border-top:1px solid var(--rule)}
.facts div:first-child{border-top:0}
dt{font-size:.8rem;line-height:1.85;color:var(--dim)}
.c{white-space:nowrap;margin-right:.35em}
abbr{text-decoration:none}
.c abbr{color:var(--dim);font-size:.78em}
.swatch{display:inline-block;width:1.1em;height:1.1em;border-radius:.15em;vertical-align:-.16em;border:1px solid var(--dim)}
.find{font-size:.84rem;display:inline-block;margin:.05rem .3rem .05rem 0}
.mark{display:inline-block;font-size:.9em;font-weight:600;padding:0 .4em;border-radius:.2em;border:1px solid currentColor}
.find.Serious .mark{background:var(--warn);color:var(--paper);border-color:var(--warn)}
.find.Caution .mark{color:var(--warn)}
.find.Note .mark{color:var(--dim)}
h3.find{font-size:1rem;margin:1.2rem 0 .3rem;display:block}
.findings{list-style:none;padding:0;margin:0}.findings li{padding:.5rem 0;border-top:1px solid var(--rule);display:flow-root}
.crop{float:right;width:15rem;max-width:45%;max-height:10rem;margin:0 0 .4rem 1rem;background:#8a8780}
:target{scroll-margin-top:1rem;outline:2px solid var(--accent);outline-offset:.4rem}
section:target{outline:0}
)";

constexpr std::string_view kBlocks = R"(.failures{margin:2rem 0 0;padding:1rem 1.25rem;border:2px solid var(--warn);background:var(--card)}
.failures h2{border:0;margin:0;padding:0;font-size:1.3rem;color:var(--warn)}
.failures ul{margin:.6rem 0;padding-left:1.2rem}
.cards{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,24rem),1fr));gap:1.1rem}
.verdict,.card,.film,.sheet-view{background:var(--card);border:1px solid var(--rule);padding:1.1rem 1.25rem}
.verdict{border-top:5px solid var(--dim);display:flex;flex-direction:column}
.verdict.paid_off,.verdict.at_box_speed{border-top-color:var(--good)}
.verdict.not_enough{border-top-color:var(--warn);border-top-style:double;border-top-width:7px}
.verdict.cannot_tell{border-top-style:dashed;border-top-width:3px}
.verdict h3{font-size:1.5rem}
.outcome{font-size:1.12rem;font-style:italic;margin:.5rem 0 0}
.residue{border-top:1px solid var(--rule);margin-top:.8rem;padding-top:.4rem}
.verdict .facts{margin-top:auto;padding-top:.6rem}.verdict .facts div{grid-template-columns:3.6rem 1fr}
.verdict .facts div:first-child{border-top:1px solid var(--rule)}
.meter{display:inline-flex;gap:2px;vertical-align:-.08em;margin-right:.25em}
.meter i{width:.5em;height:.85em;border:1px solid var(--ink)}.meter i.on{background:var(--ink)}
.cautions{margin-top:1.2rem;padding:.9rem 1.25rem;border-left:5px solid var(--warn);background:var(--card)}
.cautions ul{margin:.4rem 0 0;padding-left:1.2rem;max-width:52rem}.cautions li{margin:.25rem 0}
.card h3{margin-bottom:.5rem}
.film,.sheet-view{margin-bottom:1.2rem}
.film h3,.sheet-view h3{margin-bottom:.7rem}
.film-grid{display:grid;gap:1.4rem}
.plot{margin:0}.plot svg{width:100%;height:auto;display:block}
table{border-collapse:collapse;width:100%;font-size:.92rem}
caption{text-align:left;padding:0 0 .6rem}
th,td{text-align:left;vertical-align:top;padding:.5rem .7rem .5rem 0;border-bottom:1px solid var(--rule)}
thead th{font-size:.76rem;font-weight:600;color:var(--dim);border-bottom:2px solid var(--ink);vertical-align:bottom}
tbody th{font-family:inherit;font-weight:600}
.scroll{overflow-x:auto}
details summary{cursor:pointer}
.film details{margin-top:1rem}
.roll-frames{margin:1.4rem 0}
.roll-frames summary h3{display:inline-block}
.frame-grid{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,20.5rem),1fr));gap:1.1rem;margin-top:.8rem;align-items:start}
.frame-card{background:var(--card);border:1px solid var(--rule)}
.frame-card img{display:block;width:100%;height:auto;aspect-ratio:3/2;object-fit:contain;background:#0d0c0b}
.no-picture{aspect-ratio:6/1;display:grid;place-items:center;color:var(--dim);border-bottom:1px dashed var(--dim);background:repeating-linear-gradient(45deg,var(--shade) 0 6px,transparent 6px 14px);font-style:italic}
.frame-card .body{padding:.7rem .95rem .9rem}
.frame-card h4{margin:0 0 .35rem;font-size:1.05rem}
.frame-card .facts div{grid-template-columns:7.4rem 1fr;padding:.16rem 0;font-size:.92rem}
.frame-card dt{line-height:1.75}
.glossary{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(100%,22rem),1fr));gap:.9rem 2rem}
.glossary dt{font-weight:600;color:var(--ink)}
footer,main{padding-bottom:4rem}
)";

constexpr std::string_view kDrawings = R"(svg text{fill:var(--ink);font-size:15px}svg .rugnum{font-size:13px}
svg .tick{fill:var(--dim)}svg .tx,svg .th,svg .mid,svg .rugnum{text-anchor:middle}svg .ty,svg .end{text-anchor:end}
svg .note{fill:var(--dim);font-style:italic;paint-order:stroke;stroke:var(--card);stroke-width:3px}
.axis{stroke:var(--ink);stroke-width:1}.zero{stroke-dasharray:1 3}.grid{stroke:var(--rule);stroke-width:1}
.zone{fill:var(--shade)}.zone-line{stroke:var(--hatch);stroke-width:1.2}.lead{stroke:var(--dim);stroke-width:.8}.floor{fill:var(--hatch);opacity:.55}.rug{fill:none;stroke:var(--rule)}
.frame{stroke:var(--ink);stroke-width:1.5}
.tones{stroke:var(--dim);stroke-width:2.5}.tones-lost{stroke:var(--warn);stroke-width:5}
.arrow-line{stroke:var(--accent);stroke-width:1.6}.arrow path{fill:var(--accent)}
.curve{fill:none;stroke-width:2.4;stroke-linejoin:round;stroke:var(--ink)}
.curve.red{stroke:var(--red)}.curve.green{stroke:var(--green);stroke-dasharray:9 4}.curve.blue{stroke:var(--blue);stroke-dasharray:3 3}
text.red{fill:var(--red)}text.green{fill:var(--green)}text.blue{fill:var(--blue)}
.whatif{display:block;width:100%;height:auto;margin-top:.6rem}
.whatif text{font-size:11.5px}
.lost{fill:none;stroke-width:2.2;stroke:var(--ink)}.lost.light{stroke:var(--accent);stroke-dasharray:6 4}
.key{width:30px;height:10px;vertical-align:middle}
.sheet{display:block;width:100%;height:auto;max-width:calc(50rem*var(--shape))}
.sheet-row{display:flex;flex-wrap:wrap;gap:0 2rem;align-items:flex-start}.sheet-box{flex:1 1 calc(40rem*var(--shape));max-width:100%}.sheet-row .facts{flex:1 1 20rem}
.glass{fill:#8a8780}
.crop .halo{fill:none;stroke:#fff;stroke-width:3;vector-effect:non-scaling-stroke}
.crop .edge{fill:none;stroke:#a1104a;stroke-width:1.2;vector-effect:non-scaling-stroke}
.sheet .halo{fill:none;stroke:#fff;stroke-width:4;vector-effect:non-scaling-stroke;stroke-linejoin:round}
.sheet .strip{fill:none;stroke:#3a3a3a;stroke-width:1.2;vector-effect:non-scaling-stroke}
.sheet .edge{fill:transparent;stroke:#0b4a78;stroke-width:2;vector-effect:non-scaling-stroke;stroke-linejoin:round}
.sheet .blank .edge,.sheet .fogged .edge{stroke:#3c3c3c}
.sheet .pitch .edge{stroke-dasharray:7 5}
.sheet .unsure .edge{stroke:#a1104a;stroke-width:4}.sheet .unsure .halo{stroke-width:7}
.sheet a:hover .edge,.sheet a:focus-visible .edge{stroke-width:4}
.hatch{fill:none;stroke:#fff;opacity:.7}
.sheet text{font-size:calc(var(--mm)*9px);font-weight:600;text-anchor:middle;dominant-baseline:central;fill:#111;stroke:#fff;stroke-width:calc(var(--mm)*2px);
paint-order:stroke;stroke-linejoin:round;unicode-bidi:isolate}
.sheet .kind{font-size:calc(var(--mm)*6px)}
.sheet .strip-name{text-anchor:start;font-size:calc(var(--mm)*6px)}
.sheet-box{margin:.6rem 0 1.2rem}
.sheet-box label{font-size:.9rem;margin:0 1.2rem 0 .35rem}
.toggle{width:1.05rem;height:1.05rem;vertical-align:-.15rem;accent-color:var(--accent)}
.show-outlines:not(:checked)~svg .outlines{display:none}
.show-residue:not(:checked)~svg .residue-map{display:none}
.sheet-box svg{margin:.5rem 0}
)";

constexpr std::string_view kSizes = R"(@media (min-width:44rem){svg text,svg .rugnum{font-size:11.5px}.whatif text{font-size:10.5px}
.sheet text{font-size:calc(var(--mm)*6px);stroke-width:calc(var(--mm)*1.4px)}.sheet .kind{font-size:calc(var(--mm)*4px)}.sheet .strip-name{font-size:calc(var(--mm)*3.4px)}}
@media (min-width:64rem){.film-grid{grid-template-columns:minmax(0,33rem) 1fr}}
@media screen and (max-width:63.99rem){.stack thead{position:absolute;left:-99rem}
.stack,.stack tbody,.stack tr,.stack th,.stack td,.stack caption{display:block}
.stack tr{background:var(--card);border:1px solid var(--rule);padding:.5rem .9rem;margin-bottom:.8rem}
.stack td,.stack tbody th{display:grid;grid-template-columns:8rem 1fr;gap:.8rem;padding:.25rem 0;border-bottom:1px solid var(--rule)}
.stack tr :last-child{border-bottom:0}
.stack td::before,.stack tbody th::before{content:attr(data-label);font-family:ui-sans-serif,"DejaVu Sans",sans-serif;font-weight:400;font-size:.8rem;color:var(--dim)}}
@media (max-width:30rem){header,main{padding-left:.9rem;padding-right:.9rem}.facts div,.frame-card .facts div{grid-template-columns:6.6rem 1fr}
.stack td,.stack tbody th{grid-template-columns:6.6rem 1fr}.verdict,.card,.film,.sheet-view{padding:.9rem}}
@page{margin:14mm}
@media print{body{font-size:9.5pt}header,main{max-width:none;padding:0}nav,.skip,.toggle,.sheet-box label{display:none}a{text-decoration:none;color:inherit}
h2{break-after:avoid;margin-top:1.4rem}h3,h4,summary{break-after:avoid}
.verdict,.card,.frame-card,.cautions,.plot,.failures,.findings li,tr,.stack,.sheet{break-inside:avoid}.sheet-row{display:block}.sheet-view p{break-after:avoid}
.film,.sheet-view{break-inside:auto;border:0;padding:0}#film,#sheets,#frames{break-before:page}
.cards{grid-template-columns:1fr 1fr}table{font-size:7.5pt}thead th{font-size:6.5pt}.stack .find{font-size:6.5pt}
.frame-grid{grid-template-columns:repeat(3,1fr);gap:3mm}.frame-card .body{padding:1.5mm 2mm}.files{display:none !important}
.frame-card .facts div{grid-template-columns:17mm 1fr;gap:1mm;padding:.4pt 0;font-size:7pt;line-height:1.25}.frame-card dt{font-size:6.5pt;line-height:1.35}
.film-grid{grid-template-columns:1fr 1fr}.sheet{max-width:calc(150mm*var(--shape))}
.sheet,.swatch,.meter i.on,.zone,.floor,.no-picture,.mark{-webkit-print-color-adjust:exact;print-color-adjust:exact}
svg text{font-size:11px}}
)";

}  // namespace

std::string_view style_sheet() {
    static const std::string kAll = std::string(kColours) + std::string(kText) + std::string(kBlocks) + std::string(kDrawings) + std::string(kSizes);
    return kAll;
}

}  // namespace basefog::report
