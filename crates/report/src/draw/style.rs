//! Paper, ink and sea: the look of the pictures, for light and for dark rooms.

/// The colours, as custom properties on `scope`.
pub(super) fn colours(scope: &str) -> String {
    format!(
        "{scope}{{{LIGHT}}}@media (prefers-color-scheme:dark){{{scope}{{{DARK}}}}}@media print{{{scope}{{{LIGHT}}}}}"
    )
}

const LIGHT: &str = "--paper:#fbf8f0;--sheet:#fffdf8;--ink:#1c2a35;--soft:#54626c;--rule:#cfc8b6;\
--grid:#e7e1d2;--sea:#bcd9da;--shore:#1d6670;--deep:#24707a;--sand:#f1e6c8;--rope:#87702c;\
--rust:#9b2a20;--moss:#2c6549;--on-deep:#ffffff;--on-rust:#ffffff;--lux:#f3e2a9;--brass:#7d6412;";

const DARK: &str = "--paper:#0f1a22;--sheet:#14212b;--ink:#ece6d8;--soft:#a5b4bd;--rule:#3a4a56;\
--grid:#22323d;--sea:#1d4a53;--shore:#86cdd2;--deep:#8ccfd4;--sand:#3b3520;--rope:#d3bb74;\
--rust:#ff9485;--moss:#97d6b1;--on-deep:#0d2226;--on-rust:#2a0905;--lux:#4a431f;--brass:#e0c766;";

/// The classes of the drawing.
pub(super) const DRAWING: &str = "\
text{font:12.5px/1 ui-sans-serif,system-ui,sans-serif;font-variant-numeric:tabular-nums;fill:var(--ink)}\
.name{font-weight:700;font-size:13.5px}.kind,.date,.skip,.never{fill:var(--soft)}\
.never{font-style:italic;paint-order:stroke;stroke:var(--sheet);stroke-width:5px}\
.rule,.edge{stroke:var(--rule);fill:none}.edge{stroke-width:1}.tick{stroke:var(--soft);fill:none}\
.grid{stroke:var(--grid);fill:none}.hair{stroke:var(--rule);fill:none;stroke-dasharray:1 3}\
.gap{fill:var(--sheet)}.wave{fill:none;stroke:var(--soft)}\
.light-area{fill:var(--sea)}.light-line{fill:none;stroke:var(--shore);stroke-width:1.8;stroke-linejoin:round}\
.lux-area{fill:var(--lux)}.lux-line{fill:none;stroke:var(--brass);stroke-width:1.5;stroke-linejoin:round}\
.target{fill:none;stroke:var(--ink);stroke-dasharray:5 3}\
.level,.on-bar{fill:var(--ink)}.level{paint-order:stroke;stroke:var(--sheet);stroke-width:3px;stroke-linejoin:round}\
.on-solid{fill:var(--on-deep)}\
.span{stroke:var(--deep);stroke-width:1}.solid{fill:var(--deep)}.dotted{fill:url(#dots)}\
.slanted{fill:url(#slants)}.crossed{fill:url(#crosses);stroke:var(--soft)}\
.outline{fill:var(--sheet);stroke:var(--deep);stroke-width:1.4}.plate{fill:var(--sheet)}\
.sand{fill:var(--sand)}.timer{fill:var(--sand);stroke:var(--rope)}.notch{stroke:var(--rope);fill:none}\
.timer-end{fill:var(--rope);stroke:var(--rope);stroke-width:1.6;stroke-linejoin:round}\
.timer-stop{stroke:var(--rope);stroke-width:2.4;fill:none}\
.timer-on{stroke:var(--rope);stroke-width:2;fill:none}\
.stem{stroke:var(--ink);stroke-width:1.3;fill:none}.stem.idle{stroke:var(--soft);stroke-dasharray:2 2}\
.head{fill:var(--ink);stroke:var(--ink);stroke-width:1.2}.head.idle{fill:var(--sheet);stroke:var(--soft)}\
.press{fill:var(--ink)}\
.held-ring{fill:var(--sheet);stroke:var(--moss);stroke-width:1.3}\
.held-sign{fill:none;stroke:var(--moss);stroke-width:2;stroke-linecap:round;stroke-linejoin:round}\
.dots{fill:var(--ink)}.query{font-weight:700}\
.broken-fill{fill:var(--rust);stroke:var(--sheet);stroke-width:1.5}\
.broken-sign{stroke:var(--on-rust);stroke-width:2.2;stroke-linecap:round;fill:none}\
.broke{stroke:var(--rust);stroke-width:1.4;stroke-dasharray:7 3;fill:none}\
.duty{stroke:var(--moss);stroke-width:1.6;fill:none}.duty.bad{stroke:var(--rust);stroke-width:2.4;stroke-dasharray:6 3}\
.frame{fill:var(--sheet);stroke:var(--ink);stroke-width:1.2}.frame.lost{stroke-dasharray:2 2}\
.frame-cross{stroke:var(--rust);stroke-width:2;fill:none}\
.more{stroke-width:1.4;stroke-dasharray:2 3}.fault{fill:var(--rust);stroke:var(--rust);stroke-linejoin:round}.fault.ended{fill:var(--sheet)}\
.fault-sign{stroke:var(--on-rust);stroke-width:2;stroke-linecap:round;fill:none}\
.fault.ended+.fault-sign{stroke:var(--rust)}\
.p-line{stroke:var(--deep);fill:none}.p-dot{fill:var(--deep)}.p-soft{stroke:var(--soft);fill:none}";

