"""Missing, extra and damaged files: start-up is refused with the cause, every time, and never with a wrong answer."""

import os
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from service.errors import BrokenDataset
from service.reference import files, loader
from tests.reference.copies import NEWEST, NEXT, Copy


def test_the_copy_itself_is_sound(copy: Copy, released: Copy) -> None:
    assert copy.load().newest.sha256 == released.load().newest.sha256


# Files: missing, extra, and things that are no files.


def test_no_folder_at_all(copy: Copy, tmp_path: Path) -> None:
    copy.at(tmp_path / "nowhere").refused("nowhere", "no such file")


def test_the_folder_is_a_file(copy: Copy, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    copy.at(tmp_path / "file").refused("file", "not a directory")


def test_the_folder_is_a_symbolic_link(tmp_path: Path, copy: Copy) -> None:
    (tmp_path / "link").symlink_to(copy.folder)
    with pytest.raises(BrokenDataset, match="symbolic link"):
        copy.at(tmp_path / "link").load()


@pytest.mark.parametrize(
    "file", ["sources.json", "releases.json", f"{NEWEST}/manifest.json", f"{NEWEST}/threads.csv", "2026.11/oils.csv"]
)
def test_a_file_is_missing(copy: Copy, file: str) -> None:
    (copy.folder / file).unlink()
    copy.refused(file, "no such file")


def test_a_version_is_missing(copy: Copy) -> None:
    shutil.rmtree(copy.folder / "2026.11")
    copy.refused("2026.11", "no such file")


@pytest.mark.parametrize(
    "file", ["notes.txt", f"{NEWEST}/notes.txt", f"{NEWEST}/threads.csv~", NEXT, ".hidden", f"{NEWEST}/.swp"]
)
def test_an_extra_file(copy: Copy, file: str) -> None:
    (copy.folder / file).write_text("x")
    copy.refused(file, "an extra file")


def test_a_table_that_the_manifest_lists_but_the_schema_does_not(newest_alone: Copy) -> None:
    (newest_alone.folder / NEWEST / "cars.csv").write_text(",".join(loader.FACT_COLUMNS) + "\n")
    newest_alone.sum_anew()
    newest_alone.refused("manifest.json", "cars.csv", "tables of the schema")


def test_the_newest_version_lacks_a_table(copy: Copy) -> None:
    (copy.folder / NEWEST / "gauges.csv").unlink()
    copy.sum_anew()
    copy.refused(f"{NEWEST}/gauges.csv", "no such file")


@pytest.mark.parametrize("file", [f"{NEWEST}/threads.csv", "sources.json", f"{NEWEST}/manifest.json", "releases.json"])
def test_a_file_is_a_symbolic_link(copy: Copy, tmp_path: Path, file: str) -> None:
    """Even to the very same bytes: what it points to may change."""
    shutil.move(copy.folder / file, tmp_path / "elsewhere")
    (copy.folder / file).symlink_to(tmp_path / "elsewhere")
    copy.refused(file, "symbolic link")


def test_a_version_is_a_symbolic_link(copy: Copy, tmp_path: Path) -> None:
    shutil.move(copy.folder / NEWEST, tmp_path / "elsewhere")
    (copy.folder / NEWEST).symlink_to(tmp_path / "elsewhere")
    copy.refused(NEWEST, "symbolic link")


def test_a_file_is_a_pipe_that_would_never_end(copy: Copy) -> None:
    (copy.folder / NEWEST / "oils.csv").unlink()
    os.mkfifo(copy.folder / NEWEST / "oils.csv")
    copy.refused(f"{NEWEST}/oils.csv", "not a regular file")


def test_a_file_is_a_folder(copy: Copy) -> None:
    (copy.folder / NEWEST / "oils.csv").unlink()
    (copy.folder / NEWEST / "oils.csv").mkdir()
    copy.refused(f"{NEWEST}/oils.csv", "not a regular file")


def test_a_file_is_far_too_large(copy: Copy) -> None:
    with (copy.folder / NEWEST / "oils.csv").open("ab") as file:
        file.truncate(files.LARGEST_FILE + 1)
    copy.refused(f"{NEWEST}/oils.csv", "bytes")


# Bytes: what only the sums can see, and what the reader sees without them.


@pytest.mark.parametrize("seed", range(30))
def test_a_flipped_bit_anywhere(copy: Copy, seed: int, released: Copy) -> None:
    """Ten bits in ten files, one at a time: 300 flips, each of them found."""
    chance = random.Random(seed)  # noqa: S311 - faults, not secrets
    paths = sorted(path for path in copy.folder.rglob("*") if path.is_file())
    found = 0
    for path in chance.sample(paths, 10):
        sound = path.read_bytes()
        broken = bytearray(sound)
        place = chance.randrange(len(broken))
        broken[place] ^= 1 << chance.randrange(8)
        path.write_bytes(broken)
        try:
            library = copy.load()
        except BrokenDataset:
            found += 1
        else:
            # Only what no version cites can change without a sum: then every fact is still the same.
            assert path.name == "sources.json"
            assert [held.sha256 for held in library.held.values()] == [held.sha256 for held in released.load().held.values()]
        path.write_bytes(sound)
    assert found >= 9


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 0.999])
def test_a_truncated_file(copy: Copy, share: float) -> None:
    path = copy.folder / NEWEST / "threads.csv"
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * share)])
    copy.refused(f"{NEWEST}/threads.csv", "sum")


