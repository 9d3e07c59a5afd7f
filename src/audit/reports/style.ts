/** Of a report on a screen and on paper (A4). Words keep 4.5 to 1 against what they stand on. Source: WCAG 2.2, 1.4.3 */
export const STYLE = `
@page{size:A4;margin:16mm 14mm}
*{box-sizing:border-box}
body{margin:0;background:#fff;color:#1d2b33;font:15px/1.45 system-ui,"Liberation Sans",Arial,sans-serif}
main{max-width:62rem;margin:0 auto;padding:1.5rem 1.25rem 3rem}
header{border-bottom:3px solid #0b5a78;padding-bottom:.75rem;margin-bottom:1.25rem}
h1{font-size:2rem;line-height:1.15;margin:.1rem 0}
h2{font-size:1.25rem;margin:0 0 .6rem;color:#0b4a63;break-after:avoid}
h3{font-size:1.02rem;margin:1rem 0 .35rem;break-after:avoid}
p{margin:.3rem 0 .6rem}
.kind{text-transform:uppercase;letter-spacing:.06em;font-size:.8rem;color:#40545e;margin:0}
.month{font-size:1.3rem;margin:.1rem 0}
.partial{border-left:4px solid #a3260f;padding-left:.6rem;font-weight:600}
.code{font-weight:400;font-size:.75em;color:#40545e;white-space:nowrap}
section{margin:0 0 1.9rem}
.tiles{display:flex;flex-wrap:wrap;gap:.8rem}
.tile{flex:1 1 12rem;border:1px solid #c3ced3;border-top:4px solid #0b5a78;padding:.7rem .9rem;break-inside:avoid}
.tile p{margin:0}
.figure{font-size:2.1rem;font-weight:650;line-height:1.1;font-variant-numeric:tabular-nums}
.what{font-weight:600}
.of{color:#40545e;font-size:.87rem}
figure{margin:0 0 .9rem;break-inside:avoid}
figure svg{display:block;width:100%;height:auto}
@media screen{figure svg.map{max-width:44rem}}
@media print,(min-width:36rem){figure svg.map{font-size:13px}}
.panels{display:grid;grid-template-columns:repeat(auto-fill,minmax(17rem,1fr));gap:.4rem 1rem}
.panel{display:flex;flex-direction:column;justify-content:flex-end}
.panel figcaption{font-weight:600;font-size:.88rem;line-height:1.2}
.scroll{overflow-x:auto}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums;font-size:.88rem}
th,td{padding:.28rem .5rem;border-bottom:1px solid #d9e1e5;text-align:right;vertical-align:top}
thead th{border-bottom:2px solid #40545e;vertical-align:bottom;font-weight:600}
tbody th{text-align:left;font-weight:400}
th:first-child{text-align:left}
td{white-space:nowrap}
td.text{text-align:left;white-space:normal}
.text tbody td.text:last-child{min-width:14rem}
.listed tbody td.text:last-child{min-width:0}
.scroll+p{margin-top:.6rem}
table+table{margin-top:.8rem}
tr{break-inside:avoid}
thead{display:table-header-group}
.narrow{font-size:.76rem}
.figures th:first-child{width:36%}
.figures td{font-size:.95em}
.figures th,.figures td{padding:.24rem .35rem}
.areas{font-size:.82rem;table-layout:fixed;margin-bottom:1rem}
.areas th:first-child{width:24%}
.areas thead th{font-size:.85em;overflow-wrap:break-word;hyphens:auto}
.text th:last-child{text-align:left}
.listed td{white-space:nowrap}
.listed th{text-align:left}.listed thead th:nth-child(5){text-align:right}
.decision{border-left:4px solid #0b5a78;padding-left:.6rem}
.areas td{white-space:normal}
.narrow th,.narrow td{padding:.22rem .3rem}
.depth2{padding-left:1.2rem}.depth3{padding-left:2.1rem}.depth4{padding-left:3rem}
.less{color:#40545e;font-style:italic;font-size:.85em}
small{color:#40545e}
li{margin-bottom:.25rem}
dt{font-weight:600;margin-top:.5rem}
dd{margin:0 0 .3rem;font-size:.9rem}
footer{border-top:1px solid #c3ced3;padding-top:.6rem;font-size:.85rem;color:#40545e}
code{font-size:.92em;overflow-wrap:anywhere}
@media screen and (max-width:48rem){main{padding-inline:1rem}figure{overflow-x:auto}figure svg{min-width:46rem}figure svg.map,.panel svg{min-width:0}}
@media print{body{font-size:10.5pt}main{max-width:none;padding:0}.scroll{overflow:visible}.panels{grid-template-columns:repeat(3,1fr)}.narrow{font-size:6.6pt}}
`;
