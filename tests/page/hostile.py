"""Fifty strings that would run, break or hide something if any of them were taken for more than text."""
import json, subprocess

ZERO_WIDTH = "\u200b\u200c\u200d\ufeff"
STRINGS = [
    "<script>pwned()</script>", "</script><script>pwned()</script>", "<img src=x onerror=pwned()>", "\"><svg onload=pwned()>",
    "' onmouseover='pwned()", "\" onfocus=\"pwned()\" autofocus x=\"", "javascript:pwned()", "<!--", "-->", "<!--<script>", "]]>",
    "<![CDATA[<script>pwned()</script>]]>", "</title><script>pwned()</script>", "</style><script>pwned()</script>",
    "</textarea><script>pwned()</script>", "</pre><script>pwned()</script>", "</svg><script>pwned()</script>", "<iframe src=javascript:pwned()>",
    "<body onload=pwned()>", "<base href=//x>", "<meta http-equiv=refresh content=0;url=x>", "<style>*{display:none}</style>",
    "<link rel=stylesheet href=x>", "<object data=x>", "<math><mi//xlink:href=\"data:x,<script>pwned()</script>\">", "{{constructor.constructor('pwned()')()}}",
    "${pwned()}", "`${pwned()}`", "\\u003cscript\\u003epwned()\\u003c\\u002fscript\\u003e", "&lt;script&gt;pwned()&lt;/script&gt;", "&#60;script&#62;",
    "%3Cscript%3Epwned()%3C/script%3E", "'; pwned(); //", "\"; pwned(); //", "\\'; pwned(); //", "\\", "\\\\\"", "a\u2028b\u2029c",
    "\u202egnp.exe\u202c", "\u2066\u2067left\u2069", "\u0627\u0644\u0641\u0631\u0627\u063a \u0639\u0627\u0644", "\u05e8\u05d9\u05e7", "\U0001F4A3\U0001F468\u200d\U0001F469\u200d\U0001F467",
    "a\u0300\u0301\u0302\u0303\u0304\u0305\u0306\u0307\u0308" * 8, ZERO_WIDTH + "x" + ZERO_WIDTH, "\u00a0x\u00a0", "\u5171\u9ad8\u771f\u7a7a\u6cf5" * 9,
    "constructor __proto__ toString", "__proto__", "null undefined NaN 1e999",
]
assert len(STRINGS) == 50

LONG = 10000


def clean(text, n):
    """As a part's name may be: no slash, no control sign, at most 200 bytes; told apart by a number."""
    text = text.replace("/", "|").strip()
    while len(text.encode()) > 180:
        text = text[:-1]
    return "%s %d" % (text, n)


def description(text):
    name = lambda n: clean(text, n)
    return {
        "rarefy": 1, "title": text, "// " + text: text,
        "chambers": [
            {"name": name(1), "volume": "1 L", "walls": [{"name": name(2), "material": "borosilicate glass", "area": "100 cm2"}],
             "leaks": [{"name": name(3), "rate": "1e-6 Pa m3/s"}]},
            {"name": name(4), "volume": "0.5 L"}],
        "junctions": [name(5)],
        "lines": [
            {"name": name(6), "between": [name(1), name(5)], "pieces": ["tube 10 mm x 1 m"]},
            {"name": name(7), "between": [name(5), name(4)], "pieces": [{"valve": {"name": name(8), "bore": "10 mm", "length": "20 mm"}}]}],
        "pumps": [{"name": name(9), "kind": "rotary vane", "from": name(4), "to": "ambient", "speed": "2 m3/h"}],
        "gauges": [{"name": name(10), "at": name(1), "kind": "thermal"}],
        "sources": [{"name": name(11), "gas": "N2", "at": name(1), "amount": "1 Pa m3", "during": ["1 min", "2 min"]}],
        "faults": [{"name": name(12), "do": ["mains fail"]}],
        "limits": [{"name": name(13), "watch": name(4), "max": "1 Pa", "for": "1 s"}],
        "targets": [{"name": name(14), "chamber": name(1), "pressure": "10 Pa"}],
        "run": {"until": "10 min"},
    }


def check_hostile(program, source, work, chromium, fail):
    for k, text in enumerate(STRINGS + ["<script>pwned()</script>" * (LONG // 24), "x" * LONG]):
        d = description(text)
        file, page = f"{work}/hostile.json", f"{work}/hostile.html"
        # every second one with as few escapes as JSON allows
        source_text = json.dumps(d, ensure_ascii=k % 2 == 1, indent=1)
        open(file, "w", encoding="utf-8").write(source_text)
        done = subprocess.run([program, "report", file, "-o", page, "--fault", "mains fail at 5 min"], stderr=subprocess.PIPE)
        what = "hostile %d, %r" % (k, text[:40])
        if done.returncode not in (0, 5):
            fail(f"{what}: exit code {done.returncode}: {done.stderr[:300]}")
            continue
        chromium.open(page)
        got = chromium.evaluate("""(() => ({
          title: document.title, head: document.querySelector('h1').textContent, pwned: typeof pwned,
          scripts: document.scripts.length, odd: document.querySelectorAll('img,iframe,object,embed,link,base,textarea,math,form').length,
          handlers: [...document.querySelectorAll('*')].filter(e => [...e.attributes].some(a => a.name.startsWith('on'))).length,
          description: document.getElementById('description').textContent,
          boxes: [...document.querySelectorAll('.bench .vessel title')].map(t => t.textContent),
          parts: rarefyPage.data.parts.map(p => p.name), chambers: rarefyPage.data.chambers.map(c => c.name),
          sections: document.querySelectorAll('main > section').length, shown: document.querySelector('main').getClientRects().length,
          read: document.querySelectorAll('#read-rows tr').length}))()""")
        if chromium.errors or [r for r in chromium.requests if not r.startswith("file://")]:
            fail(f"{what}: {chromium.errors[:2]} {chromium.requests[1:3]}")
        if got["pwned"] != "undefined" or got["odd"] or got["handlers"] or got["scripts"] > 3:
            fail(f"{what}: something of it became markup: {got}")
        if got["description"] != source_text:
            fail(f"{what}: the description is not as it was")
        # signs that turn the direction of text, and what XML cannot hold, are replaced in what is shown
        turned = str.maketrans({c: "\ufffd" for c in "\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\x7f"})
        if got["head"] != text.translate(turned):
            fail(f"{what}: the heading reads {got['head'][:80]!r}")
        if got["chambers"][0] != d["chambers"][0]["name"] or d["pumps"][0]["name"] not in got["parts"]:
            fail(f"{what}: names for the script: {got['chambers']}, {got['parts']}")
        if clean(text, 1).translate(turned) not in got["boxes"] or got["sections"] < 8 or not got["shown"] or got["read"] < 3:
            fail(f"{what}: the page lost something: {got['boxes']}, {got['sections']} sections")
    # a name of 10 kB is refused before any page is made
    d = description("x")
    d["chambers"][0]["name"] = "x" * LONG
    open(f"{work}/hostile.json", "w").write(json.dumps(d))
    done = subprocess.run([program, "report", f"{work}/hostile.json", "-o", f"{work}/none.html"], stderr=subprocess.PIPE)
    if done.returncode != 3:
        fail(f"a name of 10 kB: exit code {done.returncode}")