/// The page around the drawings.
pub(super) const PAGE: &str = "\
*{box-sizing:border-box}html{background:var(--paper);color:var(--ink);-webkit-text-size-adjust:100%}\
body{margin:0 auto;max-width:1062px;padding:20px 16px 120px;font:16px/1.5 ui-sans-serif,system-ui,sans-serif;font-variant-numeric:tabular-nums}\
h1,h2,.room,caption{font-family:ui-serif,Georgia,serif}\
header{border-bottom:4px double var(--rule);padding-bottom:10px;margin-bottom:24px}\
.room{margin:0;letter-spacing:.08em;text-transform:uppercase;font-size:14px;color:var(--soft)}\
h1{font-size:clamp(24px,4vw,34px);line-height:1.2;margin:2px 0 6px;font-weight:600;text-wrap:balance}\
h2{font-size:22px;line-height:1.3;margin:28px 0 8px;font-weight:600}h3{font-size:15px;margin:8px 0 4px}\
.meta,.how{color:var(--soft);margin:0 0 6px}code{font:.92em ui-monospace,monospace;overflow-wrap:anywhere}\
.verdict{display:inline-block;margin:6px 0 4px;padding:2px 12px;border:1.5px solid var(--moss);border-radius:3px;color:var(--moss);font-weight:600}\
.verdict.bad{border:1.5px solid var(--rust);background:var(--rust);color:var(--on-rust)}\
.failure{border-top:3px solid var(--rust);margin-top:28px}.failure.wanted{border-top-style:dashed}.failure h2{color:var(--rust);margin:8px 0 2px}\
.columns{display:flex;flex-wrap:wrap;gap:0 40px;margin-bottom:10px}.columns>div{flex:1 1 320px}\
ul{padding-left:20px;margin:0 0 8px}ul.chain{list-style:none;padding-left:22px}ul.chain li{text-indent:-22px}ul.chain .remark{padding-left:36px;text-indent:-12px;color:var(--soft)}\
.scroll{overflow-x:auto;background:var(--sheet);border:1px solid var(--rule);border-radius:4px;margin:10px 0 16px}\
.scroll:focus-visible,a:focus-visible,summary:focus-visible{outline:2px solid var(--shore);outline-offset:2px}\
.lanes{border-collapse:collapse;width:1028px;table-layout:fixed}.lanes td,.lanes th{padding:0;vertical-align:top}\
.lanes caption{text-align:left;padding:8px 12px 2px;font-size:15px;color:var(--soft);position:sticky;left:0;width:min(92vw,1028px)}\
.names{position:sticky;left:0;z-index:3;width:168px;background:var(--sheet);text-align:left;font-weight:400;font-size:12.5px;border-right:1px solid var(--rule)}\
tbody .names{border-top:1px solid var(--rule)}\
.lane,.track{height:22px;line-height:22px;padding:0 8px 0 12px;white-space:nowrap;overflow:hidden;text-overflow:ellipsis}\
.lane{font-weight:700;font-size:13.5px}.track{display:flex;align-items:center;gap:4px;padding-left:22px;color:var(--soft)}\
.sign.bad{color:var(--rust);font-weight:700}\
.plot{position:relative;width:860px}.plot svg,thead svg{display:block}\
.hit{position:absolute;display:block;border-radius:2px}.hit:hover{outline:1.5px solid var(--ink)}.hit:focus-visible{outline:2.5px solid var(--ink);outline-offset:1px}\
.tip,.hidden,.shared{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%);white-space:nowrap}\
.hit:hover .tip,.hit:focus-visible .tip{position:fixed;z-index:9;left:0;right:0;bottom:0;width:auto;height:auto;max-height:42vh;overflow:auto;clip-path:none;white-space:normal;\
background:var(--sheet);color:var(--ink);border-top:4px double var(--rule);padding:10px max(16px,calc(50vw - 515px)) 14px;font-size:15px;line-height:1.45;overflow-wrap:anywhere}\
.why{color:var(--soft)}\
.key summary,details>summary{cursor:pointer;padding:6px 0;font-weight:600}\
.key ul{list-style:none;padding:0;display:grid;grid-template-columns:repeat(auto-fill,minmax(230px,1fr));gap:4px 16px;font-size:14px}\
.key li{display:flex;align-items:center;gap:8px}.key svg{flex:none}\
.facts{border-collapse:collapse;width:100%;font-size:14px}.facts th,.facts td{padding:5px 10px;text-align:left;vertical-align:top;border-top:1px solid var(--grid)}\
.facts.clauses th:first-child{width:90px}.facts.clauses td:nth-child(2){width:160px}.facts thead th{border:0;border-bottom:1.5px solid var(--rule)}.facts caption{text-align:left;padding:8px 10px;color:var(--soft)}\
.facts th:first-child,.facts .when{width:200px}.facts td:nth-child(2){width:190px}.facts:not(.clauses) td:nth-child(3){width:270px}.facts .bad td,.facts .bad th{font-weight:600;color:var(--rust)}\
.facts tr:target td{background:var(--sand)}\
.facts.proof th:first-child{width:64px}.facts.proof td:nth-child(2){width:150px}.facts.proof th:nth-child(4){width:100px;white-space:nowrap}.facts .number{text-align:right;white-space:nowrap}\
.facts.proof .bad td:nth-child(n+3){font-weight:400;color:var(--ink)}.facts a{color:var(--shore)}.facts details{font-size:14px}.narrow{display:none}\
pre{margin:0;padding:10px 12px;font-size:13.5px;line-height:1.45}pre code{font:inherit;font-family:ui-monospace,monospace;overflow-wrap:normal}\
.skip-link{position:absolute;left:-999px}.skip-link:focus{left:16px;top:6px;background:var(--sheet);padding:6px 10px;z-index:10;color:var(--ink)}\
@media (max-width:640px){body{padding:14px 10px 130px}.names{width:156px}.lanes{width:1016px}.lane,.track{padding-right:4px;padding-left:6px}.track{padding-left:12px}\
.facts,.facts tbody,.facts tr,.facts td{display:block}.facts thead{display:none}.facts td,.facts tbody th{border:0;padding:1px 10px}.facts.proof th:first-child,.facts.proof td:nth-child(n){width:auto}.facts.proof td:nth-child(n+4){display:inline-block}.facts .number{text-align:left}.narrow{display:inline}.facts tr{display:block;border-top:1px solid var(--rule);padding:6px 0}.facts .when{font-weight:600}}\
@page{size:A4 landscape;margin:12mm}\
@media print{html{background:none}body{padding:0;max-width:none}.skip-link,.how,.hit{display:none}\
.scroll{overflow:visible;border:0;background:none;margin:4px 0 10px}.strip,.key,.lanes tr,.failure .columns,.facts tr,.key li,h2{break-inside:avoid}\
h2,caption,summary{break-after:avoid}.facts tbody tr:first-child{break-before:avoid}.names{position:static}thead{display:table-header-group}\
.verdict.bad{background:none;color:var(--rust)}*{-webkit-print-color-adjust:exact;print-color-adjust:exact}}";
