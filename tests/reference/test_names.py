"""Names of any kind through programs, drawings and lists, read back by readers that are not the project's: rs274.py
(NISTIR 6556), ezdxf (DXF reference) and Python's csv module (RFC 4180).

What a name becomes is worked out here: letters without their marks by the Unicode decomposition (unicodedata), the
letters that a drawing has by Python's code page 1252.
"""

import csv
import random
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

import ezdxf
import pytest

import rs274
from refusals import refused, write_edited
from workshop import DIALECTS, call, fixture, make, said, sources, summary, write_job

# Letters with marks that have a decomposition; signs that some controller, DXF or a list gives a meaning; letters of
# other alphabets, beyond 16 bits, and what is not seen.
MARKED = "äöüÄÖÜéèêçñåÅšŽőğİ"
SIGNS = "!\"#$%&'()*+,-./:;<=>?@[\\]^_`{|}~×°½–—…“”€µ²"
FAR = "ЖяΩλ木組子한字אع🙂🪵ßøﬁ①\u00a0\u00ad\u200b\u0301"
CODES = [
    "%%d", "%%%", "^J", "\\U+00F6", "\\P", "MSG,", " msg", "(MSG, x)", "M30", "G0 X1", "a,b", '"q"', "=1+1", "..", "//",
]  # fmt: skip
PLAIN = "abcXYZ019 "
# Panels with a family that is written out, with a program for every dialect, and edge up.
ROUNDS = [("new-free", "laser-mm")] * 4 + [(panel, name) for name, panel in DIALECTS.items()] + [("check", "router-mm")] * 2


def a_name(dice, key):
    """Characters of two kinds or of all, between two letters of its own."""
    parts = [key[0]]
    kinds = dice.choice(((MARKED, PLAIN), (MARKED[:-3], SIGNS), (MARKED, SIGNS, FAR, PLAIN, None)))
    for _ in range(dice.randint(1, 7)):
        letters = dice.choice(kinds)
        if letters is None:
            parts.append(dice.choice(CODES))
        else:
            parts.extend(dice.choice(letters) for _ in range(dice.randint(1, 5)))
    return "".join([*parts, key[-1]])


def named(folder, base, dialect, names, **cut):
    """The files of a fixture panel under other names; gives the panel file's path."""
    stock = fixture("stock", fixture("panel", base)["stock"])
    stock["blank"][0]["name"] = names["blank"]
    panel = {"name": names["panel"], **{f"cut.{key}": value for key, value in cut.items()}}
    if base == "new-free":
        families = fixture("panel", base)["ground"]["family"]
        families[0]["name"] = names["family"]
        panel["ground.family"] = families
    machine = {"name": names["machine"]}
    if dialect.startswith("router"):
        machine["router.tool.name"] = names["tool"]
    return write_job(
        folder, base, panel=panel, machine=machine, material={"name": names["material"]},
        stock={"name": names["stock"], "blank": stock["blank"]}, post_processor={"": dialect, "name": names["post"]},
    )  # fmt: skip


KEYS = ("panel", "machine", "material", "stock", "blank", "tool", "family", "post")


@dataclass
class Job:
    names: dict
    base: str
    out: Path

    def programs(self):
        post = sources(self.out)["post_processor"]
        semicolon = post["gcode"].get("remarks") == "semicolon"
        found = sorted((self.out / "gcode").glob("*.nc"))
        assert found, "a job has programs"
        return {p.name: rs274.read(p.read_bytes().decode("ascii"), semicolon) for p in found}

    def drawings(self):
        return sorted((self.out / "dxf").glob("*.dxf"))


def job(folder, base, dialect, names, **cut):
    return Job(names, base, make(named(folder / "in", base, dialect, names, **cut), folder / "out"))


@pytest.fixture(scope="module")
def jobs(tmp_path_factory):
    """A job of names by chance for each round."""
    dice = random.Random(13)
    made = []
    for base, dialect in ROUNDS:
        names = {key: a_name(dice, key) for key in KEYS}
        cut = {} if base == "check" else {"dxf_version": "both"}
        made.append(job(tmp_path_factory.mktemp("names"), base, dialect, names, **cut))
    return made


