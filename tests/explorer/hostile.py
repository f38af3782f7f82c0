"""Names that try to be more than names, and what must not come of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from engine.formats.fields import FIELDS
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.search.runs import Run
from explorer.demo_fronts import stored_front
from explorer.session import Job, SearchResult, as_document, choose, new_id, rows_of

MARK = "Zq7"  # stands in each of them, so that it is found wherever it comes out

# Each is tried on its own; those that are text, if odd, have to come out as they are, letter by letter.
TEXTS = {
    "script": "<script>top.hit=1</script><img src=http://evil.invalid/a.png onerror=top.hit=1><b>Zq7</b>",
    "picture": "![Zq7](http://evil.invalid/b.png)",
    "link": "[Zq7](javascript:top.hit=1)",
    "address": "Zq7 http://evil.invalid/x www.evil.invalid a@evil.invalid",
    "icon": "Zq7 :material/home: :streamlit: :smile: :red[r] :blue-background[b] :small[s]",
    "mathematics": "Zq7 $x^2$ $$y$$",
    "styles": "Zq7 **b** _i_ ~~s~~ `c` ^[n] [^1] a <- b -> c -- d >= e",
    "entities": "Zq7 &amp; &lt;b&gt; &#65; &copy;",
    "blocks": "# Zq7 | a | b | > q ```x",
    "formula": '=HYPERLINK("http://evil.invalid/","Zq7")',
    "plus": "+Zq7", "minus": "-Zq7", "at": "@Zq7",
    "rich": "[red]Zq7[/red] [link=http://evil.invalid]l[/link] [/]",
    "typst": '#eval("1+1") #link("http://evil.invalid")[Zq7] #image("x.png") $ sum $ *b*',
    "dxf": "%%u Zq7 %%d \\P \\U+0041 ^J {\\H3;x}",
    "braces": "{{}} {0} {Zq7} %s %(x)s ${x}",
    "path": "../../Zq7/..\\..\\x",
    "device": "CON", "device with an ending": "aux.Zq7", "dots": "Zq7...", "dot": ".", "dots alone": "..",
    "quotes": "Zq7\"'`&<>",
    "far letters": "Zq7 \u05d0\u05d1\u05d2 \u0905\u0902 \u6f22\u5b57 \U0001f50a e\u0301",
}  # fmt: skip

# No text that anybody can read: refused where they are read, or what is unfit of them left out.
UNFIT = {
    "escape codes": "Zq7 \x1b[31mred\x1b]8;;http://evil.invalid\x07l",
    "C1 escape codes": "Zq7 \x9b31m",
    "right to left": "Zq7 \u202egpj.exe",
    "isolates": "Zq7 \u2067x\u2069",
    "nothing": "Zq7 \x00x",
    "lines": "Zq7\n0\nEOF\r\nx",
    "line separator": "Zq7\u2028x",
    "half a pair": "Zq7 \ud800",
    "no character": "Zq7 \uffff",
    "deletion": "Zq7\x7f\x08\x08",
    "endless": "Zq7" + 9_997 * "x",
}

ALL_IN_ONE = " ".join(text for name, text in TEXTS.items() if name in {
    "script", "picture", "link", "address", "icon", "mathematics", "styles", "entities", "rich", "braces",
})  # fmt: skip

# One name of many, as long as a name may be; each field's is told from the others' by the number behind it.
NAME = (
    "=Zq7 <b>&amp; ![p](http://evil.invalid/b.png) [x](javascript:top.hit=1) :material/home: :red[r] $x$ **s** "
    '[red]r[/] #eval("1") %%u {{}} www.evil.invalid ../../a CON.'
)
_TEXTS = {table: [field for field in fields if field.kind == "text"] for table, fields in FIELDS.items()}
_OTHER = {"currency", "driver", "pipe", "radiator"}  # of a few letters, or the name of something else


def numbered(number: int) -> str:
    return f"{NAME} {number}"


def named_so(document: dict[str, Any], name_of: Callable[[str], str]) -> dict[str, str]:
    """Give every name and text of a job another, by its place; which name became which."""
    became: dict[str, str] = {}

    def rename(table: Any, path: str, bare: str) -> None:
        for field in _TEXTS.get(bare, ()):
            if field.key not in _OTHER and field.key in table:
                place = f"{path}.{field.key}".lstrip(".")
                became[table[field.key]] = table[field.key] = name_of(place)
        for key, inner in table.items():
            below, under = f"{path}.{key}".lstrip("."), f"{bare}.{key}".lstrip(".")
            if isinstance(inner, dict):
                rename(inner, below, under)
            elif isinstance(inner, list):
                for number, item in enumerate(inner):
                    if isinstance(item, dict):
                        rename(item, f"{below}[{number}]", under)

    rename(document, "", "")
    return became


def hostile_document(demo: str = "van-bench") -> tuple[dict[str, Any], dict[str, str]]:
    """A demo job, every name in it hostile, and which name became which."""
    document = read_document(demo_scenarios()[demo])
    document.setdefault("build", {})["sheet"] = [{"name": "sheet", "length": "2500 mm", "width": "1250 mm", "count": 4}]
    places: list[str] = []

    def name_of(place: str) -> str:
        places.append(place)
        return numbered(len(places))

    return document, named_so(document, name_of)


def hostile_run(demo: str = "van-bench") -> tuple[dict[str, Any], Run]:
    """A demo job with hostile names, and its stored front as a search of it would have found it."""
    document, became = hostile_document(demo)
    stored = stored_front(demo)
    front, left_out = (each.replace({"driver": became, "radiator": became}) for each in (stored.front, stored.left_out))
    digest = parse_scenario(document, source="hostile.toml").digest
    return document, Run(front, left_out, {**stored.record, "scenario_sha256": digest})


def hostile_job(demo: str = "van-bench", picks: Sequence[str] = ("D0317", "D0001")) -> Job:
    """The same as the explorer has it: picked, on the shortlist, with a sheet's words and a sweep's name."""
    document, run = hostile_run(demo)
    document = as_document(document)
    found = SearchResult(run.front, run.record, document, rows_of(run.left_out))
    shown = [choose(found, name) for name in picks]
    assert all(each is not None for each in shown)
    listed = [replace(each, price=NAME[:40]) for each in shown if each is not None]
    return Job(
        id=new_id(), source=f"{NAME}.toml", document=document, found=found, pick=listed[0], shortlist=listed,
        shop=NAME[:80], customer=NAME[-80:], note=NAME, notes=NAME,
    )  # fmt: skip
