"""The rules of the build sheet's page, after those of every page: work tables, cards on a phone, paper in A4 and Letter."""

STYLE = """
:root{--dim:#55585c}@media (prefers-color-scheme:dark){:root{--dim:#b4b0a6}}
.small{font-size:.82rem;color:var(--dim)}.mono{font-family:ui-monospace,"DejaVu Sans Mono",monospace;overflow-wrap:anywhere}
a{color:var(--note)}
.sev{display:inline-block;min-width:4.6em;margin-right:.5em;padding:0 .4em;border:1.5px solid;border-radius:.2em;
text-align:center;font-size:.82rem;font-weight:700;text-transform:uppercase;letter-spacing:.03em}
.sev.stop{color:var(--stop)}.sev.fix{color:var(--fix)}.sev.caution{color:var(--caution)}.sev.note{color:var(--note)}
.sev.ask{color:var(--ask)}
nav ul,.counts{display:flex;flex-wrap:wrap;gap:.3rem 1rem;list-style:none;padding:0;margin:.5rem 0}
nav a{display:inline-block;padding:.25rem 0}
.figs{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(21rem,100%),1fr));gap:0 1.6rem;margin:.3rem 0}
.figs div{display:grid;grid-template-columns:9.5rem 1fr;gap:.8rem;border-bottom:1px solid var(--line);padding:.14rem 0}
.figs .w{grid-column:1/-1}.figs dt{color:var(--dim);overflow-wrap:break-word}
.figs dd{margin:0;font-variant-numeric:tabular-nums}
.id{display:grid;grid-template-columns:max-content 1fr;gap:.1rem 1rem;margin:.4rem 0}.id dt{color:var(--dim)}.id dd{margin:0}
.stage>h2{display:flex;gap:.6rem;align-items:baseline;border-bottom:3px solid var(--ink);padding-bottom:.15rem;margin-top:2rem}
.stage>h2 span{font-variant-numeric:tabular-nums}
.cautions h3{color:var(--stop)}
.cautions ul{columns:22rem;column-gap:2.2rem;margin:.3rem 0;padding-left:1.1rem}
.cautions li{break-inside:avoid}
.cards{overflow-wrap:break-word}
caption{text-align:left;font-weight:700;padding:.5rem 0 .2rem}
thead th{font-size:.82rem;border-bottom:2px solid var(--ink);vertical-align:bottom}
.work .task{font-weight:400}.work .value strong{font-size:1.08em}
.torques .pass{white-space:nowrap}.work td.small,.work .words{font-weight:400;color:var(--dim);font-size:.85rem}
label{display:inline-flex;align-items:center;gap:.45rem;white-space:nowrap;font-variant-numeric:tabular-nums}
input{font:inherit;color:inherit;background:transparent;margin:0;border-radius:0}
input[type=checkbox]{appearance:none;flex:none;width:1.25rem;height:1.25rem;border:2px solid var(--ink);display:grid;
place-content:center}
input[type=checkbox]:checked::before{content:"\\2713";font-weight:700;line-height:1}
input[type=text]{width:100%;min-width:3rem;border:0;border-bottom:1.5px solid var(--dim);padding:.1rem .2rem;height:1.7rem}
input:focus-visible,a:focus-visible{outline:3px solid var(--note);outline-offset:2px}
.ticks{list-style:none;padding:0;margin:.3rem 0;columns:22rem;column-gap:1.4rem}.ticks.short{columns:14rem}
.ticks li{break-inside:avoid;padding:.1rem 0}.ticks label{white-space:normal;align-items:flex-start}
.plates{display:grid;grid-template-columns:repeat(auto-fill,minmax(min(20rem,100%),1fr));gap:1rem}
figure{margin:.6rem 0;border:1px solid var(--line);padding:.5rem;break-inside:avoid}figure img{display:block;width:100%}
figcaption{font-weight:700;margin-bottom:.3rem}
.plate figure{max-width:34rem}
.plain{padding-left:1.2rem;margin:.3rem 0}.plain li{margin:.15rem 0}h4{margin:.5rem 0 .1rem}
.sources{padding:0;list-style:none}.sources li{display:grid;grid-template-columns:2.4rem 1fr;padding:.15rem 0}
.sign{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(15rem,100%),1fr));gap:1rem 2rem;break-inside:avoid}
.sign p{margin:2.4rem 0 0;border-top:1.5px solid var(--ink);padding-top:.2rem}
@media screen and (max-width:44rem){
body{padding:.7rem}h1{font-size:1.3rem}
.cards{overflow-wrap:anywhere}
table.cards,.cards tbody,.cards tr,.cards th,.cards td,.cards caption{display:block}
.cards thead{position:absolute;width:1px;height:1px;overflow:hidden;clip-path:inset(50%)}
.cards tr{border:1px solid var(--line);background:var(--soft);padding:.4rem .6rem;margin:.5rem 0}
.cards th,.cards td{border:0;padding:.1rem 0}
.cards td[data-l]{display:grid;grid-template-columns:5.8rem 1fr;gap:.5rem}
.cards td[data-l]::before{content:attr(data-l);color:var(--dim);font-size:.85rem}
.cards td:empty{display:none}
.work tr{display:grid;grid-template-columns:4.6rem 1fr;gap:0 .4rem}
.work .task{font-weight:700}.work td:not(.tick){grid-column:2}.work td[data-l]{grid-template-columns:5.5rem 1fr}
.work td.tick{grid-row:1/span 2}
input[type=checkbox]{width:1.6rem;height:1.6rem}input[type=text]{height:2rem}
.id{grid-template-columns:1fr}.id dd{margin-bottom:.3rem}
}
@media print{
:root{--dim:#333;--note:#000}body{font-size:9pt;line-height:1.3}nav,.screen{display:none}
h1{font-size:16pt}h2{font-size:12.5pt;margin:5mm 0 1.5mm}h3{font-size:9.5pt;margin:2.5mm 0 1mm}h4{font-size:8.5pt}
.figs{grid-template-columns:1fr 1fr;font-size:8pt;gap:0 6mm}.figs div{grid-template-columns:38mm 1fr;gap:2mm;padding:.3mm 0}
.small,.work .words,.work td.small{font-size:7.5pt}thead th{font-size:7.5pt}caption{padding:2mm 0 .5mm}
th,td{padding:.7mm 1.2mm}.stage.long{break-before:page}.stage>h2{margin-top:6mm}
.stage.long>h2{margin-top:0}.stage>h2,caption,h3,h4{break-after:avoid}.cautions,figure,.finding,.figs div,tr{break-inside:avoid}
.finding{padding:1mm 2mm;margin:1.5mm 0}.finding p{margin:.5mm 0}
.cautions{border-width:1.5pt;font-size:8pt;margin:2mm 0;padding:1mm 3mm}.cautions ul{columns:2}
.cautions ul,.plain{margin:.5mm 0}
.work,.torques{table-layout:fixed}.work th:nth-child(1){width:14mm}.work th:nth-child(3){width:25%}
.work th:nth-child(4){width:11%}.work th:nth-child(5){width:10%}.work th:nth-child(6){width:13%}.work th:nth-child(7){width:7%}
.work tr{height:8mm}input[type=checkbox]{width:3.4mm;height:3.4mm;border-width:1pt;font-size:8pt}
input[type=text]{border-bottom:0.6pt solid #555;height:5mm;min-width:0;padding:0}label{gap:1mm}
.torques{font-size:8pt}.torques th:nth-child(2){width:15%}.torques th:nth-child(3){width:12%}.torques th:nth-child(4){width:22%}
.torques th:nth-child(5){width:12%}.torques th:nth-child(6){width:18%}
.plates{grid-template-columns:1fr 1fr 1fr;gap:3mm}.plate figure{max-width:112mm}figure{padding:1.5mm;margin:2mm 0}
.ticks{columns:2;font-size:8pt}.ticks.short{columns:3}
.sign{grid-template-columns:1fr 1fr 1fr}
.sources{columns:2;font-size:6.8pt;column-gap:6mm}.sources li{break-inside:avoid;grid-template-columns:7mm 1fr}
.gaps{columns:2;column-gap:6mm;font-size:7.5pt}.gaps li{break-inside:avoid}.gaps .small{font-size:6.8pt}
.gaps h3{font-size:8.5pt}
.receipt{font-size:6.5pt}a{text-decoration:none}
}
@page{size:auto;margin:12mm 13mm 14mm}
"""