def letters(text):
    """Small letters and digits of a text, without their marks (Unicode, compatibility decomposition)."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"[^a-z0-9]", "", plain.lower())


def is_latin(name):
    """Whether a name's letters are without their marks what `letters` says, and no sign of it is said in words."""
    return all(c in MARKED or c.isascii() and (c.isalnum() or c in " !\"'()+,-./:;=?[\\]^_`{|}~") for c in name)


def in_code_page(name):
    """Whether code page 1252 has all of a name, and nothing of it begins a code of DXF (DXF reference, TEXT)."""
    try:
        name.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return not re.search(r"\^|\\|%%|[\u00a0\u00ad]", name)


def test_the_rounds_hold_names_of_every_kind(jobs):
    """Else the checks below would look at nothing."""
    panels = [job.names["panel"] for job in jobs]
    assert len(set(panels)) == len(panels)
    for holds in (is_latin, in_code_page):
        assert {holds(name) for job in jobs for name in job.names.values()} == {True, False}
    all_names = "".join(name for job in jobs for name in job.names.values())
    for code in ("%%", "^", "\\", "MSG", "(", ";", "🙂", "組", "ß"):
        assert code in all_names, code


def test_programs_hold_letters_digits_and_six_signs_in_their_remarks(jobs):
    latin = 0
    for job in jobs:
        for name, program in job.programs().items():
            remarks = [text for _, text in program.remarks]
            assert remarks, name
            for text in remarks:
                assert re.fullmatch(r"[A-Za-z0-9 .,\-+=/]*", text), (name, text)
                # NISTIR 6556, 3.3.3, from memory: such a remark is a message.
                assert not text.strip().upper().startswith("MSG"), (name, text)
            joined = letters("".join(remarks))
            for key in ("panel", "machine"):
                if is_latin(job.names[key]):
                    latin += 1
                    assert letters(job.names[key]) in joined, (name, job.names[key])
    assert latin > 0


def test_files_are_called_by_small_letters_digits_and_hyphens(jobs):
    stems = []
    for job in jobs:
        own = [f.name for kind in ("gcode", "dxf") for f in (job.out / kind).glob("*") if f.name != "notes.txt"]
        listed = {Path(f["path"]).name for f in summary(job.out)["files"]}
        for name in own:
            assert name in listed
            assert re.fullmatch(r"[a-z0-9]+(-[a-zA-Z0-9]+)*\.(nc|dxf|svg)", name), name
        # 24 characters of the name, a hyphen and four digits, `-sheet-01-kerf-compensated-never-cut-mm-r12.dxf`.
        assert max(len(name) for name in own) <= 24 + 5 + 50
        first = min(n for n in own if n.endswith(".nc") and not n.startswith("air-run"))
        stems.append(first)
    assert len(set(stems)) == len(stems), "no two jobs on one stick can be mistaken"


def tight(text):
    return re.sub(r"\s", "", text)


def test_drawings_hold_what_their_code_page_holds(jobs):
    kept, folded = 0, 0
    for job in jobs:
        for file in job.drawings():
            doc = ezdxf.readfile(file)
            assert not doc.audit().errors, file
            texts = [t.dxf.text for t in doc.modelspace().query("TEXT")]
            for text in texts:
                assert not re.search(r"\^|\\|%%", text) and text.isprintable(), (file, text)
            written = file.read_bytes()
            if "-r12" in file.name:
                assert written.isascii(), file
                continue
            assert doc.encoding == "cp1252"
            # Notes are broken into lines, within a word that is longer than one.
            joined = tight("".join(texts))
            if "Size:" not in joined:
                continue
            name = job.names["panel"]
            if in_code_page(name):
                kept += not name.isascii()
                assert tight(name) in joined, (file, name)
            elif is_latin(name):
                folded += 1
                assert letters(name) in letters(joined), (file, name)
    assert kept > 0 and folded > 0, (kept, folded)


