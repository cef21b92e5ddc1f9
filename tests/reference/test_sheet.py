"""The workshop sheet read back by other people's readers: pdfplumber (pdfminer.six) and pypdf for the PDF,
pypdfium2 for its pixels, html5lib for the HTML, and a browser where there is one.

Sizes of paper: A4 is 210 x 297 mm (ISO 216); Letter is 8 1/2 x 11 in (ANSI/ASME Y14.1, size A). A PDF counts
in points of 1/72 inch (ISO 32000-1, 8.3.2.3).
"""

import collections
import html
import io
import itertools
import math
import re
import shutil
import subprocess

import html5lib
import numpy
import pdfplumber
import pypdf
import pypdfium2
import pytest
from fontTools.ttLib import TTFont

import workshop

MM = 25.4 / 72
PAPER = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
# What a name could do to a page that takes it for markup.
NAME = "<script>alert(1)</script> & \"q\" </style> url(#x) Käfig"
# The edge-up check panel at odd values, with the sizes of stick that it then needs.
ODD = {
    "panel": {
        "name": NAME, "ground.pitch": 71.3, "ground.face": 4.37, "ground.depth": 13.1,
        "sticks.lead": 47, "sticks.tail": 31, "sticks.ends": {"upright": 63.3}, "sticks.limit": 520,
        "sheet": {"paper": "letter", "units": "inch"},
    },
    "material": {"milled": [{"face": 4.37, "depth": 13.1}]},
}  # fmt: skip


def opened(folder):
    job = workshop.summary(folder)
    return {"folder": folder, "job": job, "pdf": pdfplumber.open(folder / "sheet.pdf")}


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    """Sheets by name, each made once: the check panel, the same at odd values on Letter in inches, card, a
    router's panel, infill, and a coupon."""
    at = tmp_path_factory.mktemp("sheets")
    made = {}
    for name in ["check", "demo", "router-square", "hemp-leaf-card"]:
        made[name] = workshop.make(workshop.fixture_path("panel", name), at / name)
    made["odd"] = workshop.make(workshop.write_job(at / "odd-files", "check", **ODD), at / "odd")
    coupon = at / "coupon"
    done = workshop.call("coupon", workshop.fixture_path("panel", "plain-window"), "--out", coupon)
    assert done.returncode == 0, workshop.said(done)
    made["coupon"] = coupon
    return {name: opened(folder) for name, folder in made.items()}


NAMES = ["check", "odd", "demo", "router-square", "hemp-leaf-card", "coupon"]
PANELS = [name for name in NAMES if name != "coupon"]


def points_mm(thing):
    return [(x * MM, y * MM) for x, y in thing["pts"]]


def level_lines(page):
    """Level lines of a page: left end, right end, height from the top, mm."""
    for line in page.lines:
        (x0, y0), (x1, y1) = points_mm(line)
        if abs(y0 - y1) < 1e-3:
            yield min(x0, x1), max(x0, x1), y0


def check_bars(page):
    return [bar for bar in level_lines(page) if abs(bar[1] - bar[0] - 100) < 0.5]


# ---------------------------------------------------------------- the PDF


@pytest.mark.parametrize("name", NAMES)
def test_pages_have_the_size_of_the_paper(sheets, name):
    short, long = PAPER["letter" if name == "odd" else "a4"]
    pages = sheets[name]["pdf"].pages
    assert pages
    for page in pages:
        size = sorted((float(page.width) * MM, float(page.height) * MM))
        assert size == pytest.approx([short, long], abs=0.01)


@pytest.mark.parametrize("name", NAMES)
def test_the_check_bar_is_100_mm(sheets, name):
    """On the first page, and on every page to measure from."""
    for number, page in enumerate(sheets[name]["pdf"].pages):
        bars = check_bars(page)
        said = page.extract_text().count("100 mm: print at 100 %")
        assert len(bars) == said, "each bar says how to print it"
        if number == 0:
            assert len(bars) == 1
        for x0, x1, _ in bars:
            assert x1 - x0 == pytest.approx(100, abs=0.1)


