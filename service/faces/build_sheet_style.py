"""The rules of the build sheet's page, after those of every page: work tables, cards on a phone, paper in A4 and Letter."""

STYLE = """
:root{--dim:#55585c}@media (prefers-color-scheme:dark){:root{--dim:#b4b0a6}}
.small{font-size:.82rem;font-weight:400;color:var(--dim)}
.mono{font-family:ui-monospace,"DejaVu Sans Mono",monospace;overflow-wrap:anywhere}
a{color:var(--note)}
.engine{font-weight:700;margin:.2rem 0}.verdict{font-size:1.15rem;font-weight:700;margin:.3rem 0}
.sev{display:inline-block;min-width:4.6em;margin-right:.5em;padding:0 .4em;border:1.5px solid;border-radius:.2em;
text-align:center;font-size:.82rem;font-weight:700;text-transform:uppercase;letter-spacing:.03em}
.sev.stop{color:var(--stop)}.sev.fix{color:var(--fix)}.sev.caution{color:var(--caution)}.sev.note{color:var(--note)}
.sev.ask{color:var(--ask)}
nav ul,.counts{display:flex;flex-wrap:wrap;gap:.3rem 1rem;list-style:none;padding:0;margin:.5rem 0}
nav{border-top:1px solid var(--line);border-bottom:1px solid var(--line);margin:1rem 0 .4rem}
nav a{display:inline-block;padding:.25rem 0}
.figs{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(21rem,100%),1fr));gap:0 1.6rem;margin:.3rem 0}
.figs div{display:grid;grid-template-columns:9.5rem 1fr;gap:.8rem;border-bottom:1px solid var(--line);padding:.14rem 0}
.figs .w{grid-column:1/-1;grid-template-columns:9.5rem 1fr}.figs dt,.id dt{color:var(--dim);overflow-wrap:break-word}
.figs dd{margin:0;font-variant-numeric:tabular-nums}
.id{display:flex;flex-wrap:wrap;gap:.1rem 1.6rem;margin:.4rem 0}.id div{display:flex;gap:.5rem}.id dd{margin:0}
.stage>h2{display:flex;gap:.6rem;align-items:baseline;border-bottom:3px solid var(--ink);padding-bottom:.15rem;margin-top:2rem}
.stage>h2 span{font-variant-numeric:tabular-nums}.by{margin:.2rem 0 .6rem}
.cautions h3{color:var(--stop)}
.cautions ul{columns:22rem;column-gap:2.2rem;margin:.3rem 0;padding:0}
.cautions li{break-inside:avoid;margin-left:1.1rem}
.cards{overflow-wrap:break-word}.narrow{width:auto;min-width:50%}
caption{text-align:left;font-weight:700;padding:.5rem 0 .2rem}
thead th{font-size:.82rem;border-bottom:2px solid var(--ink);vertical-align:bottom}
.work .task{font-weight:400}.work .words{display:inline-block}.nb{white-space:nowrap}.work .value strong{font-size:1.08em}
.torques th .small{display:block}
.torques th[scope=row]{font-weight:700}
.torques .pass{white-space:nowrap}.work td.small,.work .words{font-weight:400;color:var(--dim);font-size:.85rem}
label{display:inline-flex;align-items:center;gap:.45rem;white-space:nowrap;font-variant-numeric:tabular-nums}
input{font:inherit;color:inherit;background:transparent;margin:0;border-radius:0}
input[type=checkbox]{appearance:none;flex:none;width:1.25rem;height:1.25rem;border:2px solid var(--ink);display:grid;
place-content:center}
input[type=checkbox]:checked::before{content:"\\2713";font-weight:700;line-height:1}
input[type=text]{width:100%;min-width:3rem;border:0;border-bottom:1.5px solid var(--dim);padding:.1rem .2rem;height:1.7rem}
input:focus-visible,a:focus-visible{outline:3px solid var(--note);outline-offset:2px}
.ticks{list-style:none;padding:0;margin:.3rem 0;columns:22rem;column-gap:1.4rem}.ticks.short{columns:14.5rem;font-size:.9rem}
.ticks li{break-inside:avoid;padding:.1rem 0}.ticks label{white-space:normal;align-items:flex-start}
.plates{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(20rem,100%),1fr));gap:1rem}
.patterns{grid-template-columns:repeat(auto-fill,minmax(min(15rem,100%),1fr))}
figure{margin:.6rem 0;border:1px solid var(--line);padding:.5rem;break-inside:avoid}figure img{display:block;width:100%}
figcaption{font-weight:700;margin-bottom:.3rem}
.plate figure{max-width:34rem}
.plain{padding-left:1.2rem;margin:.3rem 0}.plain li{margin:.15rem 0}h4{margin:.5rem 0 .1rem}
.sources{padding:0;list-style:none}.sources li{padding:.15rem 0}
.sign{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(15rem,100%),1fr));gap:1rem 2rem;break-inside:avoid}
.sign p{margin:2.4rem 0 0;border-top:1.5px solid var(--ink);padding-top:.2rem}
@media screen and (min-width:60rem){.beside{display:grid;grid-template-columns:1fr 25rem;gap:1.4rem;align-items:start}}
@media screen and (max-width:44rem){
body{padding:.7rem}h1{font-size:1.3rem}
.cards{overflow-wrap:anywhere}.narrow{width:100%}
table.cards,.cards tbody,.cards tr,.cards th,.cards td,.cards caption{display:block}
.cards thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.cards tr{border:1px solid var(--line);background:var(--soft);padding:.3rem .5rem;margin:.35rem 0}
.cards th,.cards td{border:0;padding:.05rem 0}
.cards td[data-l]{display:grid;grid-template-columns:5.8rem 1fr;gap:.5rem}
.cards td[data-l]::before{content:attr(data-l);color:var(--dim);font-size:.85rem}
.cards td:empty{display:none}
.work tr{display:grid;grid-template-columns:4.4rem 3fr 2fr;gap:0 .4rem}
.work .task{font-weight:700}.work td:not(.tick){grid-column:2/-1}
.work td.tick{grid-row:1/span 3}.work td.small[data-l]{display:block}.work td.small[data-l]::before{content:none}
.figs div,.figs .w{grid-template-columns:44% 1fr;font-size:.94rem}
.work td:nth-last-child(2):not(.tick){grid-column:2}.work td:last-child:not(.tick){grid-column:3}
.work td:nth-last-child(-n+2){grid-template-columns:auto 1fr;align-items:end}
input[type=checkbox]{width:1.6rem;height:1.6rem}input[type=text]{height:2rem}
}
@media print{
:root{--dim:#333;--note:#000}body{font-size:8.5pt;line-height:1.25}nav,.screen{display:none}
h1{font-size:15pt;margin:0 0 1mm}h2{font-size:11.5pt;margin:4mm 0 1mm}h3{font-size:9pt;margin:2mm 0 .5mm}
h4{font-size:8pt;margin:1mm 0 0}p{margin:1mm 0}
.sev{font-size:7pt;border-width:1pt;min-width:16mm}.engine{font-size:10pt}.id{font-size:8pt;gap:0 5mm;margin:1mm 0}
.id div{gap:1.5mm}.verdict{font-size:11pt}
.figs{grid-template-columns:repeat(auto-fill,minmax(48mm,1fr));font-size:7.5pt;gap:0 4mm;margin:.5mm 0}
.figs div,.figs .w{gap:1.5mm;padding:.2mm 0}.figs .w{grid-template-columns:27mm 1fr}
.figs div:not(.w){grid-template-columns:46% 1fr;gap:1.5mm;padding:.2mm 0}
.small,.work .words,.work td.small{font-size:7pt}thead th{font-size:7pt}caption{padding:1.2mm 0 .3mm;font-size:8.5pt}
table{margin:.8mm 0;font-size:8pt}th,td{padding:.35mm 1.2mm}.by{font-size:6.5pt;margin:.3mm 0 1mm}
.stage>h2{margin-top:4.5mm;border-bottom-width:1.5pt}
h2,h3,h4,caption,thead,thead tr{break-after:avoid}tbody tr:first-child{break-before:avoid}
.cautions,figure,.finding,.figs div,tr,.plain li{break-inside:avoid}
.counts{margin:1mm 0;gap:1mm 4mm}
.finding{padding:.6mm 2mm;margin:1mm 0;border-left-width:1.2mm}.finding p{margin:.3mm 0}.finding h3{margin:0}
.cautions{border-width:1pt;font-size:7.5pt;margin:1mm 0;padding:.6mm 2.5mm}.cautions h3{font-size:8pt;margin:0}
.cautions ul{columns:3;column-gap:4mm;margin:.3mm 0}.cautions li{margin-left:3mm}.plain{margin:.3mm 0;padding-left:0}
.plain li{margin:.2mm 0 .2mm 3.5mm}.stage .plain{columns:85mm;column-gap:4mm;font-size:7.5pt}
.work,.torques{table-layout:fixed;font-size:8.2pt}.work th:nth-child(1){width:13mm}.work th:nth-child(2){width:33%}
.work th:nth-child(4){width:16%}.work th:nth-child(5){width:11%}.work th:nth-child(6){width:6.5%}
.work tr{height:6.4mm}.work td{vertical-align:middle}.work .value strong{font-size:1em}
input[type=checkbox]{width:3.4mm;height:3.4mm;border-width:1pt;font-size:8pt}
input[type=text]{border-bottom:0.6pt solid #555;height:4.6mm;min-width:0;padding:0}label{gap:1mm}
.torques{font-size:7.5pt}.torques th:nth-child(1){width:19%}.torques th:nth-child(2){width:18%}
.torques th:nth-child(3){width:13%}.torques th:nth-child(4){width:18%}
.plates{display:flex;flex-wrap:wrap;gap:2mm 3mm}.plates figure{width:76mm}.patterns figure{width:59mm}
figure{padding:1mm;margin:1mm 0}figcaption{font-size:7.5pt;margin:0}
.plate figure{width:74mm}.beside{display:grid;grid-template-columns:1fr 74mm;gap:4mm;align-items:start}
.ticks{columns:50mm;column-gap:4mm;font-size:8pt;margin:.5mm 0}.ticks.short{columns:42mm;column-gap:3mm;font-size:7.2pt}
.ticks li{padding:.2mm 0}
.sign{grid-template-columns:1fr 1fr 1fr}.sign p{margin-top:11mm}
.sources{columns:3;font-size:6pt;column-gap:4mm;margin:.5mm 0;line-height:1.2}.sources li{break-inside:avoid;padding:.3mm 0}
.gaps{columns:3;column-gap:4mm;font-size:6.8pt;line-height:1.2}.gaps .small{font-size:6.4pt}
.gaps h3{font-size:7.5pt;margin:1mm 0 .3mm}
.receipt{font-size:6pt}a{text-decoration:none}footer{font-size:7pt;margin-top:2mm}
}
@page{size:auto;margin:12mm 13mm 14mm}
"""


def page_rule(receipt: str) -> str:
    """At the foot of every sheet of paper: to which build sheet it belongs, and which of how many it is."""
    return (
        f"@page{{@bottom-left{{content:'{receipt[:23]}';font:7pt sans-serif}}"
        "@bottom-right{content:'page ' counter(page) ' of ' counter(pages);font:7pt sans-serif}}"
    )
