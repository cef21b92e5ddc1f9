"""A sample of the attack on the proof: seeded faults in the cut files of real jobs, judged by the harness's own
reader before the replay is asked. The whole attack: tests/harness/run attack.

What matters, and what differs beyond the closed list, must be refused; what closed_list.py names must not.
"""

import pathlib
import random
import re
import sys

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "harness"))

import attack  # noqa: E402
import gcode_faults  # noqa: E402
import jobs  # noqa: E402
from judge import Sound  # noqa: E402

# Faults tried, over these jobs; each job is made and proven once.
SAMPLE = {"laser": 140, "laser-lines": 40, "router-odd-inch": 100, "gang": 80, "gang-change": 40, "coupon-laser": 40}
SEED = 7


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    return jobs.build(SAMPLE, tmp_path_factory.mktemp("attack"))


def told(entries):
    shown = [f"{e['kind']} ({e['verdict']}: {', '.join(e['why'])}) in {e['job']} {e['file']}: {e['change']}" for e in entries[:20]]
    return f"{len(entries)}:\n" + "\n".join(shown)


@pytest.mark.parametrize("job", SAMPLE)
def test_no_fault_gets_through(job, folders):
    tried = attack.Attack({job: folders[job]})
    assert tried.run(SAMPLE[job], SEED) == SAMPLE[job]
    assert not tried.misses, f"got through, {told(tried.misses)}"
    assert not tried.strict, f"harmless but refused, {told(tried.strict)}"


@pytest.fixture(scope="module")
def router(folders):
    files = jobs.cut_files("router-odd-inch", folders["router-odd-inch"])
    file = next(f for f in files if f.bench and not f.bench.air_run)
    return file.text, Sound(file.text, file.bench), file.bench


def test_the_judge_sees_a_pass_that_runs_in_the_air(router):
    """A lift after a plunge: the next pass is twice as deep, and no wood at the end tells of it."""
    text, sound, bench = router
    lines = text.splitlines()
    lift = next(line for line in lines if re.search("G0 Z", line))
    plunge = next(n for n, line in enumerate(lines) if re.search("G1 Z", line))
    spoilt = "\n".join(gcode_faults.put(lines, plunge + 1, lift)) + "\n"
    verdict = sound.verdict(spoilt)
    assert verdict.kind == "matters" and verdict.why == ["pass"], verdict


@pytest.mark.parametrize("kind", [k for k in gcode_faults.FAULTS if k.startswith("form-")])
def test_the_judge_knows_the_closed_list(kind, router):
    text, sound, bench = router
    for seed in range(5):
        spoilt = gcode_faults.spoilt(text, kind, random.Random(seed), bench)
        if spoilt is not None:
            assert sound.verdict(spoilt).kind == "harmless", kind


@pytest.mark.parametrize(
    "kind, why",
    [
        ("passage-lost", {"remarks", "wood: less"}),
        ("wait-in-cut", {"waits"}),
        ("remark-digit", {"remarks"}),
        ("feed-x10", {"feed", "limits: feed"}),
        ("tool-other", {"states", "tool"}),
        ("cut-short-line", {"broken: program-end"}),
    ],
)
def test_the_judge_says_what_matters(kind, why, router):
    text, sound, bench = router
    for seed in range(6):
        spoilt = gcode_faults.spoilt(text, kind, random.Random(seed), bench)
        if spoilt is None:
            continue
        verdict = sound.verdict(spoilt)
        assert verdict.kind == "matters" and why & set(verdict.why), (seed, verdict)
