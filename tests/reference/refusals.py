"""Wrong files and wrong calls, made from the fixtures by exchanging text, and what must stay as it was."""

from workshop import call, fixture_path, said

KINDS = ("machine", "material", "stock", "post_processor")


def write_edited(folder, base, edits):
    """Writes a fixture panel and the files it names, with text exchanged: {kind: [(old, new)]}.

    Gives the panel file's path and the place (file:line) of the first exchange.
    """
    folder.mkdir(parents=True, exist_ok=True)
    text = fixture_path("panel", base).read_text()
    texts, place = {"panel": text}, None
    for kind in KINDS:
        name = next(w for w in text.splitlines() if w.startswith(kind + " ")).split('"')[1]
        texts[kind] = fixture_path(kind, name).read_text()
        texts["panel"] = texts["panel"].replace(f'"{name}"', f'"{kind}.toml"', 1)
    for kind, pairs in edits.items():
        for old, new in pairs:
            assert old in texts[kind], (kind, old)
            before, _, after = texts[kind].partition(old)
            texts[kind] = before + new + after
            if place is None:
                place = f"{kind}.toml:{before.count(chr(10)) + 1}"
    for kind, content in texts.items():
        data = content if isinstance(content, bytes) else content.encode()
        (folder / f"{kind}.toml").write_bytes(data)
    return folder / "panel.toml", place


def snapshot(folder):
    """Everything below a folder: names, kinds, sizes, times of change, bytes of small files."""
    found = {}
    for path in sorted(folder.rglob("*")):
        stat = path.lstat()
        small = path.is_file() and stat.st_size < 1_000_000
        found[str(path)] = (
            stat.st_mode, stat.st_size, stat.st_mtime_ns, path.read_bytes() if small else None,
        )  # fmt: skip
    return found


def refused(folder, *words, status, says=(), **more):
    """Runs the program; it must refuse with this status and these words, and change nothing."""
    before = snapshot(folder)
    done = call(*words, **more)
    assert done.returncode == status, said(done)
    assert not done.stdout, said(done)
    assert "panicked" not in done.stderr and "RUST_BACKTRACE" not in done.stderr, said(done)
    for word in says:
        assert word.lower() in done.stderr.lower(), f"{word!r} is not in: {said(done)}"
    assert len(done.stderr) < 20_000, "a report that can be read"
    assert snapshot(folder) == before, "nothing is written or changed"
    return done
