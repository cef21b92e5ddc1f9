"""The words of a call: completions, pages for man, lists, standard input, and what is wrong as JSON.

Outside: bash, zsh and fish read the completions (each where it is installed), mandoc or man the pages; POSIX.1-2017,
Utility Syntax Guidelines 13 (`-` is standard input); no-color.org is common practice, no source.
"""

import json
import os
import pty
import re
import shutil
import subprocess

import pytest

from workshop import PROGRAM, ROOT, call, fixture_path, write_job

VERBS = [
    "make", "check", "prove", "fit", "coupon", "read-coupon", "show", "new", "help", "completions", "man", "licences", "demo",
]  # fmt: skip
LAYOUTS = ["square", "diamond", "three-way", "open-three-way", "eight-point", "free"]


def verbs_of_help():
    lines = call("--help").stdout.partition("Commands:\n")[2].partition("\n\n")[0].splitlines()
    return [line.split()[0] for line in lines if line.startswith("  ") and line[2] != " "]


def test_every_verb_is_listed():
    assert set(VERBS) == set(verbs_of_help())


@pytest.mark.parametrize("verb", VERBS)
def test_help_of_a_verb_has_an_example_and_the_exit_statuses(verb):
    help_text = call(verb, "--help").stdout
    assert f"lapwright {verb}" in help_text.partition("Examples:")[2]
    for status in ["0 done", "1 a check", "2 the input", "3 the system"]:
        assert status in " ".join(help_text.split()), status


def shell(name):
    return shutil.which(name) or pytest.skip(f"{name} is not installed")


def completed(name, script, words, tmp_path):
    """What a shell offers after `words`."""
    program = shell(name)
    (tmp_path / "bin").mkdir(exist_ok=True)
    (tmp_path / "bin" / "lapwright").symlink_to(PROGRAM)
    path = f"{tmp_path / 'bin'}:{os.environ['PATH']}"
    file = tmp_path / "script"
    file.write_text(script)
    if name == "bash":
        what = (
            f'source "{file}"; COMP_WORDS=({" ".join(words)}); COMP_CWORD={len(words) - 1}; '
            '_lapwright lapwright "${COMP_WORDS[-1]}" "${COMP_WORDS[-2]}"; printf "%s\\n" "${COMPREPLY[@]}"'
        )
        words = [program, "--norc", "-c", what]
    else:
        what = f'source "{file}"; complete -C "{" ".join(words)}"'
        words = [program, "--no-config", "-c", what]
    done = subprocess.run(
        words, capture_output=True, text=True, timeout=60, env={"PATH": path, "HOME": str(tmp_path), "TERM": "dumb"}
    )
    assert done.returncode == 0 and not done.stderr, done.stderr
    return [line.split("\t")[0] for line in done.stdout.splitlines()]


@pytest.mark.parametrize("name", ["bash", "fish"])
def test_a_shell_completes_verbs_and_options(name, tmp_path):
    script = call("completions", name).stdout
    assert set(VERBS) <= set(completed(name, script, ["lapwright", "''" if name == "bash" else ""], tmp_path))
    (tmp_path / "bin" / "lapwright").unlink()
    offered = completed(name, script, ["lapwright", "coupon", "--"], tmp_path)
    assert {"--kind", "--out", "--json", "--quiet"} <= set(offered)


def test_zsh_reads_the_completions(tmp_path):
    (tmp_path / "_lapwright").write_text(call("completions", "zsh").stdout)
    what = f'fpath=({tmp_path} $fpath); autoload -Uz compinit; compinit -u -d {tmp_path}/dump; print $_comps[lapwright]; _lapwright; true'
    done = subprocess.run([shell("zsh"), "-f", "-c", what], capture_output=True, text=True, timeout=60)
    assert done.stdout.splitlines()[0] == "_lapwright", done


