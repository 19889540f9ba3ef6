"""How the report looks: black on white, on a phone, on a screen and on paper."""

from __future__ import annotations

INK, SOFT, EDGE, GRID, BACK = "#111111", "#4a4a4a", "#6b6b6b", "#d4d4d4", "#ffffff"

STYLE = f"""
:root {{ color-scheme: light; }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; color: {INK}; background: {BACK}; font: 16px/1.5 Arial, "Liberation Sans", Helvetica, sans-serif; }}
main {{ max-width: 76rem; margin: 0 auto; padding: 1rem 1rem 3rem; overflow-wrap: anywhere; }}
h1 {{ font-size: 1.6rem; line-height: 1.2; margin: .5rem 0; }}
h2 {{ font-size: 1.25rem; line-height: 1.25; margin: 2.25rem 0 .75rem; border-bottom: 2px solid {INK}; }}
h3 {{ font-size: 1rem; margin: 1.5rem 0 .5rem; }}
p, ul {{ margin: .5rem 0; max-width: 46rem; }}
li {{ margin: .2rem 0; }}
.label {{ font-weight: bold; }}
.answer {{ font-size: 1.1rem; }}
.scroll {{ overflow-x: auto; max-width: 100%; }}
.scroll:focus-visible {{ outline: 3px solid {INK}; outline-offset: 2px; }}
table {{ border-collapse: collapse; font-size: .875rem; line-height: 1.35; overflow-wrap: normal; }}
caption {{ text-align: left; color: {SOFT}; padding: .25rem 0; }}
th, td {{ text-align: left; vertical-align: top; padding: .3rem .6rem .3rem 0; border-bottom: 1px solid {EDGE}; }}
thead th {{ vertical-align: bottom; border-bottom: 2px solid {INK}; }}
tbody th {{ font-weight: normal; }}
.number {{ text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }}
.kept {{ white-space: nowrap; }}
.words {{ min-width: 15rem; }}
thead .number {{ white-space: normal; }}
figure {{ margin: 0; }}
figcaption {{ color: {SOFT}; font-size: .875rem; max-width: 46rem; }}
svg {{ display: block; width: 100%; height: auto; max-width: 45rem; font-family: inherit; }}
svg.narrow {{ display: none; max-width: 25rem; }}
svg text {{ fill: {INK}; }}
svg .label, svg .turned, svg .name {{ font-weight: bold; }}
svg .name, svg .turned {{ paint-order: stroke; stroke: {BACK}; stroke-width: 4; stroke-linejoin: round; }}
svg .grid {{ stroke: {GRID}; stroke-width: 1; }}
svg .axis {{ stroke: {INK}; stroke-width: 1; fill: none; }}
svg .mark {{ stroke: {EDGE}; stroke-width: 1; fill: none; }}
svg .now {{ stroke: {INK}; stroke-width: 1.5; }}
svg .turn {{ stroke: {INK}; stroke-width: 1.5; stroke-dasharray: 2 3; }}
svg .series {{ stroke: {INK}; stroke-width: 2; fill: none; }}
svg .sign {{ stroke: {INK}; stroke-width: 1.75; fill: {BACK}; }}
svg .solid {{ fill: {INK}; }}
.beside {{ display: grid; gap: .5rem 2rem; grid-template-columns: minmax(0, 1fr); align-items: start; }}
@media (min-width: 70rem) {{
  .beside {{ grid-template-columns: minmax(0, 40rem) minmax(0, 1fr); }}
  .beside .words {{ min-width: 0; }}
}}
@media screen and (max-width: 33rem) {{ svg.wide {{ display: none; }} svg.narrow {{ display: block; }} }}
@media print {{
  @page {{ margin: 14mm 12mm; }}
  body {{ font-size: 10pt; }}
  main {{ max-width: none; padding: 0; }}
  .beside {{ display: block; }}
  .scroll {{ overflow: visible; }}
  .words {{ min-width: 0; }}
  table, figcaption {{ font-size: 8pt; }}
  table {{ width: 100%; }}
  svg {{ max-width: 150mm; }}
  h2, h3, caption {{ break-after: avoid; }}
  figure, tr {{ break-inside: avoid; }}
}}
"""
