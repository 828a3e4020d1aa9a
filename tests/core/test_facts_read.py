"""JSON facts are read whole or refused with every fault."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bot.content.rules import load_rules
from bot.content.source import content_root
from bot.core.errors import Invalid
from bot.core.facts import Facts, Span
from bot.core.facts_read import facts_from_json

VOCABULARY = load_rules(content_root()).vocabulary


def read(data: object) -> Facts:
    return facts_from_json(data, VOCABULARY)


def faults(data: object) -> list[str]:
    with pytest.raises(Invalid) as refused:
        read(data)
    return [str(problem) for problem in refused.value.problems]


def test_a_number_may_be_exact_a_range_or_open():
    facts = read(
        {
            "age_days": 4,
            "answers": {
                "feeds": 8,
                "wet_nappies": {"low": 3, "high": 5},
                "pain": {"low": 3, "high": None},
                "dirty_nappies": {"high": 2},
            },
        }
    )
    assert facts.values == {
        "feeds": Span(8, 8),
        "wet_nappies": Span(3, 5),
        "pain": Span(3, None),
        "dirty_nappies": Span(None, 2),
    }


def test_an_answer_may_also_stand_beside_the_age():
    assert read({"age_days": 4, "feeds": 8}) == read({"age_days": 4, "answers": {"feeds": 8}})


def test_a_sign_may_be_listed_or_given_as_true():
    assert read({"age_days": 4, "danger_signs": ["baby_hot"]}) == read({"age_days": 4, "baby_hot": True})


def test_a_sign_in_the_list_counts_though_an_answer_denies_it():
    assert read({"age_days": 4, "answers": {"baby_hot": False}, "danger_signs": ["baby_hot"]}).values == {
        "baby_hot": True
    }


def test_a_stored_yes_or_no_is_read():
    told = read(
        {"age_days": 4, "answers": {"worry": {"low": 1, "high": 1}, "other_food": {"low": 0, "high": 0}}}
    )
    assert told.values == {"worry": True, "other_food": False}


def test_null_means_not_known():
    assert read({"age_days": 4, "birth_weight_g": None, "sex": None, "feeds": None}) == read({"age_days": 4})


def test_the_row_is_the_day_that_holds_most_of_the_last_24_hours():
    rows = {11.9: 0, 12: 1, 20: 1, 35.9: 1, 36: 2, 59: 2, 60: 3, 84: 4, 96: 4, 120: 5}
    assert {h: read({"age_hours": h}).k for h in rows} == rows


def test_without_the_hour_the_row_is_the_difference_of_dates_and_the_age_the_youngest():
    facts = read({"age_days": 3})
    assert (facts.k, facts.youngest_hours) == (3, 48)
    assert read({"age_days": 1}).youngest_hours == 0


def test_weights_are_put_in_order_of_age():
    weights = [{"age_days": 5, "grams": 2900}, {"age_days": 3, "grams": 2800}]
    assert [w.grams for w in read({"age_days": 5, "weights": weights}).weights] == [2800, 2900]


def test_the_weight_of_an_assessment_counts_where_no_weights_are_given():
    assert read({"age_days": 5, "assessment": {"weight_g": 2900}}).weights[0].age_days == 5
    given = {"age_days": 5, "assessment": {"weight_g": 2900}, "weights": [{"age_days": 2, "grams": 2800}]}
    assert [w.grams for w in read(given).weights] == [2800]


def test_every_fault_is_named_at_once():
    assert faults(
        {
            "age_days": 3,
            "age_hours": 200,
            "answers": {"feeds": 80, "wet_nappies": 2.5, "pain": True, "colour": 1, "worry": "yes"},
            "danger_signs": ["baby_hot", "hot"],
            "birth_weight_g": 30,
            "sex": "boy",
            "jaundice_extent": "arms",
            "weights": [{"age_days": 9, "grams": 2800}, {"age_days": 2}],
            "history": [{"age_days": 2, "answers": {}}, {"age_days": 1, "answers": {"feeds": -1}}],
            "assessment": {"position": {"knee": "yes", "neck": "maybe"}, "mood": 1},
            "feeling": "fine",
        }
    ) == [
        "jaundice_extent: must be one of face, body, legs, palms_soles.",
        "feeling: is not a fact; `dunnock triage --facts` lists them.",
        "answers.feeds: must lie between 0 and 60.",
        "answers.wet_nappies: must be a whole number.",
        "answers.pain: must be a number.",
        "answers.colour: is not a fact; `dunnock triage --facts` lists them.",
        "answers.worry: must be true or false.",
        "danger_signs: 'hot' is not a sign; `dunnock triage --facts` lists them.",
        "age_hours: cannot be 200 at 3 days of age.",
        "assessment.position.knee: is not one of neck, turned, close, supported.",
        "assessment.position.neck: must be one of yes, no, not_seen.",
        "assessment.mood: is not part of an assessment.",
        "weights[1]: must be an object with exactly age_days and grams.",
        "weights[0].age_days: lies after the age of this case.",
        "sex: must be female, male or null.",
        "birth_weight_g: must lie between 400 and 7000.",
        "history[1].answers.feeds: must lie between 0 and 60.",
        "history[1]: must come after the one before it: oldest first.",
    ]


@pytest.mark.parametrize(
    ("data", "fault"),
    [
        ([], "must be an object of facts."),
        ({}, "age_days: is needed: whole days since the date of birth (or age_hours)."),
        ({"age_days": 1.5}, "age_days: must be a whole number."),
        ({"age_days": 3, "feeds": {"low": 9, "high": 8}}, "feeds: has its low end above its high end."),
        (
            {"age_days": 3, "feeds": {}},
            'feeds: must be a number or {"low": n, "high": n}, null for an end that is open.',
        ),
        (
            {"age_days": 3, "feeds": {"low": 1, "top": 2}},
            'feeds: must be a number or {"low": n, "high": n}, null for an end that is open.',
        ),
        (
            {"age_days": 3, "feeds": 8, "answers": {"feeds": 9}},
            "answers.feeds: is given twice with different values.",
        ),
        ({"age_days": 3, "yellow": "face"}, "yellow: is not a fact; `dunnock triage --facts` lists them."),
        ({"age_days": 3, "temperature_c": float("nan")}, "temperature_c: must be a number."),
        ({"age_days": 3, "danger_signs": "baby_hot"}, "danger_signs: must be a list of sign ids."),
        ({"age_days": 3, "answers": [8]}, "answers: must be an object: question id to value."),
        ({"age_days": 3, "weights": 2800}, "weights: must be a list."),
        ({"age_days": 3, "weights": [{"age_days": None, "grams": 9000}]}, "weights[0].age_days: is needed."),
        ({"age_days": 3, "weights": [{"age_days": 3, "grams": None}]}, "weights[0].grams: is needed."),
        ({"age_days": 3, "assessment": "good"}, "assessment: must be an object."),
        (
            {"age_days": 3, "assessment": {"attachment": "good"}},
            "assessment.attachment: must be an object of chin, mouth, lower_lip, areola.",
        ),
    ],
)
def test_a_fault_is_named_where_it_stands(data, fault):
    assert faults(data) == [fault]


KEYS: st.SearchStrategy[str] = st.sampled_from(sorted(VOCABULARY.facts)) | st.sampled_from(
    ["low", "high", "grams", "position", "neck", "suckling", "other"]
)
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers(-5, 90) | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4),
    max_leaves=8,
)


@given(st.dictionaries(KEYS, ANYTHING, max_size=6))
def test_any_object_is_read_or_refused_in_words(data):
    try:
        read(data)
        said = ["read"]
    except Invalid as refused:
        said = [str(problem) for problem in refused.problems]
    assert said
    assert all(said)


def test_every_fact_that_may_be_given_is_described_in_a_line():
    lines = list(VOCABULARY.describe())
    assert "pain: 0 to 10 0 none to 10 worst, more is worse. Pain of breast or nipple at feeds." in lines
    assert any(line.startswith("jaundice_extent: one of face, body") for line in lines)
    not_given = [line for line in lines if line.startswith(("at_risk", "feeding_findings"))]
    assert len(not_given) == 2
    assert all("not to be given" in line for line in not_given)


def test_a_stored_choice_is_read_by_its_place():
    """Answers are kept as two numbers: a yes as 1, a choice as its place from mild to grave."""
    stored = {"age_days": 3, "answers": {"jaundice_extent": {"low": 3.0, "high": 3.0}}}
    assert read(stored).values["jaundice_extent"] == "legs"
    with pytest.raises(Invalid, match=r"answers\.jaundice_extent: must be one of"):
        read({"age_days": 3, "answers": {"jaundice_extent": {"low": 5.0, "high": 5.0}}})
