"""Two notes made one: the first then holds everything of the second. Texts worked by hand."""

from __future__ import annotations

import pytest

from kb.formats.note_merging import merge_texts

WHEN = "2027-02-14T12:00+00:00"
KEEP = (
    "---\ntitle: TTP\narea: haematology\nconcepts: [TTP]\nquestions: [north:1]\nbasis: text A\n"
    "written: 2027-01-10\n---\nNo platelets.\n"
)
OTHER = (
    "---\ntitle: Fragments\narea: nephrology\nconcepts: [haemolysis]\nquestions: [north:2]\n"
    "basis: text B\nwritten: 2027-01-11\n---\nLook at the film.\n"
)
MERGED = (
    "---\ntitle: TTP\narea: [haematology, nephrology]\nconcepts: [TTP, haemolysis]\n"
    "questions: [north:1, north:2]\nbasis: text A; text B\n"
    f"written: {WHEN}\n---\nNo platelets.\n\n## Fragments\n\nLook at the film.\n"
)


@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
def test_the_second_follows_the_first_under_its_title(line_end: str) -> None:
    """Questions, concepts, areas and bases are joined; line ends stay those of the first."""
    keep = KEEP.replace("\n", line_end)
    found = merge_texts(keep, "haematology/ttp.md", OTHER, "nephrology/f.md", WHEN)
    assert found == MERGED.replace("\n", line_end)


def test_a_text_that_is_there_already_is_not_said_twice() -> None:
    """Only the front matter changes."""
    other = OTHER.replace("Look at the film.", "No   platelets.")
    found = merge_texts(KEEP, "haematology/ttp.md", other, "nephrology/f.md", WHEN)
    assert found == MERGED.split("\n\n## Fragments", maxsplit=1)[0] + "\n"
