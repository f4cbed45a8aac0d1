"""What could identify a patient is cautioned about, and ordinary numbers are not."""

from __future__ import annotations

import random
from itertools import islice
from pathlib import Path

import pytest
from stdnum.gb import nhs

from kb.language.patient_identifiers import find_identifiers, nhs_number

DEMO = Path(__file__).parents[2] / "notes"


@pytest.mark.parametrize(
    ("digits", "valid"),
    [
        ("1234567881", True),
        ("4010232137", True),
        ("9434765870", True),
        ("9434765871", False),
        ("9434765919", True),
        ("4505577104", True),
        ("9876543210", True),
        ("9990000000", False),
        ("4444444444", False),
        ("6666666666", False),
        ("123", False),
        ("943476587x", False),
    ],
)
def test_the_check_digit_follows_modulus_11(digits: str, valid: bool) -> None:
    """Worked example 401 023 2137 (sum 92, remainder 4, check digit 7).

    Source: national data dictionary, NHS number, quoted in full at second hand; 943 476 5870 and
    5871 from python-stdnum's doctest; the others computed. One digit ten times is never issued.
    """
    assert nhs_number(digits) is valid


def test_a_number_nobody_was_ever_given_is_left_alone() -> None:
    """123 456 7881 passes modulus 11; in the Scottish range it would begin with the 12th of 34th.

    Source: python-stdnum agrees on the digit; ranges as in the data dictionary, at second hand.
    """
    assert find_identifiers("123 456 7881") == ()


def test_it_agrees_with_a_reference_library() -> None:
    """python-stdnum accepts the same of a thousand consecutive numbers."""
    numbers = [str(4010232000 + step) for step in range(1000)]
    assert [nhs_number(n) for n in numbers] == [nhs.is_valid(n) for n in numbers]


