"""What is too much, too deep or too long is refused in words, in little memory and on a small stack.

Memory and stack are bounded from outside (POSIX setrlimit, RLIMIT_AS and RLIMIT_STACK): a program that takes more
is ended by the system, and no exit status of ours comes out.
"""

import json
import resource
import shutil

import pytest

from refusals import refused, write_edited
from workshop import call, fixture, fixture_path, said, write_job

MEMORY = 400 << 20
STACK = 256 << 10
# All that is refused here is refused before any planning; the machine may be busy.
SECONDS = 60


def bounded():
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_STACK, (STACK, STACK))


def in_bounds(*words):
    return call(*words, preexec_fn=bounded, timeout=SECONDS)


# Templates that take memory, steps or stack without end where the engine lets them (Jinja language: loops, lists,
# repetition, filters; its parser descends once for each bracket or sign).
HOSTILE = {
    "doubled-list": "{% set n = namespace(l=[1]) %}{% for a in range(40) %}{% set n.l = n.l + n.l %}{% endfor %}{{ n.l }}",
    "doubled-text": "{% set n = namespace(t='x') %}{% for a in range(40) %}{% set n.t = n.t ~ n.t %}{% endfor %}{{ n.t }}",
    "repeated-text": "{{ 'x' * 1000000000 }}",
    "repeated-list": "{{ [1] * 100000000 }}",
    "range": "{{ range(100000000) | list | length }}",
    "join": "{{ range(99999) | join('xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx') }}",
    "format": "{{ '%999999999d' | format(1) }}",
    "indent": "{{ 'x' | indent(999999999, true) }}",
    "macro": "{% macro m() %}{{ m() }}{% endmacro %}{{ m() }}",
    "brackets": "{{ " + "(" * 10_000 + "1" + ")" * 10_000 + " }}",
    "lists": "{{ " + "[" * 10_000 + "]" * 10_000 + " }}",
    "signs": "{{ " + "-" * 21_000 + "1 }}",
    "nots": "{% if " + "not " * 10_000 + "name %}{% endif %}",
    "sums": "{{ 1" + " + 1" * 10_000 + " }}",
    "texts": "{{ name" + " ~ name" * 10_000 + " }}",
    "filters": "{{ name" + " | upper" * 10_000 + " }}",
    "ifs": "{% if name %}" * 10_000 + "{% endif %}" * 10_000,
    "elifs": "{% if name %}" + "{% elif name %}" * 10_000 + "{% endif %}",
    "values": "{{ name }}" * 10_000,
    "text": "x" * 500_000,
}  # fmt: skip


@pytest.fixture(scope="module")
def received(tmp_path_factory):
    """A folder as it comes from someone else."""
    out = tmp_path_factory.mktemp("received") / "job"
    done = call("make", fixture_path("panel", "plain-window"), "--out", out)
    assert done.returncode == 0, said(done)
    return out


def with_end(text, end):
    changed = text.replace('end = "M2"', f"end = '''{end}\nM2'''")
    assert changed != text
    return changed


@pytest.mark.parametrize("case", HOSTILE)
def test_a_template_takes_neither_memory_nor_stack(case, tmp_path, received):
    """As a maker's own file, and in a folder that is proven."""
    post = with_end(fixture_path("post_processor", "laser-mm").read_text(), HOSTILE[case])
    panel, _ = write_edited(tmp_path / "in", "plain-window", {})
    (tmp_path / "in" / "post_processor.toml").write_text(post)
    done = in_bounds("check", panel)
    assert done.returncode == 2 and "gcode.end" in done.stderr, said(done)
    assert "post_processor.toml" in done.stderr and len(done.stderr) < 4_000, said(done)
    folder = shutil.copytree(received, tmp_path / "job")
    (folder / "source" / "post-processor.toml").write_text(post)
    done = in_bounds("prove", folder)
    assert done.returncode == 1 and "gcode.end" in done.stderr, said(done)


