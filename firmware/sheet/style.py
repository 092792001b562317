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
)
"""Words and what is behind them: at least 4.5 to 1 (WCAG 2.2, 1.4.3)."""

SHAPES_ON: Final = (("deep", "paper"), ("clay", "paper"), ("rule", "paper"), ("deep", "band"), ("clay", "band"))
"""Shapes that carry a meaning and what is behind them: at least 3 to 1 (WCAG 2.2, 1.4.11)."""

RULES: Final = """
*{box-sizing:border-box}
body{margin:0 auto;max-width:62rem;padding:1.6rem 1.4rem;background:var(--paper);color:var(--ink);
font:1rem/1.45 "Gill Sans","Gill Sans Nova",Candara,Calibri,"DejaVu Sans",sans-serif}
header{border-bottom:3px solid var(--deep);display:flex;flex-wrap:wrap;justify-content:space-between;
align-items:baseline;gap:0 1.5rem}
h1{font-size:1.75rem;line-height:1.2;margin:0 0 .3rem;overflow-wrap:anywhere}
h2{font-size:1.05rem;margin:1.3rem 0 .4rem;color:var(--deep)}
p,ol,ul,dl{margin:.3rem 0}
a{color:var(--deep)}
.facts,.rule,.hint,footer,caption{color:var(--soft);font-size:.86rem}
.found{padding:0;list-style:none;display:grid;grid-template-columns:repeat(auto-fit,minmax(15rem,1fr));gap:.4rem 1.6rem}
.found li{border-top:1px solid var(--rule);padding-top:.45rem}
.found strong{display:block;font-weight:600}
.scroll{overflow-x:auto}
svg{display:block;width:100%;height:auto}
svg.timeline{min-width:40rem}
svg text{fill:var(--ink);font-size:13px}
svg .lane{text-anchor:end;fill:var(--soft)}
svg .count{text-anchor:middle;fill:var(--soft);font-size:12px}
svg .degree{text-anchor:middle;font-size:18px;font-weight:600}
.on,.take{fill:var(--deep)}
svg text.on,svg text.take{fill:var(--on-deep)}
.off{fill:var(--faint);stroke:var(--rule)}
svg text.off{fill:var(--ink);stroke:none}
.band{fill:var(--band)}
.grid{stroke:var(--rule);stroke-width:.6}
.target{stroke:var(--ink);stroke-width:1}
.rested{fill:var(--deep)}
.restless{fill:var(--paper);stroke:var(--clay);stroke-width:1.8}
.half{fill:var(--deep);fill-opacity:.35;stroke:var(--deep)}
.median{stroke:var(--clay);stroke-width:4}
.marker{fill:var(--clay);stroke:var(--clay);stroke-width:1.5}
.columns{display:grid;grid-template-columns:repeat(auto-fit,minmax(20rem,1fr));gap:0 2rem}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
caption{text-align:left;padding-bottom:.2rem}
th,td{text-align:right;padding:.16rem .5rem .16rem 0;border-bottom:1px solid var(--faint);font-weight:400}
thead th{color:var(--soft);font-size:.86rem;vertical-align:bottom;border-color:var(--rule)}
tbody th{font-weight:600}
th:first-child{text-align:left}
td{white-space:nowrap}
.takes{padding:0;list-style:none;columns:2 20rem;column-gap:2rem}
.takes>li{margin:0 0 .6rem;break-inside:avoid}
.takes audio{display:block;width:100%;height:2.2rem;margin:.2rem 0}
.takes ol{padding:0;list-style:none;display:flex;flex-wrap:wrap;gap:.1rem 1rem;font-size:.9rem}
.takes ol li{margin:0}
.settings{display:flex;flex-wrap:wrap;gap:.1rem 1.2rem;font-size:.86rem}
.settings div{display:flex;gap:.35rem}
.settings dt{color:var(--soft)}
.settings dd{margin:0}
footer{border-top:1px solid var(--rule);margin-top:1.4rem;padding-top:.4rem}
a:focus-visible,audio:focus-visible{outline:3px solid var(--clay);outline-offset:2px}
@page{margin:10mm}
@media print{html{font-size:8.3pt}footer{margin-top:.4rem}
body{padding:0;max-width:none;line-height:1.3;background:none}h2{margin:.6rem 0 .2rem}
.found{grid-template-columns:1fr 1fr 1fr}
.takes audio{display:none}.columns{grid-template-columns:1fr 1fr}.scroll{overflow:visible}
svg.timeline{min-width:0;max-height:35mm}svg.intonation{max-height:46mm}
.takes>li:nth-child(n+9),.takes ol li:nth-child(n+9){display:none}.takes>li{margin:0 0 .2rem}th,td{padding-block:.06rem}
*{-webkit-print-color-adjust:exact;print-color-adjust:exact}h2,tr,li,svg{break-inside:avoid}}
"""


def style() -> str:
    """The whole style sheet; a printed page is always the light one."""
    light, dark = _variables(LIGHT), _variables(DARK)
    dark_screen = f"@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}"
    return f":root{{color-scheme:light dark;{light}}}{dark_screen}{RULES}"


def _variables(palette: Mapping[str, str]) -> str:
    return "".join(f"--{name}:{colour};" for name, colour in palette.items())
