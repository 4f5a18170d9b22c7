"""How the pages of a trial look: A4 sheets in black on white, written on by hand."""

from __future__ import annotations

WIDTH, HEIGHT = 186.0, 270.0
"""What a sheet fills of A4 paper within its margins, in mm; letter paper has it smaller."""
ROW = 6.0
"""Height in mm of a row of a table that is written in by hand."""

STYLE = f"""
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ font: 9pt/1.35 "Liberation Sans", Arial, Helvetica, sans-serif; color: #000;
  margin: 0; background: #fff; }}
.sheet {{ width: {WIDTH}mm; max-width: 100%; margin: 0 auto; padding: 8mm 0 4mm; display: flex;
  flex-direction: column; min-height: {HEIGHT}mm; }}
.sheet + .sheet {{ border-top: 1px dashed #777; }}
.sheet > header {{ display: flex; align-items: baseline; gap: 4mm; border-bottom: 1.2mm solid #000;
  padding-bottom: 1mm; margin-bottom: 2.5mm; }}
h1 {{ font-size: 15pt; line-height: 1.1; margin: 0; }}
.sheet > header span {{ font-size: 11pt; }}
.sheet > header span.aside {{ margin-left: auto; font-size: 9pt; text-align: right; }}
h2 {{ font-size: 9.5pt; line-height: 1.2; margin: 1.9mm 0 .7mm; }}
p, ul, ol {{ margin: 0 0 1mm; }}
ul, ol {{ padding-left: 5mm; }}
.frame {{ border: .4mm solid #000; padding: 1mm 2mm; margin: 0 0 1.6mm; }}
.against {{ border-left: 1.6mm solid #000; padding-left: 2mm; font-weight: bold; }}
.small {{ font-size: 8pt; overflow-wrap: anywhere; }}
dl {{ display: grid; grid-template-columns: repeat(3, minmax(0, 1fr)); gap: 0 4mm;
  margin: 0 0 2mm; }}
dl.two {{ grid-template-columns: repeat(2, minmax(0, 1fr)); }}
dl.four {{ grid-template-columns: repeat(4, minmax(0, 1fr)); }}
dl.one {{ grid-template-columns: minmax(0, 1fr); }}
.rules tbody th {{ font-weight: normal; }}
dl > div {{ border-bottom: .2mm solid #000; min-height: 8.8mm; padding-top: .5mm; display: flex;
  flex-direction: column; overflow-wrap: anywhere; }}
dt {{ font-size: 8pt; line-height: 1.2; color: #333; }}
dd {{ margin: 0; font-weight: bold; line-height: 1.2; }}
.scroll {{ overflow-x: auto; margin-bottom: 1.2mm; }}
.scroll:focus-visible {{ outline: 2px solid #000; }}
table {{ border-collapse: collapse; width: 100%; table-layout: fixed;
  font-variant-numeric: tabular-nums; }}
th, td {{ border: .2mm solid #555; padding: .4mm 1mm; text-align: center; vertical-align: middle;
  height: {ROW}mm; line-height: 1.15; }}
th {{ background: #e8e8e8; font-weight: bold; font-size: 8pt; }}
tbody th, td.text, th.text {{ text-align: left; }}
.unit, .band {{ white-space: nowrap; font-weight: normal; font-size: 8pt; }}
.three {{ display: grid; grid-template-columns: repeat(3, minmax(0, 1fr)); gap: 3mm; }}
.box {{ display: inline-block; width: 3.2mm; height: 3.2mm; border: .3mm solid #000;
  vertical-align: -.5mm; margin: 0 .8mm 0 0; }}
.tick + .tick {{ margin-left: 2mm; }}
.tick {{ white-space: nowrap; }}
.lines {{ flex: 1 1 11mm; min-height: 11mm; border: .2mm solid #555;
  margin-bottom: 1.2mm; }}
.rest {{ flex: 1 0 0; }}
.sheet > footer {{ margin-top: 2mm; border-top: .3mm solid #000; padding-top: .8mm; display: flex;
  gap: 4mm; font-size: 8pt; line-height: 1.25; }}
.sheet > footer > :first-child {{ flex: 1 1 0; overflow-wrap: anywhere; }}
.sheet > footer > :last-child {{ white-space: nowrap; font-weight: bold; }}
@page {{ size: A4; margin: 11mm 12mm; }}
@media screen and (max-width: 740px) {{
  body {{ font-size: 11pt; }}
  .sheet {{ padding: 5mm 4mm; min-height: 0; }}
  .sheet > header, .sheet > footer {{ flex-wrap: wrap; }}
  .sheet > header span.aside {{ margin-left: 0; text-align: left; }}
  dl, dl.two, dl.four, .three {{ grid-template-columns: minmax(0, 1fr); }}
  .scroll table {{ min-width: 230mm; }}
  .three .scroll table {{ min-width: 0; }}
}}
@media print {{
  .sheet {{ padding: 0; break-after: page; break-inside: avoid; }}
  .sheet:last-child {{ break-after: auto; }}
  .sheet + .sheet {{ border-top: 0; }}
  .scroll {{ overflow: visible; }}
}}
"""
