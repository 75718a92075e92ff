"""[shared]: one number at many places is one number, drawn once; a section is written once."""
# ruff: noqa: E501  (long lines of tables)

from __future__ import annotations

import jsonschema
import numpy as np
import pytest
from scipy.special import ndtri

import small
from overbank.errors import StudyError
from overbank.run import run
from overbank.study.build import build
from overbank.study.json_schema import study_schema
from overbank.study.load import Study, make_study
from overbank.study.slips import slips

TABLE = """\
[shared]
river_n = { lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }
bank = 32.45

[shared.brook]
shape = "trapezoid"
bed_width_m = { normal = { mean = 2.5, sd = 0.1 }, basis = "invented" }
side_slope = 1.5

[[element]]
kind = "culvert"
"""

FIELD = """\
[[element]]
kind = "channel"
id = "field"
section = "shared.brook"
length_m = 60.0
bed_slope = 0.002
manning_n = "shared.river_n"
bank_level_m = 32.9

"""

GARDEN_N = 'manning_n = { lognormal = { median = 0.05, cov = 0.2 }, basis = "invented" }\nbank_level_m = 32.45'

CHANGES = (
    ('[[element]]\nkind = "culvert"\n', TABLE),
    (GARDEN_N, 'manning_n = "shared.river_n"\nbank_level_m = "shared.bank"'),
    ('section = { shape = "trapezoid", bed_width_m = 2.5, side_slope = 1.5 }', 'section = "shared.brook"'),
    ("[[dependence]]", f"{FIELD}[[dependence]]"),
)


def text(*changes: tuple[str, str]) -> str:
    found = small.edited(*CHANGES)
    for old, new in changes:
        assert found.count(old) >= 1, old
        found = found.replace(old, new)
    return found


def shared(*changes: tuple[str, str]) -> Study:
    return make_study(text(*changes))


def test_it_is_one_uncertain_number_with_correlation_1_between_its_places() -> None:
    problem = build(shared())
    names = problem.inputs.names
    assert [name for name in names if "manning_n" in name or "width" in name or "shared" in name] == [
        "shared.brook.bed_width_m",
        "shared.river_n",
    ]
    values = problem.inputs.sample("sobol", 256, 3, 2)[1].reshape(-1, len(names))
    numbers = problem.numbers(values)
    for places in (
        ("garden.manning_n", "field.manning_n"),
        ("garden.section.bed_width_m", "field.section.bed_width_m"),
    ):
        one, other = (np.asarray(numbers[name]) for name in places)
        assert np.ptp(one) > 0.0
        assert np.array_equal(one, other)
        assert np.corrcoef(one, other)[0, 1] == pytest.approx(1.0, abs=1e-15)
    assert problem.fixed["garden.bank_level_m"] == 32.45


def test_its_total_index_is_that_of_one_number() -> None:
    """Beside a double integral (a grid of 60 by 60 strata of equal probability) over levels that were asked for with
    both roughnesses given by hand: the roughness of two reaches and the flow are all that is uncertain.
    """
    study = shared(
        ('level_m = { normal = { mean = 31.0, sd = 0.1 }, basis = "invented" }', "level_m = 31.0"),
        ("bank_level_m = { normal = { mean = 32.2, sd = 0.05 } }", "bank_level_m = 32.2"),
        (small.BLOCKAGE, "blockage = 0.3"),
        (small.DEPENDENCE, ""),
        ('bed_width_m = { normal = { mean = 2.5, sd = 0.1 }, basis = "invented" }', "bed_width_m = 2.5"),
        ("assurance = 0.9", 'assurance = 0.9\nat = "field"'),
        ("samples = 4096", "samples = 1024"),
    )
    table = run(study, only=("drivers",)).drivers.level.table.set_index("input")
    assert {"shared.river_n", "flow.design_m3_s"} <= set(table.index)
    assert not {"garden.manning_n", "field.manning_n"} & set(table.index)
    z = ndtri((np.arange(60) + 0.5) / 60)
    sd = np.sqrt(np.log(1.0 + 0.2**2))
    roughness, flow = np.meshgrid(0.05 * np.exp(sd * z), 6.0 * np.exp(sd * z), indexing="ij")
    columns = {"flow.design_m3_s": flow.ravel()} | dict.fromkeys(
        ("garden.manning_n", "field.manning_n"), roughness.ravel()
    )
    level = study.model().levels(columns)["field"].to_numpy().reshape(60, 60)
    assert table.loc["shared.river_n", "total"] == pytest.approx(level.var(axis=0).mean() / level.var(), abs=0.03)


