//! How the page looks: on a light and a dark screen, on a phone, on paper.
//!
//! The colours are those of the charts. Words and shapes carry the meaning; colour only helps.

/// The colours by their role.
pub(super) const COLOURS: &str = r#"
:root{color-scheme:light dark;--paper:#fff;--ink:#222;--faint:#595959;--rule:#d0d0d0;--first:#0072b2;--second:#a84700;--block:#f3f4f5}
@media screen and (prefers-color-scheme:dark){:root{--paper:#16181a;--ink:#e6e6e6;--faint:#b0b0b0;--rule:#4a4d50;--first:#56b4e9;--second:#ff9e4a;--block:#212427}}
"#;

/// The drawing of the instrument.
pub(super) const DRAWN: &str = r#"
svg.drawn{background:var(--paper)}
.drawn-wall{fill:var(--block);stroke:var(--ink);stroke-width:1.5}
.drawn-paper{fill:var(--paper)}
.drawn-line{fill:none;stroke:var(--ink);stroke-width:1.5}
.drawn-pole{fill:none;stroke:var(--faint);stroke-width:1;stroke-dasharray:3 3}
.drawn-pole.strong{stroke:var(--ink);stroke-width:2;stroke-dasharray:none}
.drawn-suspect{fill:none;stroke:var(--second);stroke-width:3}
.drawn-cut{fill:var(--first);stroke:none}
.drawn-word{fill:var(--ink);font:22px system-ui,sans-serif}
.drawn-word.strong{font-weight:700}
@media (min-width:50rem){.drawn-word{font-size:14px}}
@media print{.drawn-word{font-size:14px}}
"#;

/// Everything else.
pub(super) const PAGE: &str = r#"
*{box-sizing:border-box}
body{margin:0 auto;max-width:74rem;padding:1rem 1.25rem 3rem;background:var(--paper);color:var(--ink);font:1rem/1.5 system-ui,sans-serif;overflow-wrap:break-word}
h1{font-size:1.6rem;line-height:1.2;margin:.5rem 0}
h2{font-size:1.25rem;margin:2.2rem 0 .6rem;padding-top:.6rem;border-top:1px solid var(--rule)}
h3{font-size:1.05rem;margin:1.4rem 0 .3rem}
p,ul,ol{max-width:46rem}
p{margin:.4rem 0}
li{margin:.3rem 0}
a{color:var(--first)}
:focus-visible{outline:3px solid var(--first);outline-offset:2px}
.faint,figcaption,caption{color:var(--faint)}
.next{border-left:.4rem solid var(--ink);background:var(--block);padding:.8rem 1.1rem;max-width:48rem}
.next h2{border:0;margin:0 0 .4rem;padding:0}
.do{font-size:1.15rem}
.caution{border:2px dashed var(--second);padding:.5rem .8rem;margin:0 0 .7rem;max-width:46rem}
.figures{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,21rem),1fr));gap:1rem 2rem;align-items:start}
.figures svg{max-width:27rem}
figure{margin:.6rem 0;max-width:27rem;break-inside:avoid}
figure.whole{max-width:none}
figure svg{display:block;width:100%;height:auto}
svg.drawn{max-width:58rem;margin-bottom:1.6rem}
figcaption{font-size:.9rem}
.wide{overflow-x:auto;max-width:100%}
table{border-collapse:collapse;margin:.6rem 0;font-variant-numeric:tabular-nums}
caption{text-align:left;padding:.2rem 0}
th,td{padding:.25rem .7rem .25rem 0;text-align:right;vertical-align:top;border-bottom:1px solid var(--rule)}
thead th{vertical-align:bottom;font-weight:600}
th:first-child,.words-last td:last-child,.words-last th:last-child{text-align:left}
tbody th{font-weight:600;white-space:nowrap}
tbody th bdi{display:inline-block;width:max-content;max-width:16rem;white-space:normal;overflow-wrap:break-word}
details{margin:.8rem 0}
summary{cursor:pointer;font-weight:600}
.take{margin:.3rem 0;border-bottom:1px solid var(--rule);padding:.2rem 0}
.take summary{font-weight:400;padding:.3rem 0}
audio{display:block;width:100%;max-width:30rem;margin:.5rem 0}
code{white-space:nowrap}
.next code{white-space:normal;overflow-wrap:anywhere}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.15rem .9rem;max-width:46rem;margin:.5rem 0}
dt{color:var(--faint)}
dd{margin:0;grid-column:2}
@media (min-width:48rem){.beside{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,min(27rem,46%));gap:0 2rem;align-items:start}}
@media (max-width:40rem){tbody th bdi{max-width:9rem}body{padding:.6rem .8rem 2rem}th,td{padding-right:.5rem}.next{padding:.7rem .8rem}}
@media print{
@page{margin:14mm}
html{font-size:10pt}
body{max-width:none;padding:0}
p,li{orphans:3;widows:3}
h2{margin-top:1.6rem}
h2,h3,h2+p:not(:last-child),caption,thead{break-after:avoid}
figcaption,tbody tr:nth-child(-n+3),tbody tr:last-child{break-before:avoid}
tr,.next,.finding-head,#how{break-inside:avoid}
thead{display:table-header-group}
.wide{overflow:visible}
tbody th bdi{max-width:9rem}
figure{max-width:100mm}
figure.whole{max-width:none;break-inside:auto}
.figures{grid-template-columns:repeat(2,76mm);gap:4mm 10mm}
.figures svg{max-width:76mm}
svg.drawn{max-width:125mm;margin-bottom:4mm}
.beside{display:grid;grid-template-columns:minmax(0,1fr) 76mm;gap:0 6mm;align-items:start}
.beside .figures{grid-template-columns:1fr}
details[open]:not(.take)>summary,audio,#takes:not(:has(details[open])),details:not([open]){display:none}
}
"#;