WRITTEN = (
    "NHS 943 476 5870",
    "NHS no. 9434765870",
    "943\u00a0476\u00a05870",
    "943\u2009476\u20095870",
    "943.476.5870",
    "943-476-5870",
    "943\u2011476\u20115870",
    "943\u2013476\u20135870",
    "94347 65870",
    "943476 5870",
    "943/476/5870",
    "943_476_5870",
    "9 4 3 4 7 6 5 8 7 0",
    "943 4765870",
    "943476 58 70",
    "NHS number: 1234567890",
    "NHS No 999 999 9999",
    "nhs#4505577104",
    "\uff089434765870\uff09",
    "943  476  5870",
    "\uff19\uff14\uff13\uff14\uff17\uff16\uff15\uff18\uff17\uff10",
    "401\u00b7023\u00b72137",
    "CHI 0101805678",
    "CHI: 010180 5678",
    "CHI number 12 03 45 6789",
    "H&C no 3200000010",
    "HCN 320 000 0010",
    "Health and Care Number 345 678 9012",
    "PPS 1234567T",
    "PPSN 1234567FA",
    "1234567T",
    "PPS No. 1234567 T",
    "IHI 8003 6012 3456 7890",
    "IHI 539 1234 5678 9012 34",
    "8003608833357361",
    "Medicare 2123 45670 1",
    "2123 45670 1",
    "Medicare no: 2123456701",
    "medicare 1EG4-TE5-MK73",
    "1EG4TE5MK73",
    "NHI ABC1235",
    "NHI: ZZZ0016",
    "ZAC5361",
    "SSN 078-05-1120",
    "NI number QQ 12 34 56 C",
    "AB123456C",
    "MRN 1234567",
    "MRN: A123456",
    "mrn#00123456",
    "M.R.N. 445566",
    "Hosp. No. 123456",
    "Hosp no 123456",
    "hospital number X123456",
    "Hospital no: K 12 34 56",
    "Hospital ID 99887",
    "Unit no 123456",
    "Unit No. A12345",
    "unit number 12345",
    "Pt no 4567",
    "pt ID: 887766",
    "Patient no. 0045612",
    "patient number is 4455667",
    "Case note number 55443",
    "casenotes no 123456",
    "record no. 55667788",
    "chart #123456",
    "UR 1234567",
    "URN 0987654",
    "CRN: 5566778",
    "K-number K1234567",
    "DOB 03/04/1956",
    "DOB: 3.4.56",
    "D.O.B. 3-4-1956",
    "dob 3 Apr 56",
    "DoB 03 04 1956",
    "DOB 03041956",
    "DOB - 1956/04/03",
    "date of birth: 3rd April 1956",
    "Date of birth 3rd of April, 1956",
    "date of birth (dd/mm/yy) 03/04/56",
    "birth date 03/04/1956",
    "birthdate 03/04/1956",
    "birthday 3 April 1956",
    "born 3.4.56",
    "born 3 April 1956",
    "born on the third of April 1956",
    "born April 3, 1956",
    "born April 3rd '56",
    "b. 3/4/56",
    "b 3/4/1956",
    "b. 3 April 1956",
    "born in Leeds on 3 April 1956",
    "born 1956-04-03",
    "born the 3rd day of April in the year 1956",
    "DOB April 1956",
    "JS (123456)",
    "J.S. (hosp 123456)",
    "J. S. 1234567",
    "JS [A123456]",
    "A.B.C. (1234567)",
    "JS, 03/04/1956",
    "Mr Smith",
    "Mrs O'Connor, 82F",
    "Miss J. Brown",
    "Mr SMITH",
    "Ms Patel",
    "Dr Brown's patient John Smith",
    "pt John Smith",
    "patient name: John Smith",
    "Name: Smith, John",
    "SMITH, John 03/04/1956",
    "07700 900123",
    "07700900123",
    "+44 7700 900123",
    "+44 (0)20 7946 0958",
    "0044 20 7946 0958",
    "020 7946 0958",
    "(020) 7946 0958",
    "tel 01632 960123",
    "01632 960 123",
    "mobile: 0044 7911 123456",
    "07911.123.456",
    "07911-123456",
    "087 123 4567",
    "0871234567",
    "+353 87 123 4567",
    "0412 345 678",
    "(02) 9374 4000",
    "(415) 555-2671",
    "+1 415-555-2671",
    "tel. 415 555 2671",
    "john.smith@nhs.net",
    "SW1A 1AA",
    "LS1 4AP",
    "bed 4, 943 476 5870, febrile",
    "943 476 5870 82F",
    "pt 9434765870, 03/04/1956",
    "smith-john-943-476-5870.md",
    "Passport no 123456789",
    "hospital # 123 456",
    "Hosp:123456",
    "Hospital 123456",
    "NHS-No.: 943-476-5870",
    "Pat. no. 12345",
    "Pat.-Nr. 12345",
    "lab no 12345678",
    "Episode 12345678",
    "DOB 3rd of the 4th 1956",
    "DOB third April nineteen fifty-six",
    "943|476|5870",
    "943:476:5870",
    "943~476~5870",
    "\u0669\u0664\u0663\u0664\u0667\u0666\u0665\u0668\u0667\u0660",
    "nine four three, four seven six, five eight seven oh",
    "hospital number one two three four five six",
    "DOB03/04/1956",
    "D/O/B 3/4/1956",
    "DOB (03-Apr-1956)",
    "03/04/1956 (DOB)",
    "3 April 1956, date of birth",
    "J Smith 03/04/1956",
    "J. Smith, 03/04/1956",
    "John Smith 82M",
    "SMITH, John (82F)",
    "Mr  Smith",
    "Mister Smith",
    "Pt. John Smith",
    "patient called John",
    "lady called Mary",
    "M R N 1234567",
    "H/N 123456",
    "HN 1234567",
    "U/N 123456",
    "PID: 123456",
    "patient 123456",
    "Pt: 1234567",
    "H+C 3200000010",
    "HSC 3200000010",
    "Health card 1234567890",
    "Passport 123456789",
    "john.smith[at]nhs.net",
    "john(at)nhs.net",
    "12 High Street",
    "lives at 12A Acacia Avenue",
    "flat 3, 120 Old Mill Lane",
    "Jane Doe, 14 Feb 1948",
    "JD 14/2/48",
    "(14/02/1948)",
    "14.02.1948 F",
    "birth: 14/2/48",
    "b 14 feb 1948",
    "Mrs van der Berg",
    "Mr de Souza",
    "Miss A B Jones",
    "baby of Jane Doe",
    "initials J.S., 82",
    "J.S. 82F ward 7",
    "JS 82M W7",
    "JS, 82 yo, Ward 12 bed 3",
    "AB 45F bed 6",
    "bed 12, JS 82F",
    "Smith 82F bed 4",
    "Name - John Smith",
    "surname SMITH",
    "forename: John",
    "next of kin: Sarah Smith",
    "John Smith, 82-year-old",
    "N.H.S. No 485 777 3456",
    "Isle of Man number 9012345",
    "IoM no. 1234567",
    "MCN 12345678",
    "GMS no 123456",
    "GMS 1234567A",
    "medical card 1234567A",
    "PAS 1234567",
    "K1234567",
    "encounter 12345678",
    "visit no 1234567",
    "spell no 123456",
    "UBRN 1234 5678 9012",
    "driving licence number SMITH802145J99AB",
    "SMITH802145J99AB",
    "7700900123 (mobile)",
    "tel: 496 0123",
    "048 9018 0123",
    "01 234 5678",
    "021 427 1234",
    "14 Acacia Ave",
    "14 Acacia Rd, Leeds",
    "14 High St, Leeds",
    "14, Elm Close",
    "22 Oak Drive",
    "12 Queen's Gardens",
    "D02 X285",
    "Eircode A65 F4E2",
    "post code: ls14ap",
    "jane.doe at example dot com",
    "jane.doe[at]example[dot]com",
)
"""Ways to write what identifies a patient. Valid numbers are examples of python-stdnum's doctests
or computed with it; those that follow a word that names them need not be valid.
"""
ORDINARY = (
    "exam on 03/04/2026",
    "reviewed 2026-02-03",
    "ISBN 0-306-40615-2",
    "north:9434765871",
    "194347658700",
    "born in 1956 as a concept",
    "Mr Wrong",
    "MR angiography",
    "born at 34 weeks",
    "b. 1956",
    "B12 200",
    "WHO (2019)",
    "CT (5 mm)",
    "heparin 5000 units",
    "insulin 10 units",
    "units 40000",
    "case 3",
    "patients 12345",
    "chi-square 12345.6",
    "PPS 40",
    "chi 3.84",
    "NNT 12345",
    "platelets 150000",
    "2027-01-14T19:42:00+00:00",
    "0.00012345678",
    "10.1056/NEJM199604113341501",
    "PMID 12345678",
    "ISBN 0306406152",
    "call 0207 946 0958 1",
    "A trial of 2019 in 10000 patients",
    "Lancet 1996;347:1234-1240",
    "1996; 334: 1301 1307",
    "14,428 patients aged 40-75",
    "HbA1c 48 mmol/mol",
    "the unit numbers 12 beds",
    "unit of 12345 cells",
    "FEV1 2.34 (80%)",
    "sodium 120 130 140 150",
    "born 12 weeks early",
    "mobile phase 0.1234567890",
    "lab reference 3.5",
    "units no 5000",
    "miss the point",
    "Miss this and he dies",
    "Master the basics",
    "name: gout",
    "one, two, three or four drugs",
    "Score one, then two, then three",
    "a ratio of 943:476",
    "Group A 82 of 100",
    "Addison Disease 10 mg",
    "called Kussmaul breathing",
    "the patient called an ambulance",
    "5 High doses",
    "pt 12345",
    "3 April 2026 (done)",
    "RR 30, SpO2 94%, HR 120",
    "at (C5) level",
    "Street drugs 2024",
    "the man in 10 with HN",
    "CD45RA and CD45RO",
    "9 Bradford Hill criteria",
    "N95 FFP3",
    "concept C0027051",
    "heading D012345",
    "MR IMAGING",
    "mr angiography",
    "hepatitis b 14 days later",
    "Sir William Osler",
    "the patient is Rhesus Negative",
    "SA node, 14/2/27",
    "TB ward 6",
    "ITU bed 12",
    "Ward 7 has 82 beds",
    "an 82-year-old Afro Caribbean man",
    "Child Pugh 10 points",
    "published on 3 April 2019",
    "Lancet Neurology, 3 April 2019",
    "birth (2, 3, 14, 25)",
    "one way, 2 days",
    "20 mg, then close",
    "rose to 01 234",
    "at red dot sign",
    "the first place, 2 of 3",
    "PAS stain 12",
    "GMS stain, 5 fields",
    "fin whale 12345",
    "a visit in 2019",
    "referral within 2 weeks",
    "LASIX 500000",
    "HLA B27 AB12",
    "name: gout attack",
)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("Seen today, 943 476 5870, febrile", "an NHS number"),
        ("010180 5675", "a CHI number"),
        ("320 000 0015", "a Health and Care number"),
        ("1234567T", "a PPS number"),
        ("DOB 03/04/1956", "a date of birth"),
        ("MRN: 1234567", "a hospital number"),
        ("Mr Smith", "a name"),
        ("07700 900123", "a telephone number"),
    ],
)
def test_what_was_found_is_named_with_its_line(text: str, found: str) -> None:
    """The line counts from 1."""
    assert find_identifiers(f"First line.\n{text}\n") == ((2, found),)