def test_the_bounds_leave_room_for_a_sound_dialect(tmp_path, received):
    """Else the tests above would pass for any reason."""
    done = call("prove", received, preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY,) * 2))
    assert done.returncode == 0, said(done)


def test_a_template_writes_so_many_lines(tmp_path):
    for lines, status in [(39, 0), (40, 2)]:
        panel, _ = write_edited(tmp_path / str(lines), "plain-window", {})
        text = fixture_path("post_processor", "laser-mm").read_text()
        end = "\n".join(["(a remark)"] * lines)
        (tmp_path / str(lines) / "post_processor.toml").write_text(with_end(text, end))
        done = in_bounds("check", panel)
        assert done.returncode == status, said(done)
        assert status == 0 or "more than 40 lines" in done.stderr, said(done)


# TOML that goes deep or on: (text, words).
DEEP = {
    "brackets": ("a = " + "[" * 400_000, "12 deep"),
    "closed": ("a = " + "[" * 13 + "]" * 13, "12 deep"),
    "braces": ("a = " + "{ b = " * 100_000, "12 deep"),
    "dots": ("a" + ".a" * 400_000 + " = 1", "8 parts"),
    "headers": ("[a" + ".a" * 8 + "]", "8 parts"),
    "lines": ("#\n" * 50_001, "50000 lines"),
    "keys": ("".join(f"k{n}=1\n" for n in range(20_001)), "20000 keys"),
    "tables": ("[[a]]\n" * 20_001, "20000 keys"),
    "size": ("# " + "x" * (1 << 20), "larger"),
}


@pytest.mark.parametrize("kind", ["panel", "machine", "material", "stock", "post_processor"])
@pytest.mark.parametrize("case", DEEP)
def test_a_file_goes_so_deep_and_no_deeper(case, kind, tmp_path):
    text, says = DEEP[case]
    panel, _ = write_edited(tmp_path, "plain-window", {})
    (tmp_path / f"{kind}.toml").write_text(text)
    done = in_bounds("check", panel)
    assert done.returncode == 2 and f"{kind}.toml" in done.stderr, said(done)
    assert says in done.stderr and len(done.stderr) < 4_000, said(done)


@pytest.mark.parametrize("how", ["[", '{"a":', '{"files":[', '{"coupon":{"kind":'])
def test_a_deep_summary_does_no_harm(how, tmp_path, received):
    """In a folder that is to be replaced, and in one that is proven."""
    folder = shutil.copytree(received, tmp_path / "job")
    (folder / "job.json").write_text(how * 1_000_000)
    done = call("demo", "--out", folder, preexec_fn=bounded)
    assert done.returncode == 2, said(done)
    limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))  # noqa: E731
    done = call("prove", folder, preexec_fn=limit)
    assert done.returncode == 1 and "job.json" in done.stderr, said(done)


def test_a_large_file_in_a_folder_is_not_read(tmp_path, received):
    """Ten gigabytes in place of a program; the disk holds none of them (a sparse file)."""
    folder = shutil.copytree(received, tmp_path / "job")
    limit = lambda: resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))  # noqa: E731
    for name in ["gcode/plain-window-sheet-01.nc", "panel.svg", "source/panel.toml", "job.json"]:
        sound = (folder / name).read_bytes()
        with open(folder / name, "r+b") as file:
            file.truncate(10 << 30)
        done = call("prove", folder, preexec_fn=limit)
        assert done.returncode == 1 and name.removeprefix("source/") in done.stderr, said(done)
        (folder / name).write_bytes(sound)
    assert call("prove", folder).returncode == 0


def test_a_longer_program_is_still_told_line_by_line(tmp_path, received):
    folder = shutil.copytree(received, tmp_path / "job")
    program = folder / "gcode" / "plain-window-sheet-01.nc"
    program.write_text(program.read_text().replace("M2\n", "G0 X1 Y1\nM2\n"))
    done = call("prove", folder)
    assert done.returncode == 1 and "line" in done.stderr and program.name in done.stderr, said(done)