@pytest.mark.parametrize("name", ["check", "odd"])
def test_the_check_bar_is_100_mm_in_pixels(sheets, name):
    dots = 600
    page = sheets[name]["pdf"].pages[0]
    ((_, _, y),) = check_bars(page)
    drawn = pypdfium2.PdfDocument(sheets[name]["folder"] / "sheet.pdf")[0]
    pixels = drawn.render(scale=dots / 72, grayscale=True).to_numpy().squeeze()
    row = round(y / 25.4 * dots)
    dark = numpy.flatnonzero((pixels[row - 1 : row + 2] < 128).any(axis=0))
    # Its ticks stand across its ends: half their width lies beyond.
    runs = numpy.split(dark, numpy.flatnonzero(numpy.diff(dark) > 1) + 1)
    longest = max((run[-1] - run[0] + 1) / dots * 25.4 for run in runs)
    assert longest == pytest.approx(100 + 0.18, abs=0.1)


def stories(sheet):
    """Story sticks by title: a list of parts, each (edges, cuts), edges: front and back as (outline, notches).

    A part's picture lies between its title and the next one's; its bars are the filled polygons.
    """
    found = collections.defaultdict(list)
    for page in sheet["pdf"].pages:
        if page.width < page.height:
            continue
        lines = page.extract_text_lines()
        heads = [line for line in lines if "100 mm: print at 100 %" in line["text"]]
        tops = [head["top"] * MM for head in heads] + [float(page.height) * MM]
        for head, top, below in zip(heads, tops, tops[1:], strict=False):
            title = head["text"].split(" 100 mm:")[0].strip()
            inside = [
                shape
                for shape in page.curves + page.rects
                if top - 1 < shape["top"] * MM and shape["bottom"] * MM < below - 0.5
            ]
            wood = [s for s in inside if s["fill"] and s["non_stroking_color"] != 1.0 and s["stroke"]]
            cut = [points_mm(s)[:4] for s in inside if s["stroke"] and not s["fill"]]
            wood = sorted((points_mm(s) for s in wood), key=lambda pts: min(y for _, y in pts))
            edges = []
            for outline in (wood[0], wood[-1]):
                y0, y1 = (f(y for _, y in outline) for f in (min, max))
                own = [n for n in cut if all(y0 - 0.01 < y < y1 + 0.01 for _, y in n)]
                edges.append((outline, own))
            upright = [points_mm(line) for line in page.lines if line["height"] > line["width"]]
            across = [
                line[0][0]
                for line in upright
                if min(y for _, y in line) < min(y for _, y in wood[0])
                and max(y for _, y in line) > max(y for _, y in wood[-1])
                and top < min(y for _, y in line) < below
            ]
            found[title].append((edges, across, float(page.width) * MM))
    return found


def measured(part):
    """What a part shows of its bar's notches: (edge, at, run, cotangent of the walls, all of it on paper)."""
    edges, _, width = part
    for word, (outline, notches) in zip(("front", "back"), edges, strict=True):
        x0 = min(x for x, _ in outline)
        face = max(y for _, y in outline) - min(y for _, y in outline)
        middle = min(y for _, y in outline) + face / 2
        for notch in notches:
            upper = [x for x, y in notch if y < middle]
            lower = [x for x, y in notch if y > middle]
            at = (sum(upper) + sum(lower)) / 4 - x0
            lean = (sum(upper) - sum(lower)) / 2 / face
            shown = min(x for x, _ in notch) > 27 - 0.6 and max(x for x, _ in notch) < width - 12.4
            yield word, at, max(upper) - min(upper), lean, shown


def whole_title(bars, title):
    return [part for name, parts in bars.items() for part in parts
            if name == title or name.startswith(title + ", part ")]  # fmt: skip


def is_near(notch, wanted):
    """Place and length within 0.1 mm; walls within half a degree or so."""
    return all(abs(a - b) < 0.1 for a, b in zip(notch[1:3], wanted[1:3], strict=True)) and (
        abs(notch[3] - wanted[3]) < 0.01
    )


def assert_story(parts, wanted, what):
    """Every part shows every notch at its true place, and each lies whole on some page."""
    seen = set()
    for part in parts:
        left = list(measured(part))
        assert len(left) == len(wanted), what
        for index, notch in enumerate(wanted):
            near = [n for n in left if n[0] == notch[0] and is_near(n, notch)]
            assert near, f"{what}: no notch {notch} among {left}"
            left.remove(near[0])
            if near[0][4]:
                seen.add(index)
    assert seen == set(range(len(wanted))), f"{what}: each notch is whole on one page"


