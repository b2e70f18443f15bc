"""The page of a run, as a person has it: opened from the file system in a browser without a network.

  check_page.py PROGRAM SOURCE_DIR [FOLDER FOR SCREENSHOTS]

For every example: no error on the console, nothing fetched, curves drawn in their colours, every part of the description in
the drawing of the bench, no two labels on one spot, the number under the cursor the one that `--csv` gives. For some: units,
light and dark, keyboard, phone, print, and the drawn chart alone, as it is where the chart library was not there.
"""
import csv, glob, io, json, os, re, subprocess, sys, tempfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import browser
from hostile import check_hostile

if browser.missing():
    print("skipped:", browser.missing())
    sys.exit(77)

program, source = sys.argv[1:3]
shots = sys.argv[3] if len(sys.argv) > 3 else None
failures = []


def fail(text):
    failures.append(text)
    print("FAILED:", text)


def check(good, text):
    if not good:
        fail(text)


work = tempfile.mkdtemp(prefix="rarefy-page-")
chromium = browser.Browser()


def make(description, page, *options):
    done = subprocess.run([program, "report", description, "-o", page, *options], stderr=subprocess.PIPE, universal_newlines=True)
    if done.returncode not in (0, 5):
        fail(f"{description}: exit code {done.returncode}: {done.stderr}")
    return open(page, encoding="utf-8").read()


def quiet(what):
    check(not chromium.errors, f"{what}: on the console: {chromium.errors[:3]}")
    fetched = [r for r in chromium.requests if not r.startswith(("file://", "data:"))]
    check(not fetched, f"{what}: it fetched {fetched[:3]}")


# Texts of an SVG that touch each other, or another chamber's box.
overlaps = """(selector => {
  const found = [];
  for (const svg of document.querySelectorAll(selector)) {
    const texts = [...svg.querySelectorAll('text')].filter(t => t.textContent.trim() && t.getClientRects().length)
      .map(t => [t.textContent, t.getBoundingClientRect(), t.parentNode]);
    const boxes = [...svg.querySelectorAll('.vessel rect,.vessel circle,.symbol,.gauge circle')].map(b => ['a symbol', b.getBoundingClientRect(), b.parentNode]);
    const meet = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2.5;
    texts.forEach((a, i) => {
      for (const b of texts.slice(0, i)) if (meet(a[1], b[1])) found.push(a[0].slice(0, 40) + ' | ' + b[0].slice(0, 40));
      for (const b of boxes) if (b[2] !== a[2] && meet(a[1], b[1])) found.push(a[0].slice(0, 40) + ' | ' + b[0]);
    });
  }
  return found;
})"""

# How many dots of each curve's colour the live chart has.
inked = """(() => {
  const chart = rarefyPage.chart();
  const drawn = document.querySelectorAll('#live canvas')[0], canvas = document.createElement('canvas');
  canvas.width = drawn.width, canvas.height = drawn.height; // read from a copy: the original stays as it is
  const c = canvas.getContext('2d', {willReadFrequently: true});
  c.drawImage(drawn, 0, 0);
  const data = c.getImageData(0, 0, canvas.width, canvas.height).data;
  return chart.getColors().map(color => {
    const [r, g, b] = color.match(/[0-9a-f]{2}/gi).map(x => parseInt(x, 16));
    let n = 0;
    for (let i = 0; i < data.length; i += 4)
      if (data[i + 3] > 100 && Math.abs(data[i] - r) + Math.abs(data[i + 1] - g) + Math.abs(data[i + 2] - b) < 90) n++;
    return n;
  });
})()"""


def names_of(d):
    for c in d["chambers"]:
        yield c["name"]
    yield from d.get("junctions", [])
    for line in d.get("lines", []):
        yield line["name"]
        for piece in line["pieces"]:
            if isinstance(piece, dict):
                kind, values = next((k, v) for k, v in piece.items() if not k.startswith("//"))
                yield values.get("name", kind)
            else:
                yield piece.split()[0]
    for pump in d.get("pumps", []) + d.get("gauges", []):
        yield pump["name"]


def table_of(description, unit="Pa"):
    text = subprocess.run([program, "run", description, "--csv", "--pressure-unit", unit], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
                          universal_newlines=True).stdout
    return list(csv.DictReader(io.StringIO(text)))