def test_lists_are_lists(jobs):
    of_families = 0
    for job in jobs:
        for file in sorted(job.out.glob("*.csv")):
            # RFC 4180: lines end in CR LF, every line has as many fields.
            text = file.read_bytes().decode("utf-8")
            assert text.endswith("\r\n") and "\n" not in text.replace("\r\n", ""), file
            rows = list(csv.reader(text.splitlines(), strict=True))
            assert len(rows) > 1 and {len(row) for row in rows} == {len(rows[0])}, file
            if file.name == "members.csv":
                at = rows[0].index("family")
                families = {member["family"] for member in summary(job.out)["members"]}
                assert {row[at] for row in rows[1:]} == families
                if job.base == "new-free":
                    of_families += 1
                    assert job.names["family"] in {row[at] for row in rows[1:]}
    assert of_families > 0


def test_names_stand_unchanged_where_a_file_has_all_letters(jobs):
    for job in jobs:
        told = summary(job.out)
        assert told["panel"]["name"] == job.names["panel"]
        notes = job.out / "dxf" / "notes.txt"
        if notes.exists():
            text = notes.read_text(encoding="utf-8")
            for key in ("panel", "machine", "material"):
                assert job.names[key] in text, (notes, key)
        done = call("prove", job.out)
        assert done.returncode == 0, said(done)


def test_one_name_in_every_file(tmp_path):
    """What each format makes of a name with marks, signs and codes. Windows-1252: D6 is O with two dots, 80 the euro
    sign."""
    name = "Ölgöße №5: 50 % (weiß) — 4 × ő; €9^!"
    names = {key: "x" for key in KEYS} | {"panel": name}
    made = job(tmp_path, "plain-window", "laser-mm", names, dxf_version="both")
    (program,) = [p for n, p in made.programs().items() if n.endswith("sheet-01.nc") and "air-run" not in n]
    remarks = [text for _, text in program.remarks]
    assert any(text.startswith("Olgosse No5 - 50 percent weiss -- 4 x o, EUR9 .") for text in remarks), remarks
    (drawn,) = [f for f in made.drawings() if f.name.endswith("sheet-01-drawn-size.dxf")]
    title = "Ölgöße No5: 50 % (weiß) — 4 × o; €9 !: sheet"
    assert title.encode("cp1252") in drawn.read_bytes()
    assert any(t.dxf.text.startswith(title) for t in ezdxf.readfile(drawn).modelspace().query("TEXT"))
    (old,) = [f for f in made.drawings() if f.name.endswith("sheet-01-drawn-size-never-cut-mm-r12.dxf")]
    assert b"Olgosse No5: 50 % (weiss) -- 4 x o; EUR9 !: sheet" in old.read_bytes()
    assert name in (made.out / "dxf" / "notes.txt").read_text(encoding="utf-8")


NOTHING = ["!?", "( )", "%%", "...", "—", "\u200b", "^^", "'"]
# Where a name stands: kind of file, the line of the fixture, and a line in its place.
PLACES = {
    "panel": ("plain-window", "panel", 'name = "plain window"'),
    "machine": ("plain-window", "machine", None),
    "material": ("plain-window", "material", None),
    "stock": ("plain-window", "stock", None),
    "post": ("plain-window", "post_processor", None),
    "family": ("new-free", "panel", 'name = "post"'),
}


@pytest.mark.parametrize("name", NOTHING)
@pytest.mark.parametrize("key", PLACES)
def test_a_name_of_nothing_but_signs_is_refused_at_its_place(tmp_path, key, name):
    base, kind, line = PLACES[key]
    if line is None:
        line = f'name = "{fixture(kind, fixture("panel", base)[kind])["name"]}"'
    path, place = write_edited(tmp_path, base, {kind: [(line, f'name = "{name}"')]})
    says = (place, "neither letter nor digit", "use at least one")
    refused(tmp_path, "make", path, "--out", tmp_path / "out", status=2, says=says)
