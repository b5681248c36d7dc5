"""How the printed page of a pacing card looks."""

STYLE = """
:root { color-scheme: light dark; --ink: #000; --paper: #fff; --line: #777; }
@media screen and (prefers-color-scheme: dark) {
  :root { --ink: #eee; --paper: #161616; --line: #999; }
}
@media print { :root { color-scheme: light; } .screen { display: none; } }
@page { margin: 11mm; }
* { box-sizing: border-box; }
html { background: var(--paper); color: var(--ink); }
body { margin: 0 auto; padding: 0; max-width: 186mm; font: 9pt/1.3 sans-serif; }
@media screen { body { padding: 6mm 3mm; } }
h1, h2 { line-height: 1.2; overflow-wrap: anywhere; }
h1 { margin: 0 0 2mm; font-size: 13pt; }
h2 { margin: 3mm 0 1mm; font-size: 10pt; break-after: avoid; }
p, ul { margin: 0 0 1.5mm; }
ul { padding-left: 5mm; }
p, li, td { overflow-wrap: anywhere; }
table { margin-bottom: 1mm; border-collapse: collapse; font-variant-numeric: tabular-nums; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { padding: 0.2mm 1.5mm; text-align: right; vertical-align: baseline; }
thead th { border-bottom: 0.3mm solid var(--line); font-weight: normal; white-space: nowrap; }
tbody th { font-weight: normal; }
.words { text-align: left; }
.wide { overflow-x: auto; }
hr { margin: 2mm 0 3mm; border: 0; border-top: 0.4mm dashed var(--line); }

/* The card is paper on every screen: black on white, and in millimetres. */
.card {
  display: inline-block; width: 60mm; margin: 0 0.5mm 2mm 0; padding: 1.5mm 2mm;
  border: 0.3mm dashed #000; background: #fff; color: #000;
  vertical-align: top; break-inside: avoid; line-height: 1.15;
}
.card .race {
  margin: 0; max-height: 2.3em; overflow: hidden;
  font-size: 8pt; font-weight: bold; overflow-wrap: anywhere;
}
.card table { margin: 0; width: 100%; table-layout: fixed; }
.card th, .card td { padding: 0.2mm 0; overflow: hidden; white-space: nowrap; }
.card thead th { border-color: #000; font-size: 8pt; }
.card thead th:first-child { width: 19mm; }
.card thead th:last-child { width: 17mm; }
.card tbody tr + tr > * { border-top: 0.1mm solid #000; }
.card .to { font-size: 16pt; }
.card .power { font-size: 20pt; font-weight: bold; }
.card .at { font-size: 10pt; }
.card .mark { padding-left: 2mm; font-size: 8.5pt; text-align: left; }
.card .mark div { max-height: 3.5em; overflow: hidden; white-space: normal; }
.card .advice { margin: 1mm 0 0; font-size: 7pt; }
"""
"""Style sheet; nothing in it is fetched. Sizes of the card suit arm's length, by eye."""