# Values just beyond and just inside: (base, changes beyond, words, changes inside).
VALUES = {
    "name": ("plain-window", {"panel": {"name": "x" * 201}}, ["name", "200 characters"],
             {"panel": {"name": "x" * 200}}),
    "quantity": ("plain-window", {"panel": {"quantity": 10_001}}, ["quantity", "10000"], None),
    "spares": ("plain-window", {"panel": {"kits": {"spares": 1_001}}}, ["spares", "1000"], None),
    "joint-limit": ("plain-window", {"panel": {"joint_limit": 1_000_001}}, ["joint_limit", "1000000"],
                    {"panel": {"joint_limit": 1_000_000}}),
    "joints": ("plain-window", {"panel": {"joint_limit": 30}}, ["joints", "30"],
               {"panel": {"joint_limit": 60}}),
    "pieces": ("plain-window", {"panel": {"quantity": 10_000, "kits": {"spares": 44}}},
               ["1020000 pieces", "1000000"], None),
    "blanks": ("plain-window", {"stock": {"blank": [{"name": "a", "length": 420, "width": 297}] * 101}},
               ["blank", "100"],
               {"stock": {"blank": [{"name": "a", "length": 420, "width": 297}] * 100}}),
    "kerf": ("plain-window", {"material": {"laser.kerf": 0.0199}}, ["kerf", "0.02"],
             {"material": {"laser.kerf": 0.02}}),
    "cutter": ("router-square", {"machine": {"router.tool.diameter": 0.0999}}, ["diameter", "0.1"],
               None),
}  # fmt: skip


@pytest.mark.parametrize("case", VALUES)
def test_values_have_limits(case, tmp_path):
    base, beyond, says, inside = VALUES[case]
    panel = write_job(tmp_path / "in", base, **beyond)
    refused(tmp_path, "make", panel, "--out", tmp_path / "out", status=2, says=says)
    if inside is not None:
        done = call("make", write_job(tmp_path / "in", base, **inside), "--out", tmp_path / "out")
        assert done.returncode == 0, said(done)


@pytest.mark.parametrize("dialect", ["laser-mm", "laser-inch", "laser-lines-mm", "laser-follow-mm"])
@pytest.mark.parametrize("panel", ["plain-window", "three-way-card", "hemp-leaf-outlines"])
def test_the_least_kerf_can_be_proven(panel, dialect, tmp_path):
    """The limit is no narrower than what the proof can tell."""
    name = fixture("panel", panel)["material"]
    material = {"": name, "laser.kerf": 0.02}
    path = write_job(tmp_path, panel, material=material, post_processor={"": dialect})
    done = call("check", path)
    assert done.returncode == 0, said(done)


@pytest.mark.parametrize("base, says", [("router-square", "skin"), ("check", "ridge")])
def test_a_board_that_may_not_be_cut_into_is_told(base, says, tmp_path):
    for spoil, told in [(0, True), (0.19, True), (0.2, False)]:
        path = write_job(tmp_path, base, machine={"router.spoil": spoil})
        done = call("check", path, "--json")
        assert done.returncode == 0, said(done)
        warnings = json.loads(done.stdout)["warnings"]
        assert any(says in w and "router.spoil" in w for w in warnings) == told, warnings


def test_sheets_are_counted(tmp_path):
    """A blank that takes one bar: 14 bars of 7,143 panels are 100,002 sheets."""
    stock = {"blank": [{"name": "narrow", "length": 200, "width": 16}], "trim": 0}
    panel = write_job(tmp_path / "in", "plain-window", panel={"quantity": 7143}, stock=stock)
    done = refused(tmp_path, "make", panel, "--out", tmp_path / "out", status=2, says=["100000", "sheets"])
    assert "100002" in done.stderr, said(done)