@pytest.mark.parametrize("file", ["sources.json", "releases.json", f"{NEWEST}/manifest.json"])
def test_a_truncated_document(copy: Copy, file: str) -> None:
    path = copy.folder / file
    path.write_bytes(path.read_bytes()[:-40])
    copy.refused(file)


def test_a_truncated_table_with_fitting_sums(copy: Copy) -> None:
    path = copy.folder / NEWEST / "threads.csv"
    path.write_bytes(path.read_bytes()[:-25])
    with pytest.raises(BrokenDataset, match=r"threads\.csv"):
        copy.sum_anew()


BYTES: dict[str, tuple[Callable[[bytes], bytes], str]] = {
    "byte-order mark": (lambda content: b"\xef\xbb\xbf" + content, "U+FEFF"),
    "CRLF line ends": (lambda content: content.replace(b"\n", b"\r\n"), "U+000D"),
    "one lonely CR": (lambda content: content.replace(b"M5x0.8,form", b"M5x0.8\r,form"), "U+000D"),
    "a NUL": (lambda content: content.replace(b"iso-metric", b"iso\0metric", 1), "U+0000"),
    "a tab": (lambda content: content.replace(b"cover screws", b"cover\tscrews"), "U+0009"),
    "UTF-16": (lambda content: content.decode().encode("utf-16"), "UTF-8"),
    "Latin-1": (lambda content: content.replace(b"cover screws", b"caf\xe9"), "UTF-8"),
    "an overlong slash": (lambda content: content.replace(b"1/4-20 UNC", b"1\xc0\xaf4-20 UNC"), "UTF-8"),
    "a surrogate": (lambda content: content.replace(b"cover screws", b"\xed\xa0\x80"), "UTF-8"),
    "a line separator": (lambda content: content.replace(b"cover screws", "cover\u2028screws".encode()), "U+2028"),
    "no newline at the end": (lambda content: content[:-1], "newline at the end"),
}


@pytest.mark.parametrize("name", BYTES)
def test_bytes_that_are_no_plain_text(copy: Copy, name: str) -> None:
    change, word = BYTES[name]
    path = copy.folder / NEWEST / "threads.csv"
    path.write_bytes(change(path.read_bytes()))
    copy.refused(f"{NEWEST}/threads.csv", "sum")
    with pytest.raises(BrokenDataset, match=r"threads\.csv") as fault:
        copy.sum_anew()
    assert word in str(fault.value)