@pytest.mark.parametrize("verb", [None, "make", "read-coupon"])
def test_man_reads_the_pages(verb, tmp_path):
    words = [verb] if verb else []
    page = tmp_path / "page.1"
    page.write_text(call("man", *words).stdout)
    reader = shutil.which("mandoc") or shutil.which("man") or pytest.skip("neither mandoc nor man is installed")
    done = subprocess.run([reader, str(page)], capture_output=True, text=True, timeout=60, env={**os.environ, "MANPAGER": "cat"})
    text = done.stdout.replace("\b", "")
    assert done.returncode == 0 and "lapwright" in text.lower() and "SYNOPSIS" in text.replace("SSYYNNOOPPSSIISS", "SYNOPSIS"), done
    if shutil.which("mandoc"):
        lint = subprocess.run([shutil.which("mandoc"), "-T", "lint", "-W", "error", str(page)], capture_output=True, text=True)
        assert lint.returncode == 0, lint.stdout


def test_no_page_of_an_unknown_verb():
    done = call("man", "mkae")
    assert done.returncode == 2 and "mkae" in done.stderr and "make" in done.stderr


def test_new_and_show_list_what_there_is():
    layouts = call("new").stdout
    for name in LAYOUTS:
        assert f"  {name} " in layouts
        assert call("new", name).returncode == 0
    listed = [line.split()[0] for line in call("show").stdout.splitlines() if line.startswith("  ")]
    assert len(listed) == len(set(listed)) > 30
    for name in listed:
        assert call("show", name).returncode == 0
    heads = [line for line in call("show").stdout.splitlines()[1:] if line and not line.startswith(" ")]
    assert heads == ["Panels", "Machines", "Materials", "Stock", "Patterns of infill", "Post-processors"]


def piped(text, *words, cwd=None):
    return subprocess.run([PROGRAM, *words], input=text, capture_output=True, text=True, timeout=600, cwd=cwd)


def test_a_panel_comes_from_standard_input(tmp_path):
    """Names start from the current folder; the bytes are those of the same panel in a file there."""
    panel = write_job(tmp_path / "in", "plain-window")
    text = panel.read_text()
    assert "material.toml" in text
    assert piped(text, "make", "-", "--out", "piped", cwd=panel.parent).returncode == 0
    assert call("make", panel, "--out", tmp_path / "named").returncode == 0
    of = lambda folder: {p.relative_to(folder): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}
    assert of(panel.parent / "piped") == of(tmp_path / "named")
    assert piped(text, "check", "-", cwd=tmp_path).returncode == 2
    wrong = piped("name = 1\n", "check", "-")
    assert wrong.returncode == 2 and "standard input:1" in wrong.stderr


def test_quiet_prints_what_is_wrong_alone(tmp_path):
    panel = write_job(tmp_path / "in", "plain-window")
    done = call("make", panel, "--out", tmp_path / "out", "--quiet")
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
    assert (tmp_path / "out" / "job.json").exists()
    assert call("prove", tmp_path / "out", "-q").stdout == ""
    (tmp_path / "out" / "members.csv").write_text("")
    spoilt = call("prove", tmp_path / "out", "-q")
    assert spoilt.returncode == 1 and "members.csv" in spoilt.stderr


def failure(*words):
    done = call(*words, "--json")
    said = json.loads(done.stdout)
    assert set(said) == {"schema", "program", "error"} and said["schema"] == 1
    error = said["error"]
    assert set(error) == {"kind", "exit_status", "message", "faults", "checks", "findings"}
    assert error["exit_status"] == done.returncode != 0
    assert done.stderr.strip(), "words for people stay on standard error"
    return error


def test_faults_of_files_as_json(tmp_path):
    """Line, column and key are found in the file by another reader: the text's own lines."""
    panel = write_job(tmp_path / "in", "plain-window")
    text = panel.read_text()
    material = panel.parent / "material.toml"
    panel.write_text(text.replace("depth = 12", "dpeth = 12").replace("clearance = 0.05", 'clearance = "0.05"'))
    material.write_text(material.read_text().replace("kerf = 0.15", "kerf = -0.15"))
    error = failure("check", panel)
    assert error["kind"] == "files"
    rows = {row["key"]: row for row in error["faults"]}
    for file, key, needle in [
        (panel, "ground.dpeth", "dpeth"), (panel, "cut.clearance", '"0.05"'), (material, "laser.kerf", "-0.15"),
    ]:
        row = rows[key]
        lines = file.read_text().splitlines()
        assert row["file"] == str(file) and row["message"]
        assert lines[row["line"] - 1][row["column"] - 1 :].startswith(needle), row
    broken = tmp_path / "broken.toml"
    broken.write_text("[ground\n")
    assert failure("check", broken)["faults"][0]["key"] is None