def same(shown, wanted):
    """Shown with four digits."""
    return abs(float(shown) - float(wanted)) <= 0.6e-3 * abs(float(wanted))


def read_out():
    return chromium.evaluate("[...document.querySelectorAll('#read-rows tr')].map(r => [r.cells[0].textContent, r.cells[1].textContent])")


def compare(what, rows, unit):
    time = chromium.evaluate("rarefyPage.data.time[rarefyPage.state.row]")
    row = min(rows, key=lambda r: abs(float(r["time_s"]) - time))
    check(abs(float(row["time_s"]) - time) <= 1e-8 * time, f"{what}: no such time in --csv: {time}")
    n = 0
    for name, shown in read_out():
        key = f"{name}_{unit}"
        if key in row and shown != "–":
            n += 1
            check(same(shown, row[key]), f"{what}: {name} at {time} s is {shown} on the page, {row[key]} in --csv")
    check(n >= 1, f"{what}: nothing to compare")
    return time


def hover(x_part):
    selector = "#live" if live else ".still svg.chart"
    box = chromium.evaluate(f"(b => [b.left, b.top, b.width, b.height])(document.querySelector('{selector}').getBoundingClientRect())")
    chromium.mouse(box[0] + x_part * box[2], box[1] + 0.4 * box[3])
    chromium.evaluate("new Promise(f => requestAnimationFrame(f))")