def test_it_answers_as_the_same_number_written_at_every_place() -> None:
    levels = shared().with_values({"shared.river_n": 0.06, "shared.brook.bed_width_m": 2.6}).model().levels()
    plain = shared(
        ('"shared.river_n"', "0.06"),
        ('"shared.brook"', '{ shape = "trapezoid", bed_width_m = 2.6, side_slope = 1.5 }'),
        ('"shared.bank"', "32.45"),
    )
    assert levels.to_numpy() == pytest.approx(plain.model().levels().to_numpy(), abs=0.0)


def test_an_alternative_a_dependence_and_a_column_call_it_by_its_name() -> None:
    more = '[[alternative]]\nname = "mown"\nset = { "shared.river_n" = { lognormal = { median = 0.03, cov = 0.1 } } }\n\n[[dependence]]'
    study = shared(
        ("[[dependence]]", more),
        ('"lane.screen.blockage"]', '"shared.river_n"]'),
        ("rank_correlation = 0.4", "rank_correlation = -0.3"),
    )
    assert study.alternative("mown").model().medians["field.manning_n"] == pytest.approx(0.03)
    levels = study.model().levels({"shared.river_n": [0.03, 0.05, 0.07]})["field"]
    assert levels.is_monotonic_increasing
    assert build(study).dependences[0].between == ("flow.design_m3_s", "shared.river_n")


def test_a_shared_number_that_nothing_uses_is_remarked_upon() -> None:
    study = shared(("bank = 32.45", "bank = 32.45\nspare_n = 0.03"))
    said = slips(study, build(study))
    assert said == ("line 21, shared.spare_n: no number of the study uses it",)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('manning_n = "shared.river_n"\nbank_level_m = 32.9', 'manning_n = "shared.rivr_n"', ("field.manning_n", 'Write "shared.river_n"')),
        ("median = 0.05, cov", "median = -0.05, cov", ("shared.river_n", "above 0")),
        ("median = 0.05, cov", "median = 5.0, cov", ("garden.manning_n", "field.manning_n", "a median of 5")),
        ('bank_level_m = "shared.bank"', 'bank_level_m = "shared.brook"', ("which is a section", "Name a number")),
        ('id = "field"\nsection = "shared.brook"', 'id = "field"\nsection = "shared.bank"', ("which is a number", "Name a section")),
        (small.BLOCKAGE, 'blockage = "shared.bank"', ("lane.screen.blockage", "a number of its own", "[[dependence]]")),
        ('between = ["flow.design_m3_s", "lane', 'between = ["garden.manning_n", "lane', ('garden.manning_n, which is shared.river_n', 'Write "shared.river_n"')),
        ("bank = 32.45", 'bank = "32.45"', ("shared.bank", "Write what is shared here")),
        ("bank = 32.45", '"a bank" = 1\nbank = 32.45', ("a name of letters", "Write a short name")),
        ("side_slope = 1.5\n\n[[element]]", "side_slope = 99.0\n\n[[element]]", ("garden.section.side_slope", "field.section.side_slope")),
        (TABLE, '[[element]]\nkind = "culvert"\n', ("garden.manning_n", "give it in a table [shared]")),
        ('id = "field"', 'id = "shared"', ("Choose another name",)),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_at_its_line(old: str, new: str, said: tuple[str, ...]) -> None:
    with pytest.raises(StudyError) as refused:
        shared((old, new))
    for words in said:
        assert words in str(refused.value), str(refused.value)
    assert len(refused.value.faults) <= 5
    assert all(fault.place.startswith("line ") for fault in refused.value.faults)


def test_it_is_a_table() -> None:
    with pytest.raises(StudyError, match=r"shared: expected a table \[shared\]; got the number 3"):
        make_study({**shared().document, "shared": 3})


def test_an_editor_knows_it() -> None:
    checker = jsonschema.Draft4Validator(study_schema())
    document = shared().document
    assert checker.is_valid(document)
    for key, value in (("spare", "0.03"), ("spare", True), ("spare", {"normals": {"mean": 1, "sd": 1}})):
        assert not checker.is_valid({**document, "shared": {**document["shared"], key: value}})
    lane = document["element"][0]
    assert not checker.is_valid(
        {**document, "element": [{**lane, "screen": {**lane["screen"], "blockage": "shared.x"}}]}
    )


def test_the_register_says_where_a_place_has_its_number_from() -> None:
    found = {item.name: item for item in build(shared()).assumptions}
    assert found["shared.river_n"].uncertain
    assert found["shared.river_n"].kind == "knowledge"
    assert (found["garden.manning_n"].words, found["garden.manning_n"].assumed) == ("is shared.river_n", False)