@pytest.mark.parametrize("name", PANELS)
def test_story_sticks_of_classes_are_true(sheets, name):
    bars = stories(sheets[name])
    for row in sheets[name]["job"]["classes"]:
        parts = whole_title(bars, f"Class {row['id']}")
        assert parts, row["id"]
        wanted = [
            (j["edge"], j["at"], j["run"], cot(j["angle"]) if j["shape"] == "skew" else 0.0)
            for j in row["joints"]
        ]
        assert_story(parts, wanted, f"class {row['id']}")
        for edges, _, _ in parts:
            for outline, _ in edges:
                xs = [x for x, _ in outline]
                if all(end["shape"] == "square" for end in row["ends"]):
                    assert max(xs) - min(xs) == pytest.approx(row["length"], abs=0.1)


@pytest.mark.parametrize("name", ["check", "odd"])
def test_story_sticks_of_sticks_are_true(sheets, name):
    bars = stories(sheets[name])
    for row in sheets[name]["job"]["sticks"]:
        made = row["count"] + row["spares"]
        parts = whole_title(bars, f"{row['id']}: {made} stick{'s' if made > 1 else ''}")
        wanted = [(n["edge"], n["at"], n["run"], cot(n["angle"])) for n in row["notches"]]
        assert_story(parts, wanted, row["id"])
        found = set()
        for edges, across, width in parts:
            x0 = min(x for x, _ in edges[0][0])
            found |= {round(x - x0, 1) for x in across if 26 < x < width - 10}
        for piece in row["pieces"]:
            for at in piece["cut"]:
                assert any(abs(at - x) < 0.1 for x in found), f"{row['id']}: cut at {at}"


def cot(degrees):
    return 1 / math.tan(math.radians(degrees))


@pytest.mark.parametrize("name", NAMES)
def test_fonts_are_embedded_in_part(sheets, name):
    fonts = {}
    for page in pypdf.PdfReader(sheets[name]["folder"] / "sheet.pdf").pages:
        for font in page["/Resources"].get("/Font", {}).values():
            font = font.get_object()
            fonts[font["/BaseFont"]] = font
    assert fonts
    for base, font in fonts.items():
        assert re.fullmatch(r"/[A-Z]{6}\+DejaVuSans\S*", base), base
        (inner,) = font["/DescendantFonts"]
        about = inner.get_object()["/FontDescriptor"]
        assert any(key in about for key in ("/FontFile2", "/FontFile3")), base
        assert "/ToUnicode" in font, "its text can be found"
    assert (sheets[name]["folder"] / "sheet.pdf").stat().st_size < 400_000, "in part, not whole"


def pdf_words(sheet):
    text = "\n".join(page.extract_text() for page in sheet["pdf"].pages)
    return set(re.findall(r"[^\s,;:()]+", text)), text


@pytest.mark.parametrize("name", PANELS)
def test_the_text_can_be_searched(sheets, name):
    words, text = pdf_words(sheets[name])
    job = sheets[name]["job"]
    for key in ("members", "classes", "sticks", "infill", "surround"):
        for row in job[key]:
            assert row["id"] in words, row["id"]
    for setup in job["setups"]:
        assert setup["file"] in words, setup["file"]
    for check in job["checks"]:
        assert check["id"] in words, check["id"]
    for strip in job["nest"]["strips"]:
        assert strip["stock"] in text
    for caution in ["Wear eye and ear protection.", "Hold the stock down", "manual"]:
        assert caution in text
    laser = any(setup["kind"] == "flat-laser" for setup in job["setups"])
    assert ("Never leave a beam alone." in text) == laser
    pages = sheets[name]["pdf"].pages
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page.extract_text()


def as_read(mm, unit):
    """A length as the sheet has it: two decimals at the most, or a fraction of an inch down to 1/64, with thousandths
    beside it where it is further off than these."""
    if unit == "mm":
        text = f"{math.floor(abs(mm) * 100 + 0.5 + 1e-6) / 100:.2f}"
        return text.rstrip("0").rstrip(".")
    parts = math.floor(mm / 25.4 * 64 + 0.5)
    beside = "" if abs(parts / 64 * 25.4 - mm) <= 25.4 / 2000 else f" ({math.floor(mm / 25.4 * 1000 + 0.5) / 1000:.3f})"
    whole, over = divmod(parts, 64)
    if over == 0:
        return f"{whole}{beside}"
    under = 64
    while over % 2 == 0:
        over, under = over // 2, under // 2
    return (f"{whole} {over}/{under}" if whole else f"{over}/{under}") + beside