chromium.size(1180, 900)
chromium.media()
examples = sorted(glob.glob(f"{source}/examples/*.json"))
for description in examples:
    what = os.path.basename(description)[:-5]
    page = f"{work}/{what}.html"
    html = make(description, page)
    chromium.open(page)
    quiet(what)
    live = chromium.evaluate("document.documentElement.classList.contains('has-live')")
    check(live == ("Dygraph=t()" in html), f"{what}: the chart library is there and not used")
    if live:
        dots = chromium.evaluate(inked)  # a lamp's twin lies on it but for the anti-aliased edge
        check(min(dots) > 10 and sorted(dots)[len(dots) // 2] > 200, f"{what}: dots of the curves: {dots}")
    drawn = chromium.evaluate("[...document.querySelectorAll('svg.bench title, svg.bench text')].map(t => t.textContent).join('\\n')")
    for name in names_of(json.load(open(description, encoding="utf-8"))):
        check(name in drawn, f"{what}: {name} is not in the drawing")
    check(not chromium.evaluate(overlaps + "('svg.bench')"), f"{what}: labels meet: {chromium.evaluate(overlaps + '(`svg.bench`)')[:4]}")
    chromium.evaluate("document.documentElement.classList.remove('has-live')")
    met = chromium.evaluate(overlaps + "('.still svg.chart')")
    check(not met, f"{what}: labels of the drawn charts meet: {met[:4]}")
    if live:
        chromium.evaluate("document.documentElement.classList.add('has-live')")
    rows = table_of(description)
    for part in (0.35, 0.6, 0.85):
        hover(part)
        compare(what, rows, "Pa")
    quiet(what)
    if shots:
        chromium.shot(f"{shots}/{what}.png")

# ---- the bulb bench in all its looks
bulb = f"{source}/examples/photocell-bulb.json"
page = f"{work}/photocell-bulb.html"
html = make(bulb, page)
check(len(html.encode()) < 400e3, f"the page of the bulb bench has {len(html.encode())} bytes")
check(make(bulb, f"{work}/again.html") == html, "the same run gives other bytes")
chromium.open(page)
live = chromium.evaluate("document.documentElement.classList.contains('has-live')")

# units: the read-out, the tables and the sentences follow
chromium.evaluate("(s => { s.value = 'mbar'; s.dispatchEvent(new Event('change')); })(document.getElementById('unit'))")
hover(0.5)
compare("in mbar", table_of(bulb, "mbar"), "mbar")
text = chromium.evaluate("document.querySelector('.lede').textContent")
check("1.00e-5 mbar" in text and " Pa" not in text, f"in mbar: the answer says: {text[:200]}")
check(chromium.evaluate("document.querySelector('#when tbody tr:nth-child(2) td:nth-child(4)').textContent") == "0.107",
      "in mbar: the table of events")
chromium.evaluate("(s => { s.value = 'Pa'; s.dispatchEvent(new Event('change')); })(document.getElementById('unit'))")

# by gas
if live:
    chromium.evaluate("(s => { s.value = 'bulb'; s.dispatchEvent(new Event('change')); })(document.getElementById('what'))")
    hover(0.7)
    rows = table_of(bulb)
    time = chromium.evaluate("rarefyPage.data.time[rarefyPage.state.row]")
    row = min(rows, key=lambda r: abs(float(r["time_s"]) - time))
    for name, shown in read_out():
        if f"bulb {name}_Pa" in row:
            check(same(shown, row[f"bulb {name}_Pa"]), f"by gas: {name} is {shown}, {row[f'bulb {name}_Pa']} in --csv")
    chromium.evaluate("(s => { s.value = ''; s.dispatchEvent(new Event('change')); })(document.getElementById('what'))")
    for button in ("even", "by-decades", "zoom-in", "zoom-out", "whole"):
        before = chromium.evaluate("String(rarefyPage.chart().xAxisRange())")
        chromium.evaluate(f"document.getElementById('{button}').click()")
        chromium.evaluate("new Promise(f => setTimeout(f, 50))")
        if button in ("even", "zoom-in"):
            check(chromium.evaluate("String(rarefyPage.chart().xAxisRange())") != before, f"the button {button} does nothing")

# keyboard, and what a screen reader is told
chromium.evaluate("document.getElementById('slider').focus()")
before = chromium.evaluate("rarefyPage.state.row")
chromium.key("ArrowLeft", 37)
check(chromium.evaluate("rarefyPage.state.row") == before - 1, "the slider does not follow the arrow key")
told = chromium.evaluate("document.getElementById('slider').getAttribute('aria-valuetext')")
check("bulb " in told and " Pa" in told, f"the slider tells {told}")
check(chromium.evaluate("[...document.querySelectorAll('button,select,input')].filter(e => e.getClientRects().length).every(e => e.textContent.trim() || e.labels?.length || e.getAttribute('aria-label'))"),
      "a control without a name")
check(chromium.evaluate("[...document.querySelectorAll('svg[role=img]')].every(s => document.getElementById(s.getAttribute('aria-labelledby')))"),
      "a picture without a name")

# the valve that was opened is drawn open, from then on
for time, shut in ((10, True), (600, False)):
    chromium.evaluate(f"rarefyPage.setRow(rarefyPage.data.time.findIndex(t => t > {time}))")
    is_shut = chromium.evaluate("document.querySelector('.bench [data-name=\"high-vacuum valve\"]').classList.contains('off')")
    check(is_shut == shut, f"the high-vacuum valve at {time} s")

# light and dark: by the device and by the switch; text keeps its contrast
def contrast(selector):
    return chromium.evaluate("""(e => {
      const parse = c => c.match(/[0-9.]+/g).slice(0, 3).map(Number);
      const light = c => c.map(v => v / 255).map(v => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4).reduce((a, v, i) => a + v * [0.2126, 0.7152, 0.0722][i], 0);
      const a = light(parse(getComputedStyle(e).color)), b = light(parse(getComputedStyle(document.body).backgroundColor));
      return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    })(document.querySelector('%s'))""" % selector)

for dark in (False, True):
    chromium.media(dark=dark)
    paper = chromium.evaluate("getComputedStyle(document.body).backgroundColor")
    check((paper == "rgb(255, 255, 255)") != dark, f"dark {dark}: the paper is {paper}")
    for selector in ("p", "th", "#limits .ok", ".caution h2", "summary", "footer p"):
        check(contrast(selector) >= 4.5, f"dark {dark}: contrast of {selector} is {contrast(selector):.2f}")  # WCAG 2.1, 1.4.3
    quiet("dark" if dark else "light")
    if shots:
        chromium.shot(f"{shots}/bulb-{'dark' if dark else 'light'}.png")
chromium.media()
chromium.evaluate("(s => { s.value = 'dark'; s.dispatchEvent(new Event('change')); })(document.getElementById('theme'))")
check(chromium.evaluate("getComputedStyle(document.body).backgroundColor") != "rgb(255, 255, 255)", "the switch to dark")

# phone: nothing wider than the screen, but what scrolls by itself
chromium.size(390, 800, phone=True)
chromium.open(page)
check(chromium.evaluate("document.documentElement.scrollWidth") <= 391, "the page is wider than a phone")
quiet("phone")
if shots:
    chromium.shot(f"{shots}/bulb-phone.png")

# print: the drawn charts, no switches, nothing cut off
chromium.size(800, 1100)
chromium.open(page)
chromium.media("print")
check(chromium.evaluate("getComputedStyle(document.querySelector('.still')).display") != "none", "print: the drawn charts are not there")
check(chromium.evaluate("[...document.querySelectorAll('.tools,.live,.read')].every(e => getComputedStyle(e).display === 'none')"), "print: switches")
check(chromium.evaluate("document.documentElement.scrollWidth") <= 801, "print: wider than the sheet")
chromium.pdf(f"{work}/page.pdf")
check(open(f"{work}/page.pdf", "rb").read(5) == b"%PDF-" and os.path.getsize(f"{work}/page.pdf") > 30000, "print: no PDF")
if shots:
    chromium.shot(f"{shots}/bulb-print.png")
chromium.media()
chromium.size(1180, 900)

# where the chart library was not built in
bare = re.sub(r'<script nonce="[0-9a-f]+">[^\n]*\n?[^\n]*function[^\n]*Dygraph.*?</script>\n', "", html, count=1, flags=re.S) if live else html
check("window:self).Dygraph" not in bare and ".Dygraph=" not in bare, "the library was not taken out for the test")
open(f"{work}/bare.html", "w", encoding="utf-8").write(bare)
chromium.open(f"{work}/bare.html")
live = False
check(not chromium.evaluate("document.documentElement.classList.contains('has-live')"), "bare: a live chart")
hover(0.5)
compare("bare", table_of(bulb), "Pa")
quiet("bare")

# the page holds what it was made from
chromium.open(page)
check(chromium.evaluate("document.getElementById('description').textContent") == open(bulb, encoding="utf-8").read(), "the description is not as it was")
changed = make(bulb, f"{work}/set.html", "--set", "stem/0/bore=10 mm", "--pressure-unit", "mbar", "--fault", "crack bulb 1 mm2 at 1 h")
again = re.search(r"<pre>(rarefy report [^<]*)</pre>", changed).group(1)
check(again.count("--set 'stem/0/bore=10 mm'") == 1 and "--fault 'crack bulb 1 mm2 at 1 h'" in again and "'mbar'" in again,
      f"how to make the page again: {again}")
chromium.open(f"{work}/set.html")
quiet("with a setting and a fault")
check("Time available" in chromium.evaluate("document.getElementById('faults').textContent"), "the fault is not told")

# a measured curve
open(f"{work}/log.csv", "w").write("time (s),pressure (Pa)\n" + "".join(f"{t},{1e5 * 0.8 ** t + 0.5:.3f}\n" for t in range(1, 60)))
measured = make(bulb, f"{work}/measured.html", "--measured", f"{work}/log.csv")
check(measured.count('class="dots ') >= 1, "the measured curve is not drawn")
chromium.open(f"{work}/measured.html")
quiet("measured")
chromium.evaluate("rarefyPage.setRow(rarefyPage.data.time.findIndex(t => t >= 30))")
time = chromium.evaluate("rarefyPage.data.time[rarefyPage.state.row]")
shown = dict(read_out()).get("measured", "0")
check(abs(float(shown) - (1e5 * 0.8 ** round(time) + 0.5)) < 0.01 * float(shown), f"measured: {shown} at {time} s")

# every fault in every phase
subprocess.run([program, "report", f"{source}/examples/window-test.json", "--faults", "-o", f"{work}/faults.html"])
chromium.open(f"{work}/faults.html")
quiet("faults")
check(chromium.evaluate("document.querySelectorAll('#faults tbody tr').length") > 5, "the table of faults")

check_hostile(program, source, work, chromium, fail)
chromium.close()
print(f"{len(examples)} examples, {len(failures)} failures")
subprocess.run(["rm", "-r", work])
sys.exit(1 if failures else 0)
