"""Medical English: what must find each other, and what must not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.language.data import rows
from kb.language.normalise import american, key, keys, singular, words

# Debian's word lists wbritish-huge and wamerican-huge hold both forms of these (check of
# 2026); the package's own table holds the rest.
SPELLINGS = (
    ("oedema", "edema"),
    ("haematemesis", "hematemesis"),
    ("anaemia", "anemia"),
    ("oesophagus", "esophagus"),
    ("diarrhoea", "diarrhea"),
    ("foetus", "fetus"),
    ("leucocyte", "leukocyte"),
    ("tumour", "tumor"),
    ("hospitalised", "hospitalized"),
    ("dialyse", "dialyze"),
    ("fibre", "fiber"),
    ("sulphonylurea", "sulfonylurea"),
    ("labelled", "labeled"),
    ("paraesthesiae", "paresthesias"),
    ("orthopaedic", "orthopedic"),
    ("caecum", "cecum"),
)
# From memory: the British form is in none of those lists.
RECALLED_SPELLINGS = (
    ("haemarthrosis", "hemarthrosis"),
    ("hyperuricaemia", "hyperuricemia"),
    ("hypocalcaemia", "hypocalcemia"),
    ("phaeochromocytoma", "pheochromocytoma"),
    ("oesophagoscopy", "esophagoscopy"),
    ("revascularisation", "revascularization"),
    ("gonadotrophin", "gonadotropin"),
    ("leucoencephalopathy", "leukoencephalopathy"),
    ("fibreoptic", "fiberoptic"),
)
# Found by running naive rules over Debian's hunspell-en-med.
MUST_STAY = (
    *("aerobic", "aerosol", "coenzyme", "does", "foam", "neuroepithelial", "gastroenteritis"),
    *("encephaloenteritis", "polytetrafluoroethylene", "vertebrae", "larvae", "analyses"),
    *("practice", "program", "license", "haemophilus", "entamoeba", "taenia", "fetus"),
    *("sulfasalazine", "estradiol", "cefalexin", "exercise", "disease", "precise", "hour", "four"),
)
# British Approved Names changed to recommended international names (Directive 92/27/EEC, in
# force in the United Kingdom 2003/04); names of the United States beside international ones.
DRUGS = (
    ("frusemide", "furosemide"),
    ("bendrofluazide", "bendroflumethiazide"),
    ("lignocaine", "lidocaine"),
    ("amoxycillin", "amoxicillin"),
    ("cyclosporin", "ciclosporin"),
    ("thyroxine", "levothyroxine"),
    ("benzhexol", "trihexyphenidyl"),
    ("cysteamine", "mercaptamine"),
    ("acetaminophen", "paracetamol"),
    ("albuterol", "salbutamol"),
    ("meperidine", "pethidine"),
    ("rifampin", "rifampicin"),
    ("norethindrone", "norethisterone"),
    ("deferoxamine", "desferrioxamine"),
)


@pytest.mark.parametrize(("british", "american_form"), SPELLINGS + RECALLED_SPELLINGS)
def test_british_and_american_spelling_find_each_other(british: str, american_form: str) -> None:
    """Both spellings of a word have one key, whichever was typed and whichever was written."""
    assert key(british) == key(american_form)


@pytest.mark.parametrize("table", ["spelling", "plurals"])
def test_every_pair_of_a_table_finds_its_other_half(table: str) -> None:
    """No row of a word table is lost to a rule or to the stemmer."""
    assert [row for row in rows(table) if key(row[0]) != key(row[1])] == []


@pytest.mark.parametrize("word", MUST_STAY)
def test_words_that_only_look_british_stay_as_they_are(word: str) -> None:
    """The spelling rules touch no word that both sides spell alike, and no genus."""
    assert american(word) == word


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("does", "dose"),
        ("aerobic", "erotic"),
        ("ilium", "ileum"),
        ("haem", "hem"),
        ("perineal", "peroneal"),
        ("doses", "dosis"),
        ("hyperkalaemia", "hypokalaemia"),
        ("chlorpropamide", "chlorpromazine"),
        ("azathioprine", "azithromycin"),
        ("MEN", "MI"),
    ],
)
def test_words_that_differ_stay_apart(one: str, other: str) -> None:
    """Folding never joins two words of different meaning."""
    assert key(one) != key(other)


@pytest.mark.parametrize(("old", "new"), DRUGS)
def test_old_and_new_drug_names_find_each_other(old: str, new: str) -> None:
    """A name changed by regulation, or used on the other side of the sea, has the same key."""
    assert key(old) == key(new)


def test_every_single_word_of_the_drug_table_finds_its_recommended_name() -> None:
    """No drug name of the table is lost to a rule or to the stemmer."""
    single = [row for row in rows("drugs") if not {" ", "-"} & {*row[0], *row[1]}]
    assert len(single) > 100
    assert [row for row in single if key(row[0]) != key(row[1])] == []


def test_adrenaline_and_noradrenaline_are_never_called_outdated() -> None:
    """Both names of the two dual-labelled drugs find each other, and neither counts as old.

    Source: Pharmaceutical Journal 271:4 (2003): two British names remain in use.
    """
    assert key("adrenaline") == key("epinephrine") != key("noradrenaline")
    assert key("noradrenaline") == key("norepinephrine")
    kinds = {row[0]: row[2] for row in rows("drugs")}
    assert kinds["epinephrine"] == kinds["norepinephrine"] == "dual"
    assert "adrenaline" not in kinds
    assert "noradrenaline" not in kinds


def test_no_old_name_has_two_new_ones() -> None:
    """A drug name leads to one recommended name only."""
    names = [row[0] for row in rows("drugs")]
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("plural", "one"),
    [
        ("diagnoses", "diagnosis"),
        ("bacteria", "bacterium"),
        ("vertebrae", "vertebra"),
        ("metastases", "metastasis"),
        ("staphylococci", "staphylococcus"),
        ("carcinomata", "carcinoma"),
        ("arthritides", "arthritis"),
        ("indices", "index"),
        ("phalanges", "phalanx"),
        ("foramina", "foramen"),
        ("criteria", "criterion"),
        ("thrombi", "thrombus"),
        ("cervices", "cervix"),
        ("acidoses", "acidosis"),
        ("biopsies", "biopsy"),
        ("infarcts", "infarct"),
    ],
)
def test_plurals_of_latin_and_greek_find_their_singular(plural: str, one: str) -> None:
    """Irregular plurals and the regular ones have the key of their singular."""
    assert key(plural) == key(one)


@pytest.mark.parametrize("word", ["doses", "purposes", "glucoses", "series", "species", "aedes"])
def test_endings_that_only_look_greek_are_left_alone(word: str) -> None:
    """A plural rule needs more than a likely ending."""
    assert singular(word) == word


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("β-blocker", "beta blocker"),
        ("β blockers", "beta-blocker"),
        ("α1-antitrypsin", "alpha-1 antitrypsin"),
        ("Sjögren's syndrome", "Sjogren syndrome"),
        ("Ménière’s disease", "Meniere disease"),
        ("Na⁺", "Na+"),
        ("CO₂", "CO2"),
        ("T₄", "T4"),
        ("non-invasive", "non invasive"),
        ("Crohn's", "crohn"),
    ],
)
def test_hyphens_greek_letters_and_accents_make_no_difference(one: str, other: str) -> None:
    """The same thing written with other signs has the same keys."""
    joined = "".join(keys(one)), "".join(keys(other))
    assert joined[0] == joined[1]


@pytest.mark.parametrize("text", ["vitamin C", "vitamin A", "hepatitis A", "B12", "T4", "Na+"])
def test_one_letter_names_are_kept(text: str) -> None:
    """A single letter or a letter with a number is a word like any other."""
    assert len(keys(text)) == len(words(text))


def test_stop_words_in_capitals_are_abbreviations() -> None:
    """ALL is a leukaemia, all is not."""
    assert key("ALL")
    assert key("AS")
    assert not key("all")
    assert key("ALL") != key("allergy")


@given(st.text(max_size=200))
def test_no_text_raises(text: str) -> None:
    """Any text has words and keys, and folding is settled: a text gives the same keys again."""
    assert keys(text) == keys(text)
    assert all(word for word in words(text))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("hepatitis", "hepatic"),
        ("pancreatitis", "pancreatic"),
        ("hypnotic", "hypnosis"),
        ("plastic", "plasia"),
        ("ileum", "ilium"),
    ],
)
def test_words_that_only_look_alike_are_kept_apart(one: str, other: str) -> None:
    """An organ is not its inflammation, and a sleeping tablet is not hypnosis."""
    assert key(one) != key(other)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("neuropathic", "neuropathy"),
        ("hemiplegic", "hemiplegia"),
        ("metastatic", "metastases"),
        ("aplastic", "aplasia"),
        ("dyspnoeic", "dyspnea"),
        ("tachycardic", "tachycardia"),
        ("pancreatitic", "pancreatitis"),
        ("antipsychotic", "antipsychotics"),
        ("ascitic", "ascites"),
    ],
)
def test_an_adjective_finds_its_noun(one: str, other: str) -> None:
    """By its ending, or by the table where the ending is irregular."""
    assert key(one) == key(other)


def test_alveolar_and_arterial_pressures_are_two_things() -> None:
    """PAO2 is the alveolar pressure, PaO2 the arterial; in small letters the arterial is meant."""
    assert key("PAO2") != key("PaO2") == key("pao2")
    assert key("PACO2") != key("PaCO2")