def test_failed_checks_as_json(tmp_path):
    panel = write_job(tmp_path / "in", "plain-window")
    material = panel.parent / "material.toml"
    material.write_text(material.read_text().replace("feed = 900", "feed = 12001"))
    error = failure("make", panel, "--out", tmp_path / "out")
    failed = [row for row in error["checks"] if row["status"] == "fail"]
    assert error["kind"] == "checks" and [row["id"] for row in failed] == ["cut-feed"]
    row = failed[0]
    assert (row["value"], row["limit"], row["bound"], row["unit"]) == (12001, 12000, "at most", "mm/min")
    assert row["where"] and row["helps"]
    assert any(row["status"] == "pass" for row in error["checks"])
    assert not (tmp_path / "out").exists()


def test_other_failures_as_json(tmp_path):
    for words, kind, status in [
        (["mkae"], "call", 2), (["new", "round"], "call", 2), (["show", "nothing"], "call", 2),
        (["check", tmp_path / "none.toml"], "unread", 2), (["prove", tmp_path], "call", 2),
    ]:
        error = failure(*words)
        assert (error["kind"], error["exit_status"]) == (kind, status), words
    panel = write_job(tmp_path / "in", "plain-window")
    assert call("make", panel, "--out", tmp_path / "out").returncode == 0
    (tmp_path / "out" / "members.csv").write_text("")
    assert any("members.csv" in line for line in failure("prove", tmp_path / "out")["findings"])
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "mine.txt").write_text("x")
    assert failure("make", panel, "--out", tmp_path / "mine")["kind"] == "folder"


def on_a_terminal(*words, **more):
    """What a call prints to a terminal of its own."""
    front, back = pty.openpty()
    process = subprocess.Popen(
        [PROGRAM, *words], stdin=back, stdout=back, stderr=back, env={**os.environ, "TERM": "xterm", **more}
    )
    os.close(back)
    said = b""
    try:
        while part := os.read(front, 4096):
            said += part
    except OSError:
        pass  # The other end is closed.
    process.wait(60)
    os.close(front)
    return said


def test_colour_is_for_terminals_alone(tmp_path):
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("nam = 1\n")
    escape = b"\x1b["
    assert escape in on_a_terminal("check", wrong)
    assert escape in on_a_terminal("--help")
    for words in [("check", wrong), ("--help",)]:
        assert escape not in on_a_terminal(*words, NO_COLOR="1"), words
    assert "\x1b" not in call("check", wrong).stderr


def test_what_was_meant_is_said(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "first.toml").write_text(call("new", "square").stdout)
    for name, meant in [
        ("first", "did you mean first.toml?"), ("demo", "lapwright show demo > demo.toml"),
        ("three-way", "lapwright new three-way > three-way.toml"),
    ]:
        done = call("check", name)
        assert done.returncode == 2 and meant in done.stderr, done.stderr


SLIPS = {
    "unit-without-quotes": ("face = 1.5 ", "face = 9mm ", 'write 9'),
    "typographic-quotes": ('"my square panel"', "“my square panel”", "straight quotes"),
    "decimal-comma": ("left = { clear = 9 }", "left = { clear = 9,5 }", "a decimal point, not a comma: 9.5"),
    "backslash": ('"card-1.5"', '"mine\\card.toml"', '"mine/card.toml"'),
}


@pytest.mark.parametrize("slip", SLIPS)
def test_slips_of_form_are_answered(tmp_path, slip):
    wrong, into, said = SLIPS[slip]
    text = call("new", "square").stdout
    assert wrong in text
    file = tmp_path / "first.toml"
    file.write_text(text.replace(wrong, into))
    done = call("check", file)
    assert done.returncode == 2 and said.removeprefix("write ") in done.stderr, done.stderr


