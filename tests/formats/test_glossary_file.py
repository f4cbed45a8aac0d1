"""glossary.yaml is read the same with and without the YAML reader."""

from __future__ import annotations

import pytest

from kb.formats import glossary_file
from kb.formats.glossary_file import parse_glossary


@pytest.mark.parametrize(
    ("text", "entries"),
    [
        ("", ()),
        ("# mine\n\nAKI: [acute kidney injury]\n", (("AKI", ("acute kidney injury",)),)),
        (
            "MS: [mitral stenosis, multiple sclerosis] \n",
            (("MS", ("mitral stenosis", "multiple sclerosis")),),
        ),
        ("AKI: acute kidney injury\n", (("AKI", ("acute kidney injury",)),)),
        ("'A&E': [emergency]\n", (("A&E", ("emergency",)),)),
        ("AKI: [a b, '']\nX: []\n", (("AKI", ("a b",)),)),
        ("AKI: [-]\n", ()),
        ("AKI: ['(/)', kidney]\n", (("AKI", ("kidney",)),)),
        ("AB: [_]\n_: [under]\nBP: [blood pressure]\n", (("BP", ("blood pressure",)),)),
        ("' BP ': [blood pressure]\n", (("BP", ("blood pressure",)),)),
    ],
)
def test_abbreviations_and_their_meanings(
    text: str, entries: tuple[tuple[str, tuple[str, ...]], ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A list or a single meaning; what holds no word is left out."""
    assert parse_glossary(text, "glossary.yaml") == (entries, ())
    monkeypatch.setattr(glossary_file, "_parse_plain", lambda _: None)
    assert parse_glossary(text, "glossary.yaml") == (entries, ())


def test_plain_lines_need_no_yaml_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor do empty ones and comments between them: every search reads the glossary."""
    monkeypatch.setattr("kb.formats.yaml_fields.compose", None)
    text = "# mine\n\nAKI: [acute kidney injury]\n"
    assert parse_glossary(text, "glossary.yaml") == ((("AKI", ("acute kidney injury",)),), ())


def test_an_abbreviation_twice_is_told() -> None:
    """The first counts; its plain lines are left to the reader that knows their places."""
    entries, problems = parse_glossary("AKI: [a]\nAKI: [b]\n", "glossary.yaml")
    assert entries == (("AKI", ("a",)),)
    assert [(p.code, p.place.line) for p in problems] == [("duplicate-key", 2)]
    entries, problems = parse_glossary("- a\n", "glossary.yaml")
    assert (entries, [p.code for p in problems]) == ((), ["not-a-mapping"])