@pytest.mark.parametrize("text", WRITTEN)
def test_every_way_to_write_an_identity_is_seen(text: str) -> None:
    """In the middle of a sentence too."""
    assert find_identifiers(text)
    assert find_identifiers(f"gout, {text}, colchicine")


@pytest.mark.parametrize("text", ORDINARY)
def test_ordinary_numbers_are_left_alone(text: str) -> None:
    """Years, dates, doses, results, papers and books are no identifiers."""
    assert find_identifiers(text) == ()


@pytest.mark.parametrize("groups", [(10,), (3, 3, 4), (5, 5), (6, 4), (4, 3, 3)])
@pytest.mark.parametrize("sign", [" ", "-"])
def test_a_random_number_seldom_looks_like_a_patient(groups: tuple[int, ...], sign: str) -> None:
    """Fewer than one in eleven of ten-digit references, the share that passes modulus 11."""
    chance, hits = random.Random(20270405), 0
    for _ in range(2000):
        digits = iter(f"{chance.randrange(10**10):010d}")
        hits += bool(find_identifiers(sign.join("".join(islice(digits, n)) for n in groups)))
    assert hits / 2000 < 1 / 11


def test_the_demo_raises_no_alarm() -> None:
    """Its notes, settings and remarks are about nobody."""
    for path in DEMO.rglob("*"):
        if path.is_file() and ".missbook" not in path.parts:
            assert find_identifiers(path.read_text(encoding="utf-8")) == (), path