@pytest.mark.parametrize("name", PANELS)
def test_lengths_are_those_of_the_job(sheets, name):
    _, text = pdf_words(sheets[name])
    unit = "in" if name == "odd" else "mm"
    lines = text.splitlines()
    for row in sheets[name]["job"]["classes"]:
        count, length = row["count"], as_read(row["length"], unit)
        assert any(line.startswith(f"{row['id']} {count} {length} ") for line in lines), row["id"]
        for k, joint in enumerate(row["joints"], 1):
            at = as_read(joint["at"], unit)
            begin = f"{row['id']} {k} {at} {joint['edge']} "
            assert any(line.startswith(begin) for line in lines), begin
    for row in sheets[name]["job"]["sticks"]:
        for number, piece in enumerate(row["pieces"], 1):
            said = [as_read(at, unit) for at in piece["cut"]]
            own = [x for x in lines if x.startswith(row["id"]) and f" {number} {piece['class']} " in x]
            assert any(all(f" {s} " in line for s in said) for line in own), (row["id"], said)


@pytest.mark.parametrize("name", NAMES)
def test_all_text_lies_on_the_paper(sheets, name):
    for page in sheets[name]["pdf"].pages:
        width, height = float(page.width), float(page.height)
        for char in page.chars:
            if name == "router-square" and char["text"] in " ABLU0123456789" and not 9 / MM < char["x0"] < width:
                # A strip drawn in two parts: each shows its half of the whole, and hides the other's labels, such as A U5.
                continue
            assert 9 / MM < char["x0"] and char["x1"] < width - 9 / MM, char["text"]
            assert 9 / MM < char["top"] and char["bottom"] < height - 9 / MM, char["text"]


@pytest.mark.parametrize("name", NAMES)
def test_no_line_of_text_lies_on_another(sheets, name):
    for page in sheets[name]["pdf"].pages:
        words = page.extract_words(keep_blank_chars=False)
        for a, b in itertools.combinations(words, 2):
            across = min(a["x1"], b["x1"]) - max(a["x0"], b["x0"])
            down = min(a["bottom"], b["bottom"]) - max(a["top"], b["top"])
            if across > 0.5 and down > 0:
                less = min(a["bottom"] - a["top"], b["bottom"] - b["top"])
                assert down < 0.45 * less, f"page {page.page_number}: {a['text']} and {b['text']}"


@pytest.mark.parametrize("name", NAMES)
def test_no_picture_is_cut_by_the_end_of_a_page(sheets, name):
    for page in sheets[name]["pdf"].pages:
        for shape in page.lines + page.curves + page.rects:
            assert shape["top"] > 9 / MM and shape["bottom"] < float(page.height) - 9 / MM


def test_tables_begin_again_on_the_next_page(sheets):
    """The checks of the check panel take two pages; each has the heads."""
    texts = [page.extract_text() for page in sheets["check"]["pdf"].pages]
    checks = [text for text in texts if re.search(r"^[a-z-]+ pass [-\d.]+ at ", text, re.M)]
    assert len(checks) > 1
    for text in checks:
        assert "Check Came out Value Limit Unit Where" in text


def test_the_same_panel_makes_the_same_sheet(tmp_path):
    for name in ["check", "hemp-leaf-card"]:
        one, two = (
            workshop.make(workshop.fixture_path("panel", name), tmp_path / f"{name}-{k}") for k in "ab"
        )
        for file in ("sheet.pdf", "sheet.html"):
            assert (one / file).read_bytes() == (two / file).read_bytes()


