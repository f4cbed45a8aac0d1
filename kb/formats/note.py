"""A note file as text -> `Note`; and the text of a new note."""

import re
from dataclasses import replace
from datetime import datetime
from pathlib import PurePosixPath

from kb.core.errors import Place, Problem
from kb.core.ids import AreaId, NoteId, QuestionId, parse_question
from kb.core.model import Note
from kb.formats import frontmatter
from kb.formats.markdown import structure
from kb.formats.outline import Split
from kb.formats.yaml_fields import Fields
from kb.language.patient_identifiers import find_identifiers

FIGURE = r"\d[\d.,]{0,20}\s?"
"""Not without end: a note of digits alone would be searched from every one of them to the last."""
DOSE = re.compile(
    rf"\b{FIGURE}(?:mg|mcg|µg|μg|micrograms?|milligrams?|units?|g|mL|ml|mmol)"
    r"(?:/kg|/day|/h|\s?(?:once|twice|three times|four times|daily|bd|tds|qds|od|iv|im|po)\b)"
    rf"|\b{FIGURE}(?:mg|mcg|µg|μg|micrograms?|milligrams?)\b(?!\s?/\s?(?:d?l|mL|mmol|100))",
    re.I,
)
AMOUNT = rf"{FIGURE}(?:(?:international )?units?|i\.?u\.?|mmol|ml|g|grams?)\b"
ANY_AMOUNT = re.compile(AMOUNT, re.I)
DRUG_DOSE = re.compile(
    r"\b(?!\w*(?:globin|albumin|ferritin|bilirubin|troponin|protein|prolactin|amylase|lipase|"
    r"urine|creatinine|kinase|ferase|genase|ptide)\b)"
    r"(?:\w{3,}(?:in|ine|ol|one|ate|ide|arin|ase|mab|nib|azole|pril|tan|statin)|calcium|potassium|"
    r"magnesium|saline|glucose|dextrose|iron) (?:[a-z]+ ){0,3}"
    rf"{AMOUNT}(?!\s?(?:/|per\b|in 24|a day|daily|of urine))",
    re.I,
)
"""A drug and a quantity of it; not a concentration or an output (mmol/L, ml/h)."""
OWN_KEYS = re.compile(r"^(?:questions|written|checked):.*(?:\n[ \t]*-.*)*", re.M)
"""Lines of the front matter whose numbers and days cannot be a patient's."""
LETTERED_OPTION = re.compile(r"^\s{0,3}(?:[-*]\s+)?\(?[A-E][.):]\s+\S", re.M)
LONG_PARAGRAPH_WORDS = 150
QUESTION_HINT = "write source:number, such as north:1041"
TABLE_LINE = re.compile(r"^ {0,3}\|.*\|[ \t]*$", re.M)
TABLE_RULE = re.compile(r"^ {0,3}\|[ \t:|-]*-[ \t:|-]*\|[ \t]*$", re.M)


def _table_rows(body: str) -> int:
    """Rows of all tables, without the head and the rule below it that each begins with."""
    lines, rules = len(TABLE_LINE.findall(body)), len(TABLE_RULE.findall(body))
    return max(0, lines - 2 * rules) if rules else 0


def parse_note(
    text: str, path: str, modified: datetime | None = None
) -> tuple[Note, str, tuple[Problem, ...]]:
    """Read one note: it, its body, and what is wrong.

    `path` is that in the base, with forward slashes. When the file last changed, an aware moment,
    stands in for a missing `written`. A note whose front matter cannot be read is still found by
    its text.
    """
    fields, parts, problems = frontmatter.parse(text, path)
    found = list(problems)
    headings, links = structure(parts.body, path, parts.body_line)
    stem = PurePosixPath(path).stem
    title = stem.replace("-", " ").replace("_", " ")
    title = next((heading.text for heading in headings if heading.level == 1), title)
    written_on, written_at = (modified.date() if modified else None), modified
    note = Note(
        id=NoteId(stem),
        path=path,
        title=title.strip() or stem,
        headings=headings,
        links=links,
        word_count=len(parts.body.split()),
        table_row_count=_table_rows(parts.body),
        written_on=written_on,
        written_at=written_at,
    )
    if fields is not None:
        first_new = len(fields.problems)
        note = _with_front(note, fields)
        found.extend(fields.problems[first_new:])
    found.extend(_body_problems(note, parts))
    return note, parts.body, tuple(found)


