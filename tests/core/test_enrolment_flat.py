"""The rows of a file become the details of mothers, and faults find their way back to line and column."""

from bot.core.enrolment import examine
from bot.core.enrolment.flat import COLUMNS, NEEDED, Row, grouped, read_header
from tests.support.discharges import NOW, terms

WHOLE = {
    "external_id": "W-1",
    "site": "lakeside",
    "mother_name": "Amina",
    "mother_phone": "07700 900123",
    "mother_language": "en",
    "mother_phone_shared": "no",
    "discharged_at": "2026-03-03 14:00",
    "consent": "yes",
    "baby_name": "Nia",
    "baby_born_at": "2026-03-02T06:15",
}


def row(line: int = 2, **cells: str) -> Row:
    return Row(line, {name: cell for name, cell in (WHOLE | cells).items() if cell})


def test_the_columns_are_the_dotted_names_joined_with_underscores():
    assert {"mother_phone", "baby_born_at", "assessment_position_neck", "consent_texts"} <= set(COLUMNS)
    assert len(COLUMNS) == len(set(COLUMNS))


def test_every_fault_of_a_header_is_named_at_once():
    columns, problems = read_header([" External_ID ", "site", "mother_nmae", "site", "colour"])
    assert columns[0] == "external_id"
    named = {problem.field: problem.message for problem in problems}
    assert "do you mean mother_name?" in named["mother_nmae"]
    assert "twice" in named["site"]
    assert "take it out" in named["colour"]
    assert set(NEEDED) - {"external_id", "site"} <= named.keys()
    assert "consent" in named


def test_a_header_with_all_that_is_needed_has_no_fault():
    assert read_header([*NEEDED, "consent"])[1] == []
    assert read_header([*NEEDED, "consent_texts", "consent_calls"])[1] == []


def test_a_row_becomes_the_details_of_a_mother():
    (group,) = grouped([row(assessment_position_neck="yes", assessment_suckling="effective")])
    pair = examine(group.raw, terms(), NOW).pair
    assert pair is not None
    assert (pair.mother.name, pair.babies[0].name) == ("Amina", "Nia")
    assert pair.assessments[0].signs["position_neck"] == "yes"


def test_the_rows_of_twins_come_together_wherever_they_stand():
    rows = [row(), row(3, external_id="W-2", mother_phone="07700 900124")]
    second = row(4, mother_name="", mother_phone="", consent="", discharged_at="", mother_language="")
    groups = grouped([*rows, Row(4, dict(second.cells) | {"baby_name": "Baraka"})])
    assert [len(group.rows) for group in groups] == [2, 1]
    pair = examine(groups[0].raw, terms(), NOW).pair
    assert pair is not None
    assert [baby.name for baby in pair.babies] == ["Nia", "Baraka"]


def test_rows_of_one_mother_must_not_contradict_each_other():
    (group,) = grouped([row(), row(3, mother_name="Halima")])
    (fault,) = group.faults
    assert fault.field == "mother.name"
    assert fault.message == "line 3 says something else than line 2"


def test_a_fault_finds_its_line_and_column():
    (group,) = grouped([row(), row(5, baby_birth_weight_g="90")])
    (fault,) = examine(group.raw, terms(), NOW).faults
    assert group.place_of(fault.field) == (5, "baby_birth_weight_g")
    assert group.place_of("mother.phone") == (2, "mother_phone")
    assert group.place_of("babies.1.assessment.position.neck") == (5, "assessment_position_neck")


def test_unusual_facts_are_confirmed_by_column_or_dotted_name():
    for name in ("baby_birth_weight_g", "babies.0.birth_weight_g"):
        (group,) = grouped([row(baby_birth_weight_g="1200", confirmed=name)])
        assert examine(group.raw, terms(), NOW).faults == ()
    first, second = row(baby_birth_weight_g="1200"), row(3, baby_birth_weight_g="1300")
    (group,) = grouped([first, Row(3, dict(second.cells) | {"confirmed": "baby_birth_weight_g"})])
    assert [fault.field for fault in examine(group.raw, terms(), NOW).faults] == ["babies.0.birth_weight_g"]


def test_single_consents_say_more_than_a_plain_yes():
    (group,) = grouped([row(consent_texts="yes", consent_calls="no")])
    pair = examine(group.raw, terms(), NOW).pair
    assert pair is not None
    assert (pair.consent.texts, pair.consent.calls) == (True, False)