@pytest.mark.parametrize("kind, name, word", [
    ("stock", "card-sheets", "stock"), ("machine", "desk-laser", "machine"), ("material", "card-1.5", "material"),
    ("post", "laser-mm", "post-processor"), ("pattern", "hemp-leaf", "pattern"),
])  # fmt: skip
def test_a_file_of_another_kind_is_known(tmp_path, kind, name, word):
    file = tmp_path / "file.toml"
    file.write_text(call("show", name).stdout)
    done = call("check", file)
    assert done.returncode == 2 and f"this is a {word} file" in done.stderr, done.stderr
    assert done.stderr.count("error:") == 1


def test_words_in_the_wrong_order(tmp_path):
    done = call("first.toml", "make", "--out", "x")
    assert done.returncode == 2 and "lapwright make first.toml --out x" in done.stderr
    done = call("fit", "square", "--opening", "600x400", "--pitch", "20-32")
    assert done.returncode == 2 and "20..32" in done.stderr


@pytest.mark.parametrize("base, at_end", [("plain-window", {1: True, 2: False}), ("router-square", {-1: True, -2: False})])
def test_the_last_notch_of_a_comb_may_not_be_the_true_one(tmp_path, base, at_end):
    panel = write_job(tmp_path / "in", base)
    assert call("coupon", panel, "--out", tmp_path / "comb").returncode == 0
    last = len((tmp_path / "comb" / "coupon.csv").read_text().splitlines()) - 1
    for notch, beyond in at_end.items():
        words = ["read-coupon", tmp_path / "comb", "--notch", notch if notch > 0 else last + 1 + notch]
        done = call(*words)
        assert done.returncode == 0, done.stderr
        assert ("may lie beyond" in done.stdout) == beyond, words
        assert json.loads(call(*words, "--json").stdout)["at_end"] == beyond



@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("cutter", ["laser", "router", "dxf"])
def test_what_new_writes_passes_as_it_stands(tmp_path, layout, cutter):
    file = tmp_path / "first.toml"
    file.write_text(call("new", layout, "--for", cutter).stdout)
    done = call("make", file, "--out", tmp_path / "out")
    assert done.returncode == 0, done.stderr
    made = {path.suffix for path in (tmp_path / "out").rglob("*")}
    assert ".dxf" in made and (".nc" in made) == (cutter != "dxf")
    # The names that its comments list are those of built-in files.
    listed = call("show").stdout.split()
    for names in re.findall(r"# built in: (.*)", file.read_text()):
        assert set(names.split(", ")) <= set(listed), names


def test_help_prints_verbs_and_pages():
    listed = call("help").stdout
    pages = re.findall(r"^  (\S+)  ", listed.partition("Pages of the guide")[2], re.M)
    assert len(pages) > 10 and not set(pages) & set(VERBS), "verbs win, so no page has the name of one"
    for page in pages:
        done = call("help", page)
        text = (ROOT / "src" / "guide" / f"{page}.md").read_text()
        assert done.returncode == 0 and done.stdout.startswith(text.splitlines()[0])
        assert not any(line.startswith("<") for line in done.stdout.splitlines())
        assert f"](src/guide/{page}.md)" in (ROOT / "README.md").read_text()
    for verb in VERBS:
        assert f"Usage: lapwright {verb}" in call("help", verb).stdout
    done = call("help", "mitre")
    assert done.returncode == 2 and "coupons" in done.stderr and "make" in done.stderr


def test_the_readme_is_short():
    text = (ROOT / "README.md").read_text()
    assert len(text.splitlines()) <= 150
    # What keeps people whole stands on the first page.
    cautions = text.partition("## Cautions")[2].partition("\n## ")[0]
    for word in ["eye", "ear", "dust", "Hold", "air run", "alone", "extinguisher", "plastics", "manual", "local codes"]:
        assert word in cautions, word


