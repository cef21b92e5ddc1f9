"""prove: a folder passes as it was made, and fails when anything in it is not what was made."""

import hashlib
import json
import shutil

import pytest

from workshop import FLAT_PANELS, call, said, summary

PANELS = [*FLAT_PANELS, "odd-three-way"]


@pytest.fixture
def copy(tmp_path):
    def of(folder):
        return shutil.copytree(folder, tmp_path / "job")

    return of


def proves(folder):
    done = call("prove", folder)
    assert done.returncode in (0, 1), said(done)
    assert bool(done.stdout) == (done.returncode == 0), said(done)
    return done


def files_of(folder):
    return sorted(f for f in folder.rglob("*") if f.is_file())


def test_a_fresh_folder_passes(flat_job):
    done = proves(flat_job)
    assert done.returncode == 0, said(done)


def test_a_folder_passes_wherever_it_stands(flat_job, copy):
    assert proves(copy(flat_job)).returncode == 0


def flipped(sound, at=None):
    wrong = bytearray(sound)
    wrong[len(sound) // 2 if at is None else at] ^= 1
    return wrong


# What every job has: of these the smallest job shows each by itself.
COMMON = {"panel.toml", "machine.toml", "material.toml", "stock.toml", "post-processor.toml"}


def sources_of_its_own(files):
    """Sources of a kind or number that the smallest job has not."""
    return [f for f in files if f.parent.name == "source" and f.name not in COMMON]


def spoilt_together(folder, files, spoil):
    """Files spoilt together are all named; the summary, whose digests name the others, by itself."""
    made = [f for f in files if f.name != "job.json"]
    sound = {f: f.read_bytes() for f in files}
    # So few at a time that all are named.
    batches = [made[i : i + 8] for i in range(0, len(made), 8)]
    for batch in [*batches, [f for f in files if f not in made]]:
        for file in batch:
            if spoil:
                file.write_bytes(spoil(sound[file]))
            else:
                file.unlink()
        done = proves(folder)
        assert done.returncode == 1, said(done)
        for file in batch:
            assert file.relative_to(folder).as_posix() in done.stderr, said(done)
        for file in batch:
            file.write_bytes(sound[file])


@pytest.mark.parametrize("name", PANELS)
def test_a_changed_byte_of_any_file_fails(name, panel_file, made, copy):
    """Of the smallest job each file by itself, the summary and the sources included, at the first, the middle and
    the last byte; of the others the sources that it has not by themselves, and all that is made at once. The file is
    named."""
    folder = copy(made(panel_file(name)))
    files = files_of(folder)
    assert len(files) >= 10
    if name != "demo":
        spoilt_together(folder, [f for f in files if f.parent.name != "source"], flipped)
        files = sources_of_its_own(files)
    for file in files:
        sound = file.read_bytes()
        for at in sorted({0, len(sound) // 2, len(sound) - 1} if name == "demo" else {len(sound) // 2}):
            file.write_bytes(flipped(sound, at))
            done = proves(folder)
            assert done.returncode == 1, f"{file.name}, byte {at}: {said(done)}"
            if file.parent.name != "source":
                assert file.relative_to(folder).as_posix() in done.stderr, said(done)
        file.write_bytes(sound)
    assert proves(folder).returncode == 0, "and passes again"


@pytest.mark.parametrize("name", PANELS)
def test_a_missing_file_fails(name, panel_file, made, copy):
    """Of the smallest job each by itself; of the others the sources that it has not, and all that is made at once."""
    folder = copy(made(panel_file(name)))
    files = files_of(folder)
    if name != "demo":
        spoilt_together(folder, [f for f in files if f.parent.name != "source"], None)
        files = sources_of_its_own(files)
    for file in files:
        sound = file.read_bytes()
        file.unlink()
        done = proves(folder)
        assert done.returncode == 1, f"{file.name}: {said(done)}"
        assert file.relative_to(folder).as_posix() in done.stderr, said(done)
        file.write_bytes(sound)
    assert proves(folder).returncode == 0


@pytest.mark.parametrize("where", ["more.txt", "gcode/sheet-99.nc", "source/other.toml", "new/x"])
def test_an_unlisted_file_fails(where, panel_file, made, copy):
    folder = copy(made(panel_file("plain-window")))
    (folder / where).parent.mkdir(exist_ok=True)
    (folder / where).write_text("M2\n")
    done = proves(folder)
    assert done.returncode == 1 and where in done.stderr, said(done)


def test_a_link_in_place_of_a_file_fails(panel_file, made, copy, tmp_path):
    folder = copy(made(panel_file("plain-window")))
    program = next((folder / "gcode").iterdir())
    elsewhere = tmp_path / "elsewhere.nc"
    program.rename(elsewhere)
    program.symlink_to(elsewhere)
    done = call("prove", folder)
    assert done.returncode == 1 and program.name in done.stderr and not done.stdout, said(done)


EDITS = {
    "a length": lambda job: job["members"][0].update(length=job["members"][0]["length"] + 1e-6),
    "a check": lambda job: job["checks"][0].update(status="warn"),
    "a digest": lambda job: job["files"][0].update(sha256="0" * 64),
    "a file left out": lambda job: job["files"].pop(0),
    "a key more": lambda job: job.update(note="x"),
    "the schema": lambda job: job.update(schema=2),
}


@pytest.mark.parametrize("what", EDITS)
def test_an_edited_summary_fails(what, panel_file, made, copy):
    folder = copy(made(panel_file("plain-window")))
    job = summary(folder)
    EDITS[what](job)
    (folder / "job.json").write_text(json.dumps(job, indent=2) + "\n")
    done = proves(folder)
    assert done.returncode == 1 and "job.json" in done.stderr, said(done)


def test_a_program_and_its_digest_changed_together_fail(panel_file, made, copy):
    """A digest written anew does not make a changed program true: it is made again and replayed."""
    folder = copy(made(panel_file("plain-window")))
    program = folder / "gcode" / "plain-window-sheet-01.nc"
    text = program.read_text()
    changed = text.replace("X144.175", "X143.175", 1)
    assert changed != text
    program.write_text(changed)
    old = hashlib.sha256(text.encode()).hexdigest()
    new = hashlib.sha256(changed.encode()).hexdigest()
    job = (folder / "job.json").read_text()
    assert old in job
    (folder / "job.json").write_text(job.replace(old, new))
    done = proves(folder)
    assert done.returncode == 1 and program.name in done.stderr, said(done)


@pytest.mark.parametrize("what", ["empty", "file", "missing", "only-summary"])
def test_what_is_no_job_folder(what, tmp_path, panel_file, made):
    folder = tmp_path / "job"
    if what == "file":
        folder.write_text("x")
    elif what != "missing":
        folder.mkdir()
    if what == "only-summary":
        shutil.copy(made(panel_file("plain-window")) / "job.json", folder)
    done = call("prove", folder)
    assert done.returncode in (1, 2) and done.stderr and not done.stdout, said(done)