def test_a_letter_that_the_fonts_lack_is_told(tmp_path):
    panel = workshop.write_job(tmp_path / "files", "plain-window", panel={"name": "組 window"})
    done = workshop.call("make", panel, "--out", tmp_path / "out")
    assert done.returncode == 0, workshop.said(done)
    assert "組" in done.stderr and "question mark" in done.stderr
    assert any("組" in warning for warning in workshop.summary(tmp_path / "out")["warnings"])
    with pdfplumber.open(tmp_path / "out" / "sheet.pdf") as pdf:
        assert pdf.pages[0].extract_text().startswith("? window")
    assert "組 window" in (tmp_path / "out" / "sheet.html").read_text()


# ---------------------------------------------------------------- the HTML


def parsed(sheet):
    """The page as a tree; html5lib tells of what is no HTML."""
    parser = html5lib.HTMLParser(namespaceHTMLElements=False)
    tree = parser.parse((sheet["folder"] / "sheet.html").read_text())
    return tree, parser.errors


def local(element):
    return str(element.tag).rsplit("}", 1)[-1]


@pytest.mark.parametrize("name", NAMES)
def test_the_page_is_sound_html_and_asks_for_nothing(sheets, name):
    tree, errors = parsed(sheets[name])
    assert not errors
    ids = [e.get("id") for e in tree.iter() if e.get("id")]
    assert len(ids) == len(set(ids)), "ids are single"
    for element in tree.iter():
        assert local(element) not in {
            "script", "link", "img", "iframe", "object", "embed", "image", "foreignObject", "audio",
        }  # fmt: skip
        for key, value in element.attrib.items():
            key = str(key).rsplit("}", 1)[-1]
            assert not key.startswith("on"), key
            if key in {"src", "href", "action", "srcset"}:
                assert value.startswith("#") and value[1:] in ids, value
            for target in re.findall(r"url\(([^)]*)", value):
                assert target.startswith("#") and target[1:] in ids, value
    for style in tree.iter("style"):
        assert "url(" not in style.text and "@import" not in style.text


@pytest.mark.parametrize("name", NAMES)
def test_the_page_can_be_read_by_all(sheets, name):
    tree, _ = parsed(sheets[name])
    assert tree.get("lang") == "en"
    assert len(list(tree.iter("h1"))) == 1
    levels = [int(local(e)[1]) for e in tree.iter() if local(e) in {"h1", "h2", "h3"}]
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels)), "no level is left out"
    for cell in tree.iter("th"):
        assert cell.get("scope") in {"col", "row"}
    for table in tree.iter("table"):
        assert table.find("caption") is not None
    pictures = [e for e in tree.iter() if local(e) == "svg"]
    assert pictures
    for picture in pictures:
        assert picture.get("role") == "img" and picture.get("aria-label")


@pytest.mark.parametrize("name", PANELS)
def test_the_page_holds_what_the_pdf_holds(sheets, name):
    tree, _ = parsed(sheets[name])
    text = " ".join("".join(tree.find("body").itertext()).split())
    job = sheets[name]["job"]
    assert "".join(tree.find(".//h1").itertext()) == job["panel"]["name"]
    words = set(re.findall(r"[^\s,;:()]+", " ".join(tree.find("body").itertext())))
    for key in ("members", "classes", "sticks", "infill", "surround"):
        for row in job[key]:
            assert row["id"] in words, row["id"]
    assert "Wear eye and ear protection." in text


# ---------------------------------------------------------------- the HTML in a browser

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
browser = pytest.mark.skipif(not BROWSER, reason="no chromium here: the page was not looked at")


def browse(tmp_path, *words):
    return subprocess.run(
        [
            BROWSER, "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars",
            "--disable-background-networking", "--disable-component-update", "--disable-sync",
            f"--user-data-dir={tmp_path / 'profile'}", *words,
        ],
        capture_output=True, text=True, timeout=120, check=True,
    )  # fmt: skip


