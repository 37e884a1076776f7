"""The frame of every page: one style sheet inside it, light and dark, for phone and paper; no script."""

import re
from collections.abc import Sequence
from functools import lru_cache
from html import escape

STYLE = """
:root{color-scheme:light dark;--ink:#1b1d1f;--paper:#fdfcf9;--line:#c9c4b8;--soft:#f1eee6;--stop:#9c1c13;--fix:#8a4b00;
--caution:#6b5900;--note:#1f4f7a;--ask:#5b2a86}
@media (prefers-color-scheme:dark){:root{--ink:#ece8df;--paper:#17191b;--line:#4a4d50;--soft:#23262a;--stop:#ff9b8f;
--fix:#ffbe73;--caution:#e8d56a;--note:#93c7f5;--ask:#d3aefc}}
*{box-sizing:border-box}
body{margin:0 auto;max-width:60rem;padding:1rem;background:var(--paper);color:var(--ink);
font:1rem/1.45 system-ui,"DejaVu Sans",sans-serif;overflow-wrap:anywhere}
h1{font-size:1.5rem;margin:.2rem 0 .8rem}h2{font-size:1.2rem;margin:1.4rem 0 .4rem}h3{font-size:1rem;margin:.2rem 0}
table{border-collapse:collapse;width:100%;margin:.4rem 0}
th,td{border-bottom:1px solid var(--line);padding:.3rem .5rem;text-align:left;vertical-align:top}
th[scope=row]{font-weight:400}td{font-variant-numeric:tabular-nums}
.finding{border-left:.35rem solid var(--line);background:var(--soft);padding:.4rem .7rem;margin:.5rem 0}
.finding.stop{border-color:var(--stop)}.finding.fix{border-color:var(--fix)}.finding.caution{border-color:var(--caution)}
.finding.note{border-color:var(--note)}.finding.ask{border-color:var(--ask)}
.finding p{margin:.2rem 0}.cautions{border:2px solid var(--stop);padding:.2rem .8rem;margin:1rem 0}
footer{margin-top:1.5rem;font-size:.8rem;border-top:1px solid var(--line);padding-top:.4rem}
svg{max-width:100%;height:auto}.wide{overflow-x:auto}
@media print{th,td{overflow-wrap:break-word}
:root{--ink:#000;--paper:#fff;--line:#777;--soft:#fff}body{max-width:none;padding:0;font-size:10pt}
h2{break-after:avoid}tr,.finding,svg{break-inside:avoid}@page{margin:14mm}}
"""


_MARKUP = re.compile("[&<>\"']").search


def safe(text: str) -> str:
    """A text without markup, for content and attributes; most texts have nothing to escape, and a sheet has thousands."""
    return escape(text) if _MARKUP(text) else text


def safe_all(texts: Sequence[str]) -> Sequence[str]:
    """Texts without markup, looked through together: a row of a table costs no more than one text."""
    return [escape(text) for text in texts] if _MARKUP("\n".join(texts)) else texts


safe_name = lru_cache(maxsize=2048)(safe)  # for names of figures and heads of tables, which come again in every page


def page(title: str, body: str, stamp: str, style: str = "") -> bytes:
    """A whole page. ``body`` is markup whose texts are escaped already; ``title`` and ``stamp`` are plain text.

    ``style`` are rules of one kind of page, after those of all pages.
    """
    return (
        "<!doctype html><html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width,initial-scale=1'>"
        f"<title>{escape(title)}</title><style>{STYLE}{style}</style></head><body><main><h1>{escape(title)}</h1>{body}</main>"
        f"<footer>{escape(stamp)}<br>The maker's manual, local codes and licensed practice come first.</footer></body></html>"
    ).encode()
