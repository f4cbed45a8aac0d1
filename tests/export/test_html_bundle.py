"""The carried file: whole in itself, harmless, and fit to find and to log with.

What its script does is tried in Node.js where there is one; the browser tests try it anywhere.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
import shutil
import subprocess
from html.parser import HTMLParser
from io import BytesIO
from typing import TYPE_CHECKING, Any

import pytest
from handouts import DAY, leaf
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from kb.core.ids import REASONS, ROUNDS, AreaId
from kb.core.wording import CAUTION
from kb.export.handout import Handout, Leaf
from kb.export.html_bundle import FOLDER, AnswerForm, _in_script, write_carry
from kb.export.html_bundle.word_index import folded, index
from kb.formats.answer_sheet.parser import parse_sheet
from kb.formats.answer_sheet.records import Known

if TYPE_CHECKING:
    from kb.formats.answer_sheet.records import Sheet

SOURCES = ("north", "paper-1", "westbook_2.1", "may", "sources")
AREAS = ("cardiology", "clinical-pharmacology", "medicine-of-old-age")
NODE = shutil.which("node")
needs_node = pytest.mark.skipif(NODE is None, reason="needs Node.js; the browser tests do not")


def form() -> AnswerForm:
    """A form with awkward names of sources."""
    return AnswerForm(
        letters=tuple("ABCDE"),
        base="b1",
        sources=tuple((name, name) for name in SOURCES),
        areas=tuple((name, name.title()) for name in AREAS),
    )


def carried(*leaves: Leaf, title: str = "All notes") -> str:
    """The text of a carried file."""
    handout = Handout(title=title, right="14 Feb 2027", day=DAY, leaves=leaves)
    return write_carry(handout, form()).decode()


class Elements(HTMLParser):
    """Every element with its attributes, and the text of scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[tuple[str, dict[str, str]]] = []
        self.inside: dict[str, list[str]] = {"script": [], "style": []}
        self.words = ""
        self._open = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep an element."""
        self.found.append((tag, {name: value or "" for name, value in attrs}))
        self._open = tag if tag in self.inside else ""

    def handle_endtag(self, tag: str) -> None:
        """Leave a script or style."""
        self._open = ""

    def handle_data(self, data: str) -> None:
        """Keep text."""
        if self._open:
            self.inside[self._open].append(data)
        else:
            self.words += data

    def all(self, tag: str) -> list[dict[str, str]]:
        """Attributes of every element of that name."""
        return [marks for name, marks in self.found if name == tag]


HOSTILE = """<script>alert(1)</script> <img src=x onerror=alert(1)> </script></style><!--

