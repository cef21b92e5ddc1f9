"""A few of the harness's random panels, kills and noise: that they run, and find nothing. The many: tests/harness/run."""

import pathlib
import random
import sys

import pytest

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "harness"))

import fuzz  # noqa: E402
import kills  # noqa: E402
import panels  # noqa: E402


def test_random_panels(tmp_path):
    found = [panels.one(seed, tmp_path / f"{seed}") for seed in range(7_000_000, 7_000_012)]
    assert not [f for f in found if f["fault"]]
    assert sum(f["status"] == 0 for f in found) > 2, "too few are accepted to tell anything"


def test_a_run_that_is_cut_off_leaves_the_folder_whole(tmp_path):
    bench = kills.Bench(tmp_path)
    place = tmp_path / "place"
    place.mkdir()
    rnd = random.Random(7)
    for way in ["SIGKILL", "SIGTERM", "SIGKILL", "memory", "file-size", "files-open", "SIGINT", "file-size"]:
        case, fault = kills.attempt(bench, place, way, rnd)
        assert fault is None, f"{way}: {case}: {fault}"


@pytest.mark.parametrize("kind", fuzz.KINDS)
def test_noise(kind, tmp_path):
    failed, _, _ = fuzz.tried(kind, 8, 7, tmp_path / kind)
    assert not failed, [(fault, text) for _, _, fault, text in failed]