CLUTTER = [".DS_Store", "Thumbs.db", "desktop.ini", ".~lock.members.csv#", ".sheet.html.swp"]


def made_job(tmp_path):
    panel = write_job(tmp_path / "in", "plain-window")
    out = tmp_path / "out"
    assert call("make", panel, "--out", out).returncode == 0
    return panel, out


def bytes_of(folder):
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


@pytest.mark.parametrize("file", ["members.csv", "source/panel.toml", "gcode/plain-window-sheet-01.nc"])
def test_an_edited_file_is_not_replaced_unasked(tmp_path, file):
    panel, out = made_job(tmp_path)
    fresh = bytes_of(out)
    (out / file).write_bytes(fresh[file] + b"\n")
    edited = bytes_of(out)
    for words in [("make", panel), ("coupon", panel)]:
        done = call(*words, "--out", out)
        assert done.returncode == 2 and file in done.stderr and "--replace" in done.stderr, done.stderr
        assert bytes_of(out) == edited
    assert call("make", panel, "--out", out, "--replace").returncode == 0
    assert bytes_of(out) == fresh
    # A file that was deleted is not lost by that.
    (out / file).unlink()
    assert call("make", panel, "--out", out).returncode == 0
    assert bytes_of(out) == fresh


def test_what_systems_leave_is_carried_over(tmp_path):
    panel, out = made_job(tmp_path)
    fresh = bytes_of(out)
    left = {f"{folder}{name}": name.encode() for name in CLUTTER for folder in ("", "dxf/", "pictures/")}
    for path, text in left.items():
        (out / path).write_bytes(text)
    done = call("prove", out)
    assert done.returncode == 0 and all(path in done.stderr for path in left), done.stderr
    done = call("make", panel, "--out", out)
    assert done.returncode == 0 and all(path in done.stderr for path in left), done.stderr
    assert bytes_of(out) == fresh | left
    assert call("prove", out).returncode == 0
    # A folder with nothing else in it is as good as empty.
    alone = tmp_path / "alone"
    alone.mkdir()
    (alone / ".DS_Store").write_bytes(b"x")
    assert call("make", panel, "--out", alone).returncode == 0
    assert bytes_of(alone) == fresh | {".DS_Store": b"x"}


@pytest.mark.parametrize("name", ["notes.txt", ".DS_Store2", "x.DS_Store", "Thumbs.db.txt", ".swp", ".~lock.x", "lock.x#", "desktop.INI"])
def test_nothing_else_is_carried_over(tmp_path, name):
    panel, out = made_job(tmp_path)
    (out / name).write_text("x")
    before = bytes_of(out)
    for more in ([], ["--replace"]):
        done = call("make", panel, "--out", out, *more)
        assert done.returncode == 2 and name in done.stderr, done.stderr
        assert bytes_of(out) == before
    assert call("prove", out).returncode == 1


def test_links_and_folders_of_such_names_are_not_carried_over(tmp_path):
    panel, out = made_job(tmp_path)
    (out / ".DS_Store").symlink_to(panel)
    assert call("make", panel, "--out", out).returncode == 2
    assert call("prove", out).returncode == 1
    (out / ".DS_Store").unlink()
    (out / "Thumbs.db").mkdir()
    (out / "Thumbs.db" / "mine").write_text("x")
    assert call("make", panel, "--out", out).returncode == 2


@pytest.mark.parametrize("put", [os.mkfifo, lambda path: path.symlink_to("/dev/zero"), lambda path: path.symlink_to("infill.csv")])
def test_what_is_no_plain_file_any_more_counts_as_edited(tmp_path, put):
    """Nobody waits for a pipe, or reads a device to its end."""
    panel, out = made_job(tmp_path)
    (out / "members.csv").unlink()
    put(out / "members.csv")
    done = call("make", panel, "--out", out, timeout=20)
    assert done.returncode == 2 and "members.csv" in done.stderr, done.stderr
    done = call("make", panel, "--out", out, "--replace", timeout=20)
    assert done.returncode == 0 and (out / "members.csv").read_text().startswith("member,"), done.stderr