[a](javascript:alert(1)) ![b](https://example.org/b.png) [c](data:text/html,<script>1</script>)

| <b>x</b> | y |
| :-: | --: |
| 1 | 2 |
"""


def test_nothing_is_asked_of_a_network() -> None:
    """No element loads anything: pictures are in the file, and there is no other resource."""
    page = Elements(carried(leaf(HOSTILE, "</script><b>"), leaf("![x](x.png)", "Two")))
    assert not {"link", "iframe", "object", "embed", "base", "audio", "video"} & {
        tag for tag, _ in page.found
    }
    assert all(marks.get("src", "data:").startswith("data:") for _, marks in page.found)
    assert all("action" not in marks for marks in page.all("form"))


def test_only_its_own_script_and_style_may_run() -> None:
    """The policy names both by digest, and each is what it says; nothing else is let in."""
    page = Elements(carried(leaf()))
    (policy,) = [
        m["content"] for m in page.all("meta") if m.get("http-equiv") == "Content-Security-Policy"
    ]
    kinds = [marks.get("type", "") for marks in page.all("script")]
    scripts = [text for text, kind in zip(page.inside["script"], kinds, strict=True) if not kind]
    for name, (text,) in (("script", scripts), ("style", page.inside["style"])):
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{name}-src 'sha256-{digest}';" in policy
    assert policy.startswith("default-src 'none'; ")
    assert "form-action 'none'" in policy
    assert "unsafe" not in policy


def test_html_in_a_note_is_shown_as_text() -> None:
    """Raw HTML, scripts in links and titles do nothing."""
    plain = Elements(carried(leaf("A fact.", "One")))
    page = Elements(carried(leaf(HOSTILE, "</script><b>x</b>", evidence="<i>e</i>")))
    for tag in ("script", "style", "img", "b", "i"):
        assert len(page.all(tag)) == len(plain.all(tag))
    assert all(marks["href"].startswith("#") for marks in page.all("a") if "rel" not in marks)
    assert not [m for _, m in page.found if any(n == "style" or n.startswith("on") for n in m)]
    assert "<img src=x onerror=alert(1)>" in page.words


def test_marks_of_direction_are_shown_as_such() -> None:
    """A title cannot turn round the text beside it."""
    own = leaf("x \u2066y", "gout \u202egm 005")
    page = carried(own)
    assert not {"\u202e", "\u2066"} & {*page}
    assert "gout \\u202egm 005" in page


def test_the_caution_stands_at_the_top_and_at_the_bottom() -> None:
    """Whoever opens the file sees what it is not for."""
    text = carried(leaf())
    assert text.count(CAUTION) == 2
    assert text.index(CAUTION) < text.index("<h1>")
    assert text.rindex(CAUTION) > text.rindex("</article>")


def test_contents_lead_to_every_note_by_area() -> None:
    """Each area lists its notes, and each entry has its note; a note says what it rests on."""
    notes = [
        leaf(title="One"),
        leaf(title="Two", area=AreaId("neurology"), area_name="Neurology"),
        leaf(title="Three"),
    ]
    text = carried(*notes)
    page = Elements(text)
    ids = {marks["id"] for _, marks in page.found if "id" in marks}
    leads = [marks["href"][1:] for marks in page.all("a")]
    assert set(leads) <= ids
    assert [lead for lead in leads if re.match(r"n\d", lead)] == ["n1", "n2", "n3"]
    assert re.findall(r"<h3[^>]*>(One|Two|Three)", text) == ["One", "Three", "Two"]
    assert "failing: wrong 2 of the last 3" in page.words
    assert "north:101; basis: physiology text, 2024 edition" in page.words


def test_links_between_carried_notes_lead_to_them() -> None:
    """A note that was left at home is plain text."""
    page = Elements(carried(leaf("[a](two.md) [b](three.md)", "One"), leaf(title="Two")))
    assert [m["href"] for m in page.all("a")].count("#n2") == 2
    assert "three" not in " ".join(m["href"] for m in page.all("a"))


@pytest.mark.parametrize(
    ("body", "levels"),
    [("## a\n\n## b", "44"), ("# a\n\n### b\n\n# c", "454"), ("### a\n\n# b\n\n## c", "445")],
)
def test_headings_of_a_note_stand_under_its_title(body: str, levels: str) -> None:
    """No level is passed over, whatever levels the note uses."""
    tags = [tag for tag, _ in Elements(carried(leaf(body))).found]
    inside = tags[tags.index("article") :]
    assert "".join(tag[1] for tag in inside if re.fullmatch(r"h[4-6]", tag)) == levels


def test_an_empty_cell_heads_nothing() -> None:
    """A screen reader is not told of a heading without words."""
    page = Elements(carried(leaf("| | a |\n| --- | --: |\n| b | 1 |\n")))
    assert [len(page.all("th")), len(page.all("td"))] == [1, 3]
    assert page.all("th")[0]["class"] == "right"


def test_a_picture_goes_along_without_what_a_camera_adds() -> None:
    """The picture is in the file, smaller where it was large, and its place of taking is not."""
    photograph, exif = BytesIO(), Image.Exif()
    exif[0x010F] = "Camera of a ward"
    Image.new("RGB", (3000, 1500), "grey").save(photograph, "JPEG", exif=exif)
    shown = leaf("![p](p.jpg)", pictures={"nephrology/p.jpg": photograph.getvalue()})
    (picture,) = Elements(carried(shown)).all("img")
    raw = base64.b64decode(picture["src"].partition(",")[2])
    assert b"Camera" not in raw
    assert Image.open(BytesIO(raw)).size == (1000, 500)
    assert picture["alt"] == "p"


def test_the_same_notes_give_the_same_bytes() -> None:
    """A file can be compared with an earlier one."""
    assert carried(leaf(HOSTILE)) == carried(leaf(HOSTILE))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("oedema", "edema"),
        ("haemolysed", "hemolyzed"),
        ("tumour", "tumor"),
        ("litres", "liters"),
        ("sulphonylurea", "sulfonylurea"),
        ("leucocyte", "leukocyte"),
        ("labelled", "labeled"),
        ("diarrhoea", "diarrhea"),
    ],
)
def test_british_and_american_spellings_fold_alike(one: str, other: str) -> None:
    """Both sides of the ocean find each other."""
    assert folded(one) == folded(other)


def test_nothing_in_the_index_can_end_its_element() -> None:
    """Whatever a word or an abbreviation holds, no tag comes of it."""
    assert _in_script({"words": "</script><b>"}) == '{"words":"\\u003c/script>\\u003cb>"}'


def run_node(script: str, given: object) -> Any:
    """What a script of the carried file answers to `given`."""
    assert NODE is not None
    program = f"const given = JSON.parse(require('fs').readFileSync(0, 'utf8'));{script}"
    done = subprocess.run(
        [NODE, "-e", program],
        input=json.dumps(given).encode(),
        capture_output=True,
        check=True,
        cwd=FOLDER,
        timeout=60,
    )
    return json.loads(done.stdout)


NOTES = (
    leaf("Sodium is low, urine is strong. Œdème, Ménière's.", "SIADH: exclude first"),
    leaf("Pulmonary oedema after an infarct. Give furosemide.", "Wet lungs"),
    leaf("Vertebrae and their diagnoses; β-blockers; myocardial infarction.", "Bones"),
    leaf("Mild cough. A tumour of the lung.", "Cough"),
)


QUERIES = (
    ("edema", [1]),
    ("OEDÈMA", [1]),
    ("oede", [1, 0]),
    ("oedem", [1, 0]),
    ("sodium siadh", [0]),
    ("siadh cough", [3, 0]),
    ("tumour lung", [3, 1]),
    ("a man with a tumour and a cough whose cousin keeps pigeons, which test", [3]),
    ("sodum", [0]),
    ("fever", []),
    ("atenolol", [2]),
    ("frusemide", [1]),
    ("vertebra", [2]),
    ("diagnosis", [2]),
    ("tumor", [3]),
    ("tumors", [3]),
    ("beta blocker", [2]),
    ("β", [2]),
    ("meniere", [0]),
    ("oedeme", [0]),
    ("MI", [2]),
    ("lung", [1, 3]),
    ("the lung", [1, 3]),
    ("lung zzzzzz", [1, 3]),
    ("zzzzzz", []),
    ("north:101", [3, 2, 1, 0]),
    ("", []),
    ("'\"<>\\[](){}*+?.^$|", []),
    ("__proto__ constructor", []),
)


@pytest.fixture(scope="module")
def answers() -> list[list[int]]:
    """What is found for each of the queries, asked in one go: starting Node.js takes long."""
    script = """
        const {makeFinder} = require('./find.js');
        const finder = makeFinder(given.index, given.titles.length);
        console.log(JSON.stringify(given.queries.map(
            query => finder.find(query, given.titles).order)));
    """
    titles = [note.title for note in NOTES]
    queries = [query for query, _ in QUERIES]
    found: list[list[int]] = run_node(
        script, {"index": index(NOTES, ()), "titles": titles, "queries": queries}
    )
    return found


@needs_node
@pytest.mark.parametrize("number", range(len(QUERIES)), ids=[query for query, _ in QUERIES])
def test_words_are_found_however_they_are_spelt(answers: list[list[int]], number: int) -> None:
    """Accents, spelling, plurals, drug names, abbreviations and beginnings of words."""
    assert answers[number] == QUERIES[number][1]


@needs_node
def test_what_was_looked_for_is_marked_in_any_spelling() -> None:
    """The words of the note are marked, not those typed; the text stays whole."""
    script = """
        const {makeFinder} = require('./find.js');
        const finder = makeFinder(given.index, given.titles.length);
        const {shown} = finder.find(given.query, given.titles);
        console.log(JSON.stringify(finder.marked(given.text, shown)));
    """
    titles = [note.title for note in NOTES]
    given = {"index": index(NOTES, ()), "titles": titles, "query": "edema frusemide"}
    text = "Pulmonary oedema: furosemide."
    pieces = run_node(script, {**given, "text": text})
    assert [piece for piece, marked in pieces if marked] == ["oedema", "furosemide"]
    assert "".join(piece for piece, _ in pieces) == text


def taken(text: str) -> Sheet:
    """A sheet as `log sheet` reads it."""
    areas = {name: AreaId(name) for name in AREAS}
    known = Known(areas=areas, sources=SOURCES, day=DAY, today=DAY)
    return parse_sheet(text, "sheet.txt", known)


ENTRIES = st.lists(
    st.fixed_dictionaries(
        {
            "day": st.sampled_from(["2027-02-14", "2027-02-01", "2026-12-31"]),
            "source": st.sampled_from(SOURCES),
            "area": st.sampled_from(["", *AREAS]),
            "round": st.sampled_from(["", *ROUNDS]),
            "first": st.integers(0, 999_999_999),
            "length": st.sampled_from([1, 1, 1, 2, 10]),
            "outcome": st.sampled_from(["right", "wrong", "blank"]),
            "options": st.sampled_from(["", "AB", "ED", "JA"]),
            "certainty": st.sampled_from(["", "1", "2", "3"]),
            "reason": st.sampled_from(["", *REASONS]),
            "remark": st.one_of(
                st.text(max_size=30),
                st.sampled_from(["x", "ok", "1043 x", "// a", "C>B", "a, 1044 x, b", "- dash"]),
            ),
        }
    ),
    max_size=12,
)


def as_typed(row: dict[str, Any]) -> dict[str, Any]:
    """An entry as the form makes it."""
    wrong = row["outcome"] == "wrong" and row["options"]
    last = min(row["first"] + row["length"] - 1, 999_999_999)
    return {
        **{name: row[name] for name in ("day", "source", "area", "round", "first", "outcome")},
        "last": last,
        "chosen": row["options"][0] if wrong else "",
        "key": row["options"][1] if wrong else "",
        "certainty": row["certainty"] if row["outcome"] != "blank" else "",
        "reason": row["reason"] if row["outcome"] == "wrong" else "",
        "remark": row["remark"],
    }


def sheets_of(batch: list[list[dict[str, Any]]]) -> Any:
    """For each list of entries, typed one after the other: what was kept, and its sheet."""
    script = """
        const {withEntry, sheetText} = require('./sheet.js');
        console.log(JSON.stringify(given.map(rows => {
            let entries = [];
            for (const row of rows) entries = withEntry(entries, row).entries || entries;
            return {entries, text: sheetText(entries)};
        })));
    """
    return run_node(script, batch)


@needs_node
def test_every_sheet_is_taken_in_whole() -> None:
    """Whatever is typed into the form, log sheet takes each answer and leaves no line."""
    batch: list[list[dict[str, Any]]] = []

    @given(ENTRIES)
    def collect(rows: list[dict[str, Any]]) -> None:
        batch.append([as_typed(row) for row in rows])

    collect()
    made = sheets_of(batch)
    assert len(made) > 50
    for one in made:
        sheet = taken(one["text"])
        assert sheet.left == (), one["text"]
        singles = {}
        for entry in sorted(one["entries"], key=lambda e: e["first"] - e["last"]):
            for item in range(entry["first"], entry["last"] + 1):
                place = tuple(entry[part] for part in ("day", "source", "area", "round"))
                singles[*place, item] = entry
        got = {
            (
                answer.heading.day.isoformat() if answer.heading.day else "",
                answer.heading.source,
                answer.heading.area,
                answer.heading.round,
                int(answer.question.partition(":")[2]),
            ): answer
            for answer in sheet.answers
        }
        assert set(got) == set(singles), one["text"]
        for place, entry in singles.items():
            answer = got[place]
            assert answer.outcome == entry["outcome"]
            assert (answer.chosen, answer.key) == (entry["chosen"], entry["key"])
            assert answer.certainty == (int(entry["certainty"]) if entry["certainty"] else None)
            assert answer.reason == entry["reason"]


TYPED: tuple[tuple[str, dict[str, int] | None], ...] = (
    ("1041", {"first": 1041, "last": 1041}),
    (" 1050-1059 ", {"first": 1050, "last": 1059}),
    ("1050–59", {"first": 1050, "last": 1059}),
    ("1059-1050", None),
    ("1-1000", None),
    ("12345678901", None),
    ("A7", None),
    ("", None),
)


@needs_node
def test_a_number_or_a_range_is_read_as_log_sheet_reads_it() -> None:
    """The form takes what the sheet would take, and says why it takes nothing else."""
    script = "console.log(JSON.stringify(given.map(require('./sheet.js').readItem)))"
    found = run_node(script, [typed for typed, _ in TYPED])
    for (typed, wanted), read in zip(TYPED, found, strict=True):
        if wanted is None:
            assert read["wrong"].endswith(".")
            continue
        assert read == wanted
        sheet = taken(f"2027-02-14 north\n{typed}")
        items = [int(answer.question.partition(":")[2]) for answer in sheet.answers]
        assert items == list(range(wanted["first"], wanted["last"] + 1))


def test_the_form_s_lines_are_lines_of_a_sheet() -> None:
    """The forms that its script writes, taken in without Node.js."""
    sheet = taken(
        "2027-02-14 source north cardiology second\n"
        "1041\n1042 x C>B c1 two-left // a, 1043 x, b\n1044 blank\n1050-1059 c1\n"
        "\n2027-02-01 source may\n7 x // - a dash\n"
    )
    assert sheet.left == ()
    assert len(sheet.answers) == 14
    assert sheet.answers[1].remark == "a, 1043 x, b"
    assert sheet.answers[1].certainty == 1
    assert sheet.answers[-1].heading.source == "may"
    assert sheet.answers[-1].heading.area == ""


@needs_node
def test_a_name_of_which_notes_have_only_the_words_is_not_there() -> None:
    """A basal cell carcinoma is looked for as one thing, as in the search of the base."""
    notes = (leaf("A basal cell.", "Cells"), leaf("Carcinoma of the lung.", "Lung"))
    script = """
        const {makeFinder} = require('./find.js');
        const finder = makeFinder(given.index, given.titles.length);
        const {answered, missing} = finder.find(given.query, given.titles);
        console.log(JSON.stringify([answered, missing]));
    """
    titles = [note.title for note in notes]
    given = {"index": index(notes, ()), "titles": titles, "query": "Basal cell carcinoma"}
    assert run_node(script, given) == [False, ["Basal cell carcinoma"]]


CARRIED_QUERIES = (
    ("Na 118", [0]),
    ("furosemide", [1]),
    ("toxoplasmosis", [2]),
    ("IRIS", [2]),
    ("septic arthritis", []),
    ("Wegener's", [4]),
    ("GPA", [4]),
    ("MS", []),
    ("SLE", [5, 6]),
    ("RVOs", [7]),
    ("retinal vein occlusion", [7]),
    ("dicing", []),
    ("hyponatremia or toxoplasma", [0, 2]),
    ("uveitis pills", []),
)


@needs_node
def test_the_tables_of_the_search_serve_the_carried_file() -> None:
    """Values, classes of drugs, adjectives, abbreviations and names mean there what they mean in
    the base.
    """
    notes = (
        leaf("Low sodium is hyponatraemia.", "Water"),
        leaf("Stop the diuretic.", "Dry"),
        leaf("Toxoplasma: treat, then immune reconstitution.", "Rings"),
        leaf("An old septic person, otherwise quite well, has arthritis too.", "Joints"),
        leaf("Granulomatosis with polyangiitis.", "Nose"),
        leaf("Fever.", "Lupus"),
        leaf("Lupus anticoagulant: a clot is what comes of it, and then another.", "Clots"),
        leaf("A vein of the eye was blocked: retinal vein occlusion.", "Eye"),
    )
    script = """
        const {makeFinder} = require('./find.js');
        const finder = makeFinder(given.index, given.titles.length);
        console.log(JSON.stringify(given.queries.map(query => {
            const {order, answered} = finder.find(query, given.titles);
            return answered ? order : [];
        })));
    """
    queries = [query for query, _ in CARRIED_QUERIES]
    titles = [note.title for note in notes]
    given = {"index": index(notes, ()), "titles": titles, "queries": queries}
    assert run_node(script, given) == [found for _, found in CARRIED_QUERIES]
