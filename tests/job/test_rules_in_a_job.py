"""Hazards and local rules in a job file: what can not be is told with its line and a remedy."""

from __future__ import annotations

import pytest

from warmside.job.read import read_bytes
from warmside.say import Voice

HEAD = 'format = 1\nname = "A job"\n'
AMENDED = '[[amendment]]\nclause = "by-law 3"\n'


def told(body: str) -> list[str]:
    return [Voice().located(note) for note in read_bytes((HEAD + body).encode()).faults]


@pytest.mark.parametrize(
    ("body", "sentence"),
    [
        (
            "[looked_at]\nradom = 'no'",
            "line 4: looked_at.radom: 'radom' is nothing to look at; did you mean radon?",
        ),
        (
            "[looked_at]\nradon = 200",
            "line 4: looked_at.radon: '200' is not an answer; write no, yes, unknown, or a reading in "
            "%, Bq/m3, pCi/L, months",
        ),
        (
            "[[amendment]]\nmeasure = 'rim R'\nat_least = 3\nunit = 'm2.K/W'",
            "line 3: amendment number 1.clause is missing, and it is needed",
        ),
        (
            AMENDED + "measure = 'rimm R'\nat_least = 3\nunit = 'm2.K/W'",
            "line 5: amendment number 1.measure = 'rimm R' is none of the choices; did you mean 'rim R'?",
        ),
        (
            AMENDED + "measure = 'rim R'\nat_least = 3\nunit = 'in'",
            "line 3: amendment number 1: rim R is in m2.K/W or h.ft2.F/Btu, not in 'in'",
        ),
        (
            AMENDED + "measure = 'rim R'\nunit = 'm2.K/W'",
            "line 3: amendment number 1: an amendment has one limit: write at_least or at_most",
        ),
        (
            AMENDED.replace("by-law 3", "") + "measure = 'rim R'\nat_least = 3\nunit = 'm2.K/W'",
            "line 4: amendment number 1.clause is empty; write at least one letter or digit",
        ),
        (
            "[heating]\nheat_recovery = 'maybe'",
            "line 4: heating.heat_recovery = 'maybe' is none of the choices: no, yes",
        ),
    ],
)
def test_what_can_not_be(body: str, sentence: str) -> None:
    assert told(body) == [f"job.toml {sentence}"]


def test_a_permeance_in_no_unit_of_labels_is_told_with_its_line() -> None:
    label = "source = 'label', status = 'label'"
    sizes = "".join(f"{key} = {{ value = '1 m', {label} }}\n" for key in ("width", "length", "lap"))
    body = (
        "[[goods.membrane]]\nid = 'film'\nname = 'film'\npackage = 'roll'\nrole = 'vapour control'\n"
        f"{sizes}permeance = {{ value = 60, unit = 'ng', {label} }}"
    )
    (sentence,) = told(body)
    assert sentence.startswith("job.toml line 11: ")
    assert "'ng' is no unit of a permeance; write one of kg/(m2.s.Pa), ng/(Pa.s.m2), perm" in sentence


def test_a_measure_like_none_lists_the_first_few() -> None:
    (sentence,) = told(AMENDED + "measure = 'xyzzy'\nat_least = 3\nunit = 'm2.K/W'")
    assert sentence.startswith(
        "job.toml line 5: amendment number 1.measure = 'xyzzy' is none of the choices: "
    )
    assert sentence.endswith(", ...")


def test_unknown_is_not_looked_at() -> None:
    survey = read_bytes((HEAD + "[looked_at]\nradon = 'unknown'\nmould = 'no'\n").encode()).survey
    assert survey is not None
    assert list(survey.looked_at) == ["mould"]
