"""Names that try to be more than names, and what must not come of them."""

from __future__ import annotations

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
