"""Colours and style of the sheet: light, dark, and one printed page."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

LIGHT: Final[Mapping[str, str]] = MappingProxyType(
    {
        "paper": "#fbf9f4",
        "ink": "#20262b",
        "soft": "#5a6066",
        "rule": "#8b8f90",
        "deep": "#1f4e5f",
        "on-deep": "#ffffff",
        "clay": "#9a4a21",
        "band": "#e4ecea",
        "faint": "#ece8df",
    }
)

DARK: Final[Mapping[str, str]] = MappingProxyType(
    {
        "paper": "#16191c",
        "ink": "#ece8df",
        "soft": "#a9adb0",
        "rule": "#7b8184",
        "deep": "#8fc3d1",
        "on-deep": "#10181b",
        "clay": "#e6a077",
        "band": "#24333a",
        "faint": "#262a2e",
    }
)

TEXT_ON: Final = (
    ("ink", "paper"),
    ("soft", "paper"),
    ("deep", "paper"),
    ("clay", "paper"),
    ("on-deep", "deep"),
    ("ink", "faint"),
    ("ink", "band"),
    ("deep", "faint"),
)
"""Words and what is behind them: at least 4.5 to 1 (WCAG 2.2, 1.4.3)."""

SHAPES_ON: Final = (
    ("deep", "paper"),
    ("clay", "paper"),
    ("rule", "paper"),
    ("deep", "band"),
    ("clay", "band"),
    ("ink", "band"),
)
"""Shapes that carry a meaning and what is behind them: at least 3 to 1 (WCAG 2.2, 1.4.11)."""

BAR: Final = 0.28
"""How much of the colour of a bar covers what is behind it; the line of its middle crosses it."""

RULES: Final = """
*{box-sizing:border-box}
html{scroll-behavior:smooth}
@media (prefers-reduced-motion){html{scroll-behavior:auto}}
body{margin:0 auto;max-width:64rem;padding:1.4rem;background:var(--paper);color:var(--ink);
font:1rem/1.45 "Gill Sans","Gill Sans Nova",Candara,Calibri,"DejaVu Sans",sans-serif}
header{border-bottom:3px solid var(--deep);display:flex;flex-wrap:wrap;justify-content:space-between;
align-items:baseline;gap:0 1.5rem}
h1{font-size:1.75rem;line-height:1.2;margin:0 0 .3rem;overflow-wrap:anywhere}
h2{font-size:1.15rem;margin:1.5rem 0 .4rem;color:var(--deep)}
h3{font-size:1rem;margin:.3rem 0 .1rem;display:inline-block;overflow-wrap:anywhere}
p,ol,ul,dl,figure{margin:.3rem 0}
nav ul{display:flex;flex-wrap:wrap;gap:.1rem 1.1rem;list-style:none;padding:0;margin:.4rem 0 0;font-size:.92rem}
a{color:var(--deep);display:inline-block;padding:.15rem 0}
.facts,.rule,.hint,footer,caption,figcaption{color:var(--soft);font-size:.86rem}
.unread{border:2px solid var(--clay);padding:.4rem .7rem}
.found{padding:0;list-style:none;display:grid;grid-template-columns:repeat(auto-fit,minmax(15rem,1fr));gap:.6rem 1.6rem}
.found li{border-left:4px solid var(--clay);padding-left:.7rem}
.found strong{display:block;text-wrap:pretty;font-size:1.08rem;line-height:1.35;font-weight:600}
.scroll{overflow-x:auto}
svg{display:block;width:100%;height:auto}
svg.timeline{min-width:40rem}
svg.columns-picture{min-width:20rem;max-width:34rem}
svg text{fill:var(--ink);font-size:13px}
svg .lane{text-anchor:end;fill:var(--soft)}
svg .count{text-anchor:middle;fill:var(--soft);font-size:12px}
svg .degree{text-anchor:middle;font-size:16px;font-weight:600}
.on,.take{fill:var(--deep)}
svg text.on,svg text.take{fill:var(--on-deep)}
.off,.step,.tempo{fill:var(--faint);stroke:var(--rule)}
svg text.off,svg text.step,svg text.tempo{fill:var(--ink);stroke:none}
.band{fill:var(--band)}
.grid{stroke:var(--rule);stroke-width:.6}
.target{stroke:var(--ink);stroke-width:1}
.rested{stroke:var(--deep);stroke-width:3;stroke-linecap:round;fill:none}
.restless{fill:none;stroke:var(--clay);stroke-width:1.1}
.halo{fill:none;stroke:var(--paper);stroke-width:6;stroke-linejoin:round}
.course{fill:none;stroke:var(--ink);stroke-width:2;stroke-linejoin:round}
.half{fill:var(--deep);fill-opacity:var(--bar);stroke:var(--deep)}
.median{stroke:var(--clay);stroke-width:4}
.before,.now{fill:var(--ink)}
.then{fill:var(--paper);stroke:var(--ink);stroke-width:1.6}
.marker{fill:var(--clay);stroke:var(--clay);stroke-width:1.5}
.columns,.sections{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,22rem),1fr));gap:.3rem 2rem}
.columns>*,.sections>*{min-width:0}
.trends{display:grid;grid-template-columns:repeat(auto-fit,minmax(15rem,1fr));gap:.5rem 1.5rem}
table{border-collapse:collapse;width:100%;font-size:.95rem;font-variant-numeric:tabular-nums}
caption{text-align:left;padding-bottom:.2rem}
b{color:var(--clay);font-weight:700}
th,td{text-align:right;padding:.16rem .4rem .16rem 0;border-bottom:1px solid var(--faint);font-weight:400}
thead th{color:var(--soft);font-size:.86rem;vertical-align:bottom;border-color:var(--rule)}
tbody th{font-weight:600;white-space:nowrap}
th:first-child{text-align:left}
td{white-space:nowrap}
#drills td{white-space:normal}#drills tr{vertical-align:top}#drills tbody th{white-space:normal;text-align:left}
#drills table{min-width:36rem}#drills figure{max-width:20rem}
#chords th:last-child,#chords td:last-child{text-align:left;white-space:normal;padding-left:1rem}
.keys{margin-top:.7rem}.keys table{table-layout:fixed;min-width:30rem}.keys th:first-child{width:9rem}
details{margin:.4rem 0}
summary{color:var(--deep);cursor:pointer;padding:.2rem 0;width:fit-content}
.takes{padding:0;list-style:none;columns:2 20rem;column-gap:2rem}
.takes>li{margin:0 0 .9rem;break-inside:avoid}
.takes audio{display:block;width:100%;height:2.4rem;margin:.2rem 0}
.chapters{padding:0;list-style:none;display:flex;flex-wrap:wrap;gap:.3rem .4rem}
button{font:inherit;font-size:.9rem;color:var(--ink);background:var(--faint);border:1px solid var(--rule);
border-radius:.4rem;padding:.2rem .55rem;min-height:1.9rem;cursor:pointer;text-align:left;overflow-wrap:anywhere}
button:hover{border-color:var(--deep)}
button span{color:var(--deep);font-variant-numeric:tabular-nums}
.settings{display:flex;flex-wrap:wrap;gap:.1rem 1.2rem;font-size:.86rem}
.settings div{display:flex;gap:.35rem}
.noted{font-size:.95rem}
.noted div{display:flex;flex-wrap:wrap;gap:0 .6rem}
.noted dt{font-weight:600}
.noted dd{margin:0;overflow-wrap:anywhere}
.settings dt{color:var(--soft)}
.settings dd{margin:0}
.paper{display:none}
footer{border-top:1px solid var(--rule);margin-top:1.4rem;padding-top:.4rem}
:focus-visible,audio:focus,audio:focus-within{outline:3px solid var(--clay);outline-offset:2px}
@media (max-width:44rem){th,td{font-size:.9rem}}
@page{margin:9mm}
@media print{html{font-size:6.6pt}
body{padding:0;max-width:none;line-height:1.2;background:none;display:flex;flex-direction:column;position:absolute;
inset:0;overflow:hidden}
main{flex:0 1 auto;min-height:0;overflow:hidden;columns:2;column-gap:5mm}
.paper{display:block}footer,header{flex:none}footer{margin-top:.3rem;padding-top:.2rem}
#found,#time,#degrees,.unread{column-span:all}
section{break-inside:auto}#trend,#level{break-inside:avoid}
h2{margin:.3rem 0 .05rem;font-size:1.1rem}h3{margin:0}.found strong{font-size:1.02rem;line-height:1.2}
.rule,.hint,footer,caption,figcaption,thead th{font-size:.9rem}p,ol,ul,dl,figure{margin:.12rem 0}
nav,.takes audio,summary,details:not([open]),.chapters,#timing .hint,.takes p,#written>.hint{display:none}
#drills .hint,#drills .trends{display:none}
.scroll{overflow:visible}#drills table{min-width:0}
.found{grid-template-columns:1fr 1fr 1fr}
#degrees .columns{grid-template-columns:44% 1fr}
.sections{grid-template-columns:1fr 1fr;gap:0 4mm}.sections>*{break-inside:avoid}.sections>:nth-child(n+5){display:none}
.trends{grid-template-columns:1fr 1fr 1fr;gap:0 3mm}.trends svg{max-height:12.5mm}.keys{margin-top:.2rem}
svg.timeline,svg.columns-picture{min-width:0}svg.timeline{max-height:28mm}svg.columns-picture{max-height:30mm}
.sections svg.columns-picture{max-height:24mm}#timing svg.columns-picture{max-height:20mm}
#degrees tbody tr:nth-child(n+13),.keys tbody tr:nth-child(n+7),#timing tbody tr:nth-child(n+5),
#chords tbody tr:nth-child(n+4),#timing .columns p:nth-of-type(n+3),#reported li:nth-child(n+4),
.settings>:nth-child(n+9),.noted>:nth-child(n+5){display:none}
#drills tbody tr:nth-child(n+5),#drills :is(th,td):nth-child(n+6){display:none}
#drills :is(th,td){font-size:.86rem}
.noted{columns:2;margin:0}.noted div{max-height:1.3em;overflow:hidden}
.takes{columns:auto;display:grid;grid-template-columns:1fr 1fr;gap:0 3mm}
.takes>li{margin:0;white-space:nowrap;overflow:hidden;text-overflow:ellipsis}.takes>li:nth-child(n+15){display:none}
h1,.sections p{display:-webkit-box;-webkit-box-orient:vertical;-webkit-line-clamp:2;overflow:hidden}
th,td{padding-block:.03rem}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}h2,tr,li,svg,figure{break-inside:avoid}
h2,h3{break-after:avoid}}
"""


def style() -> str:
    """The whole style sheet; a printed page is always the light one."""
    light, dark = _variables(LIGHT), _variables(DARK)
    dark_screen = f"@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}"
    return f":root{{color-scheme:light dark;--bar:{BAR};{light}}}{dark_screen}{RULES}"


def _variables(palette: Mapping[str, str]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in palette.items())