def _with_front(note: Note, fields: Fields) -> Note:
    areas = fields.texts("areas") or fields.texts("area")
    written_on, written_at = fields.moment("written")
    dated = written_on is not None
    if not dated:
        written_on, written_at = note.written_on, note.written_at
    return replace(
        note,
        id=NoteId(fields.text("id", note.id)),
        title=fields.text("title", note.title) or note.title,
        areas=tuple(AreaId(area.casefold()) for area in areas),
        concepts=tuple(dict.fromkeys(filter(None, fields.texts("concepts")))),
        questions=_questions(fields),
        basis=fields.text("basis"),
        checked=fields.day("checked"),
        written_on=written_on,
        written_at=written_at,
        dated=dated,
    )


def _questions(fields: Fields) -> tuple[QuestionId, ...]:
    found: list[QuestionId] = []
    for text in fields.texts("questions"):
        question = parse_question(text)
        if question is None:
            message, hint = f"'{text}' is not a question reference", QUESTION_HINT
            fields.report("questions", "bad-question", message, hint)
        else:
            found.append(question)
    return tuple(dict.fromkeys(found))


def _body_problems(note: Note, parts: Split) -> list[Problem]:
    found: list[Problem] = []

    def report(line: int, code: str, message: str, hint: str) -> None:
        found.append(Problem(Place(note.path, line), code, message, hint, "caution"))

    front = OWN_KEYS.sub(lambda own: "\n" * own[0].count("\n"), parts.head or "")
    name = re.sub(r"[/-]", " ", note.path.removesuffix(".md"))
    first, looks = parts.body_line, "this looks like"
    named = [(first + n - 1, f"{looks} {what}") for n, what in find_identifiers(parts.body)]
    named += [(n + 1, f"{looks} {what}") for n, what in find_identifiers(front)]
    named += [(0, f"the file's name seems to contain {what}") for _, what in find_identifiers(name)]
    for line, message in named:
        hint = "take it out: a note never needs to say who a patient was"
        report(line, "patient-identifier", message, hint)
    dose = DOSE.search(parts.body)
    if dose is None and ANY_AMOUNT.search(parts.body):  # the slower search is seldom needed
        dose = DRUG_DOSE.search(parts.body)
    if dose and not note.basis:
        hint = "add 'basis:' with the source in which the dose was checked, or take the dose out"
        line = first + parts.body.count("\n", 0, dose.start())
        report(line, "dose-without-basis", "a dose with no basis", hint)
    if _looks_copied(parts.body):
        hint = "keep the reference and write the point in your own words"
        report(first, "looks-copied", "this reads like a passage of a bank", hint)
    return found


def _looks_copied(body: str) -> bool:
    """A run of lettered options, or one paragraph longer than anybody writes after a miss.

    Common practice, no source: a note after a miss has 2 to 8 lines.
    """
    if len(LETTERED_OPTION.findall(body)) >= 4:
        return True
    return any(len(part.split()) > LONG_PARAGRAPH_WORDS for part in re.split(r"\n\s*\n", body))


def slug(title: str) -> str:
    """A file name for a title: lower-case ASCII words joined by hyphens, at most 60 characters."""
    import textwrap
    import unicodedata

    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    words = re.findall(r"[a-z0-9]+", plain.casefold())
    kept = textwrap.shorten(" ".join(words), 60, placeholder="").replace(" ", "-")
    return storable(kept or "note")


def storable(name: str) -> str:
    """The name, or another that every disk takes: Windows keeps some, whatever follows a dot."""
    if name.casefold().partition(".")[0] in RESERVED_NAMES:
        return f"{name.partition('.')[0]}-note"
    return name


RESERVED_NAMES = frozenset(
    ["con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))]
)
"""File names that Windows keeps for devices."""


def format_note(note: Note, body: str) -> str:
    """The text of a new note; keys without a value are left out."""
    areas: tuple[str, ...] = note.areas
    written = note.written_at.isoformat(timespec="minutes") if note.written_at else ""
    if not written and note.written_on:
        written = note.written_on.isoformat()
    front = frontmatter.format_front(
        (
            ("title", note.title),
            ("area", areas[0]) if len(areas) == 1 else ("areas", areas),
            ("concepts", note.concepts),
            ("questions", note.questions),
            ("basis", note.basis),
            ("written", written),
        )
    )
    return front + body.strip("\r\n") + "\n"