@browser
@pytest.mark.parametrize("name", ["check", "odd", "hemp-leaf-card", "coupon"])
@pytest.mark.parametrize("width", [390, 1200])
def test_no_screen_is_too_narrow(sheets, name, width, tmp_path):
    """The page never scrolls sideways as a whole, and every section stands on it. It is looked at in a frame:
    a browser's own window does not become as narrow as a phone."""
    page = (sheets[name]["folder"] / "sheet.html").read_text()
    frame = tmp_path / "frame.html"
    frame.write_text(
        f"<!DOCTYPE html><iframe width={width} height=900 style='border:0' srcdoc=\"{html.escape(page)}\">"
        "</iframe><script>addEventListener('load', () => {"
        "const frame = document.querySelector('iframe'), d = frame.contentDocument.documentElement;"
        "const low = [...frame.contentDocument.querySelectorAll('section, svg')]"
        ".filter(e => e.getBoundingClientRect().height < 5).length;"
        "document.body.setAttribute('data-told',"
        "[frame.contentWindow.innerWidth, d.scrollWidth, d.scrollHeight, low].join(' ')); })</script>"
    )
    dump = browse(tmp_path, "--window-size=1400,1000", "--dump-dom", frame.as_uri()).stdout
    told = re.search(r'data-told="([^"]*)"', dump)[1]
    inner, scroll, height, low = map(int, told.split())
    assert inner == width
    assert scroll <= width, "no sideways scrolling"
    assert height > 2000 and low == 0, "nothing is folded to nothing"


@browser
def test_a_name_is_no_markup_on_screen(sheets, tmp_path):
    dump = browse(tmp_path, "--dump-dom", (sheets["odd"]["folder"] / "sheet.html").as_uri()).stdout
    assert "<script" not in dump.lower()
    shot = tmp_path / "page.png"
    browse(
        tmp_path, "--window-size=390,1200", f"--screenshot={shot}",
        (sheets["odd"]["folder"] / "sheet.html").as_uri(),
    )  # fmt: skip
    from PIL import Image

    pixels = numpy.asarray(Image.open(shot).convert("L"))
    dark = (pixels < 128).mean()
    assert 0.005 < dark < 0.5, "neither blank nor black"


@browser
@pytest.mark.parametrize("name", ["check", "odd"])
def test_the_page_prints(sheets, name, tmp_path):
    out = tmp_path / "printed.pdf"
    page = (sheets[name]["folder"] / "sheet.html").as_uri()
    browse(tmp_path, f"--print-to-pdf={out}", "--no-pdf-header-footer", page)
    short, long = PAPER["letter" if name == "odd" else "a4"]
    with pdfplumber.open(out) as pdf:
        bars = 0
        for leaf in pdf.pages:
            size = sorted((float(leaf.width) * MM, float(leaf.height) * MM))
            assert size == pytest.approx([short, long], abs=0.5)
            assert leaf.chars, "no blank page"
            for char in leaf.chars:
                assert char["x0"] > 0 and char["x1"] < leaf.width, char["text"]
            for x0, x1, _ in check_bars(leaf):
                bars += 1
                assert x1 - x0 == pytest.approx(100, abs=0.1)
        assert bars > 3


@pytest.mark.parametrize("name", NAMES)
def test_the_fonts_in_a_pdf_bring_their_licence_along(sheets, name):
    """"The above copyright and trademark notices and this permission notice shall be included in all copies"
    (LICENSE-FONTS). Names 0 and 13 of a font are its copyright and its licence (OpenType, table `name`)."""
    words = re.sub(r"\s+", " ", (workshop.ROOT / "LICENSE-FONTS").read_text(encoding="utf-8"))
    # From one holder's notice to the last words of the other's, as the fonts hold it.
    notice = words[words.index("Bitstream Vera Fonts Copyright") : words.index(" TeX Gyre DJV Math")]
    assert "this permission notice shall be included" in notice and notice.endswith("tavmjong @ free . fr.")
    pdf = pypdf.PdfReader(sheets[name]["folder"] / "sheet.pdf")
    fonts = {}
    for page in pdf.pages:
        for font in (page["/Resources"].get("/Font") or {}).values():
            (letters,) = font.get_object()["/DescendantFonts"]
            told = letters.get_object()["/FontDescriptor"].get_object()
            fonts[told["/FontName"]] = told["/FontFile2"].get_object().get_data()
    assert {font.partition("+")[2] for font in fonts} == {"DejaVuSansCondensed", "DejaVuSansCondensed-Bold"}
    for font, data in fonts.items():
        names = TTFont(io.BytesIO(data))["name"]
        copyright_of, licence = (re.sub(r"\s+", " ", names.getDebugName(i)) for i in (0, 13))
        assert "(c) 2003 by Bitstream" in copyright_of and "(c) 2006 by Tavmjong Bah" in copyright_of, font
        assert notice in licence, font
