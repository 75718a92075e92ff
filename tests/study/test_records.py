"""Inspection records in a study: what is refused, what is warned of, what is taken, and what it rests on."""
# ruff: noqa: E501  (tables, one case a line)

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import StudyError
from overbank.study.build import build
from overbank.study.load import Study
from overbank.uncertain.bounded import InflatedBeta
from overbank.uncertain.records import RecordedBlockage
from small import BLOCKAGE
from small import study as small_study

from .inspections import ASSETS, HEAD, INCIDENTS, PRIOR, RECORDS, built, study, visit, visits

NAME = "lane.screen.blockage"


def recorded(folder: Path, **changes: str) -> RecordedBlockage:
    """The blockage that those records give."""
    inputs = built(folder, **changes).inputs
    distribution = inputs.items[inputs.index(NAME)].distribution
    assert isinstance(distribution, RecordedBlockage)
    return distribution


def basis(folder: Path, **changes: str) -> str:
    """What it rests on."""
    words = next(item.basis for item in built(folder, **changes).assumptions if item.name == NAME)
    assert words is not None
    return words


def table(*rows: str) -> str:
    return "\n".join([HEAD, *rows]) + "\n"


def test_records_become_the_blockage_of_the_study(tmp_path: Path) -> None:
    ours = recorded(tmp_path)
    assert not ours.fit.few
    assert ours.fit.prior == InflatedBeta(0.2, 1.5, 2.5, 0.05)
    zero = ours.fit.known[0]
    assert zero.low < 0.2 < zero.high
    item = next(item for item in built(tmp_path).assumptions if item.name == NAME)
    assert (item.uncertain, item.evidence, item.kind) == (True, "local record", "each flood")
    assert item.basis is not None
    assert item.basis.startswith("local record: 48 usable of 48 visits from 2020-01-0")
    assert "worth 48 independent looks" in item.basis
    assert "incidents 1, 1 of them by blockage: found because they are bad, so not fitted" in item.basis
    assert f"prior: {PRIOR}" in item.basis
    assert "own proposal, not published" in item.basis
    assert NAME not in built(tmp_path).gaps()


def test_few_looks_take_the_posterior_and_say_so(tmp_path: Path) -> None:
    ours = recorded(tmp_path, seen=visits(12))
    assert ours.fit.few
    assert (ours.at_zero, ours.at_one) == (ours.fit.nearest.at_zero, ours.fit.nearest.at_one)
    assert "fewer than 20 independent looks: much of the distribution is still the prior" in ours.warnings
    item = next(item for item in built(tmp_path, seen=visits(12)).assumptions if item.name == NAME)
    assert item.evidence == "judgement"


def test_unseen_is_not_clear(tmp_path: Path) -> None:
    rows = visits().splitlines()[1:]
    unseen = [visit(14.0 * k + 7.0, None, observed="submerged", cleared="") for k in range(20)]
    with_unseen = table(*rows, *unseen)
    assert recorded(tmp_path, seen=with_unseen).fit == recorded(tmp_path).fit
    assert "20 saw nothing, which is not taken as clear" in basis(tmp_path, seen=with_unseen)


def test_visits_made_because_somebody_saw_trouble_are_left_out(tmp_path: Path) -> None:
    rows = visits().splitlines()[1:]
    trouble = [visit(14.0 * k + 7.0, 90.0, reason="complaint") for k in range(12)]
    seen = table(*rows, *trouble)
    assert "left out by their reason: 12 complaint" in basis(tmp_path, seen=seen)
    without = recorded(tmp_path, seen=seen)
    wider = RECORDS.replace('asset = "lane"', 'asset = "lane", reasons = ["scheduled", "pre_storm", "complaint"]')
    assert recorded(tmp_path, seen=seen, blockage=wider).mean > without.mean + 0.05


def test_looks_between_two_full_clearings_share_the_weight_of_one(tmp_path: Path) -> None:
    """Three looks and then a raking, ten times over: worth ten looks; only a full clearing begins anew."""
    rows = [
        visit(10.0 * k + step, 30.0, cleared="full" if step == 3 else "part") for k in range(10) for step in (1, 2, 3)
    ]
    words = basis(tmp_path, seen=table(*rows))
    assert "30 usable of 30 visits" in words
    assert "worth 10 independent looks" in words
    never = [visit(10.0 * k, 30.0, cleared="none") for k in range(25)]
    assert "worth 25 independent looks" in basis(tmp_path, seen=table(*never))
    assert "no full clearing is recorded" in " ".join(recorded(tmp_path, seen=table(*never)).warnings)


def test_shares_of_the_gross_area_become_those_of_the_clear_opening(tmp_path: Path) -> None:
    """Bars of 20 mm and gaps of 125 mm: 1 - (1 - g) 145/125. A clean screen is 13.8 % closed in gross terms; 56.9 % is
    half of the clear opening."""
    gross = [visit(14.0 * k, 56.896552).replace("clear_opening", "gross_total") for k in range(30)]
    clear = [visit(14.0 * k, 50.0).replace(",eye,", ",measured,") for k in range(30)]
    exact = [row.replace(",eye,", ",measured,") for row in gross]
    ours, theirs = recorded(tmp_path, seen=table(*exact)), recorded(tmp_path, seen=table(*clear))
    assert ours.mean == pytest.approx(theirs.mean, abs=0.005)
    bars_only = [visit(14.0 * k, 13.0).replace("clear_opening", "gross_wetted") for k in range(30)]
    assert recorded(tmp_path, seen=table(*bars_only)).fit.known[0].posterior > 0.8


def test_bands_and_classes(tmp_path: Path) -> None:
    head = "asset_id,time_start,reason,observed,class,cleared"
    rows = [f"lane,2020-{1 + k % 12:02d}-{1 + k // 12:02d}T09:00+00:00,scheduled,yes,part,full" for k in range(36)]
    seen = "\n".join([head, *rows]) + "\n"
    declared = RECORDS.replace('asset = "lane"', 'asset = "lane", class_bands = { part = [40, 60] }')
    ours = recorded(tmp_path, seen=seen, blockage=declared)
    assert ours.fit.nearest.a / (ours.fit.nearest.a + ours.fit.nearest.b) == pytest.approx(0.5, abs=0.03)
    assert not ours.fit.few
    undeclared = recorded(tmp_path, seen=seen)
    assert undeclared.fit.few
    assert "visits that give a class for which the study declares no band: 36" in undeclared.warnings


EVEN = table(*(visit(14.0 * k, 20.0) for k in range(24)))
WARNINGS = {
    "all scheduled": (EVEN, "2019-03-01", "all visits were scheduled: none tells what a storm brings"),
    "gap": (table(*(visit(14.0 * k + (90 if k > 9 else 0), 20.0) for k in range(24))), "2019-03-01", "gaps between visits of more than 3 inspection intervals of 14 days: 1"),
    "late looks": (EVEN, "2019-03-01", "the looks came 14 days after a full clearing on average, a random moment 7 days: they show more debris than a flood would find"),
    "stale survey": (EVEN, "2009-01-01", "the asset was surveyed 12 years before the last visit"),
}  # fmt: skip


@pytest.mark.parametrize("name", WARNINGS)
def test_what_is_warned_of(tmp_path: Path, name: str) -> None:
    seen, surveyed, expected = WARNINGS[name]
    assert expected in recorded(tmp_path, seen=seen, assets=ASSETS.replace("2019-03-01", surveyed)).warnings


def test_levels_the_wrong_way_round_are_warned_of(tmp_path: Path) -> None:
    rows = visits().splitlines()[1:]
    seen = "\n".join(
        [f"{HEAD},level_up_m,level_down_m", *(f"{row},31.2,31.1" for row in rows[1:]), f"{rows[0]},31.0,31.4"]
    )
    warnings = recorded(tmp_path, seen=seen).warnings
    assert "visits that give a level behind the screen above the one before it: 1" in warnings


def test_sound_records_of_a_sound_programme_are_not_warned_of(tmp_path: Path) -> None:
    """A look a few days after each raking, and a raking without a look: seen at a random age."""
    rows = []
    for k in range(30):
        rows.append(visit(14.0 * k + (3.0 * k) % 14, 20.0, "pre_storm" if k % 5 else "scheduled", cleared="none"))
        rows.append(visit(14.0 * k + 13.9, None, observed="unknown"))
    assert recorded(tmp_path, seen=table(*rows)).warnings == ()


# what is changed in the visits, the row, a part of what was expected, what came
SOUND = table(*(visit(14.0 * k, 20.0) for k in range(5)))
FIRST = SOUND.splitlines()[1]
REFUSED = [
    (FIRST, FIRST.replace(",20,", ",120,"), 2, "a per cent from 0 to 100", '"120" in blocked_before_pct'),
    (FIRST, FIRST.replace(",20,", ",some,"), 2, "a per cent from 0 to 100", '"some" in blocked_before_pct'),
    (FIRST, FIRST.replace("clear_opening", ""), 2, "a blocked_basis beside every per cent", "none"),
    (FIRST, FIRST.replace("clear_opening", "open"), 2, '"clear_opening", "gross_wetted" or "gross_total"', '"open" in blocked_basis'),
    (FIRST, FIRST.replace("lane,", "lame,"), 2, 'an asset of the list, "lane" or "mill"', 'the text "lame"'),
    (FIRST, FIRST.replace("2020-", "2920-"), 2, "a time that is past", '"2920-01-06T09:00+00:00" in time_start'),
    (FIRST, FIRST.replace("2020-01-06", "06/01/2020"), 2, "a time that is past, like", '"06/01/2020T09:00+00:00" in time_start'),
    (FIRST, FIRST.replace("scheduled", "routine"), 2, '"scheduled", "pre_storm"', '"routine" in reason'),
    (FIRST, FIRST.replace("scheduled", ""), 2, "in reason", "an empty cell"),
    (FIRST, FIRST.replace(",yes,", ",dark,"), 2, "a blocked share only where the screen was seen", "observed = dark"),
    (FIRST, f"{FIRST}\n{FIRST}", 3, "every asset_id and time_start once", "the same as in row 2"),
    (FIRST, f"{FIRST},", 2, "8 cells, as in the header", "9 cells"),
    (HEAD, HEAD.replace("reason", "reasn"), 1, "columns of asset_id, time_start", 'the unknown column "reasn"'),
    ("asset_id,time_start", "time_start,time_start", 1, "every column once", "time_start more than once"),
]  # fmt: skip


@pytest.mark.parametrize("case", REFUSED, ids=lambda case: case[4][:50])
def test_a_visit_that_cannot_be_is_refused_with_its_row(tmp_path: Path, case: tuple[str, str, int, str, str]) -> None:
    old, new, row, expected, got = case
    assert SOUND.count(old) == 1
    with pytest.raises(StudyError) as caught:
        study(tmp_path, seen=SOUND.replace(old, new))
    found = [fault for fault in caught.value.faults if fault.got == got]
    assert found, caught.value
    assert found[0].place.endswith(f"{NAME}.records.visits, visits.csv row {row}")
    assert expected in found[0].expected


BETWEEN = [
    ("blocked_low_pct,blocked_high_pct", "60,40", "blocked_low_pct not above blocked_high_pct", "60 and 40"),
    ("blocked_before_pct,blocked_low_pct,blocked_high_pct", "20,10,30", "blocked_before_pct, or a band, not both", "both"),
    ("blocked_low_pct,blocked_high_pct", "60,", "blocked_low_pct and blocked_high_pct together", "one of them"),
    ("blocked_before_pct,blocked_after_pct", "20,40", "no more blocked after the visit than before", "40 after 20"),
    ("time_end,crew_size", "2020-01-05T09:00+00:00,2", "time_end not before time_start", "2020-01-05T09:00+0000"),
]  # fmt: skip


@pytest.mark.parametrize("case", BETWEEN, ids=lambda case: case[3])
def test_cells_at_odds_with_each_other_are_refused(tmp_path: Path, case: tuple[str, str, str, str]) -> None:
    columns, cells, expected, got = case
    head = f"asset_id,time_start,reason,observed,blocked_basis,{columns}"
    seen = f"{head}\nlane,2020-01-06T09:00+00:00,scheduled,yes,clear_opening,{cells}\n"
    with pytest.raises(StudyError) as caught:
        study(tmp_path, seen=seen)
    (fault,) = caught.value.faults
    assert (fault.expected, fault.got) == (expected, got)


def test_assets_and_incidents_are_refused_too_and_all_at_once(tmp_path: Path) -> None:
    with pytest.raises(StudyError) as caught:
        study(
            tmp_path,
            assets=ASSETS.replace("local", "").replace("mill", "lane"),
            seen=SOUND.replace(",clear_opening,", ",,", 1),
            incidents=INCIDENTS.replace(",80,100", ",100,80").replace("a2", "a1"),
        )
    told = {(fault.place.rsplit(", ", 1)[-1], fault.got) for fault in caught.value.faults}
    assert told >= {
        ("assets.csv row 2", "none"),  # levels without a datum
        ("assets.csv row 3", "the same as in row 2"),
        ("visits.csv row 2", "none"),  # a per cent without a basis
        ("incidents.csv row 2", "100 and 80"),
        ("incidents.csv row 3", "the same as in row 2"),
    }
    with pytest.raises(StudyError) as caught:
        study(tmp_path, assets=ASSETS.replace(",screen,", ",sieve,"), seen=SOUND.replace(",20,", ",x,", 1))
    assert len(caught.value.faults) == 2


def test_levels_on_two_data_and_a_date_that_is_none_are_refused(tmp_path: Path) -> None:
    two = ASSETS.replace("mill,culvert,,,,,", "mill,culvert,,,29.80,national,").replace("2019-03-01", "2019-13-01")
    with pytest.raises(StudyError) as caught:
        study(tmp_path, assets=two)
    told = {(fault.place.rsplit(", ", 1)[-1], fault.got) for fault in caught.value.faults}
    assert told == {("assets.csv row 2", '"2019-13-01" in survey_date')}
    with pytest.raises(StudyError) as caught:
        study(tmp_path, assets=two.replace("2019-13-01", "2019-03-01"))
    (fault,) = caught.value.faults
    assert fault.expected == 'the one datum of the file, "local"'
    assert fault.got == 'the text "national"'


def test_gross_shares_need_the_bars(tmp_path: Path) -> None:
    with pytest.raises(StudyError) as caught:
        study(tmp_path, assets=ASSETS.replace("125,20", ","), seen=SOUND.replace("clear_opening", "gross_total"))
    assert len(caught.value.faults) == 5
    assert "bar_gap_mm and bar_width_mm of the asset" in caught.value.faults[0].expected


KEYS = [
    ('asset = "lane"', 'asset = "line"', f"{NAME}.records.asset", 'Write "lane".'),
    (f'prior = "{PRIOR}"', 'prior = "screen, medium"', f"{NAME}.records.prior", f'Write "{PRIOR}".'),
    ('visits = "visits.csv"', 'visits = "visit.csv"', f"{NAME}.records.visits", "Correct the name or add the file."),
    ('visits = "visits.csv"', 'vists = "visits.csv"', f"{NAME}.records.vists", "Did you mean visits?"),
    ("records =", "recods =", f"{NAME}.recods", "Did you mean records?"),
    ('asset = "lane"', 'asset = "lane", reasons = ["alerts"]', f"{NAME}.records.reasons", 'Write "alert".'),
    ('asset = "lane"', 'asset = "lane", class_bands = { part = [60, 40] }', f"{NAME}.records.class_bands.part", "Write [10, 60], for example."),
]  # fmt: skip


@pytest.mark.parametrize("case", KEYS, ids=lambda case: case[2] + case[3])
def test_keys_of_the_records(tmp_path: Path, case: tuple[str, str, str, str]) -> None:
    old, new, place, remedy = case
    with pytest.raises(StudyError) as caught:
        study(tmp_path, blockage=RECORDS.replace(old, new))
    (fault,) = caught.value.faults
    assert fault.place.split(", ", 1)[1].startswith(place)
    assert fault.remedy == remedy


POOLED = RECORDS.replace('asset = "lane"', 'pooled = true, asset = "lane"')
OTHERS = ("weir", "ford", "lock", "farm")


def of_many(own: int) -> tuple[str, str]:
    """Assets with four more screens, each with 40 visits and mostly shut; and so many visits to this one, all clear."""
    assets = ASSETS + "".join(f"{name},screen,125,20,30.10,local,14,2019-03-01\n" for name in OTHERS)
    rows = [visit(7.0 * k, 0.0) for k in range(own)]
    for place, name in enumerate(OTHERS):
        shut = [100.0 if k % 4 <= 2 - place % 2 else 40.0 for k in range(40)]
        rows += [visit(14.0 * k + place, share).replace("lane,", f"{name},", 1) for k, share in enumerate(shut)]
    return assets, table(*rows)


def test_a_pooled_prior_learns_from_the_other_screens(tmp_path: Path) -> None:
    """Few clear looks among screens that are mostly shut tell less than many do."""
    assets, seen = of_many(3)
    alone = recorded(tmp_path / "alone", assets=assets, seen=seen)
    few = recorded(tmp_path / "few", assets=assets, seen=seen, blockage=POOLED)
    assert few.fit.prior.at_one > 0.4 > alone.fit.prior.at_one
    assert few.at_one > 3.0 * alone.at_one
    words = basis(tmp_path / "words", assets=assets, seen=seen, blockage=POOLED)
    assert "pooled with 4 others of its kind (160 looks; empirical Bayes)" in words
    assets, seen = of_many(200)
    many = recorded(tmp_path / "many", assets=assets, seen=seen, blockage=POOLED)
    assert many.at_one < 0.25 * few.at_one


def test_too_few_screens_to_pool_are_refused(tmp_path: Path) -> None:
    with pytest.raises(StudyError, match=r"records\.pooled.*usable looks at 3 others of its kind at least"):
        study(tmp_path, blockage=POOLED)


PLAIN_VISITS = (
    "Date,Blocked %,Cleaned,Remarks\n2024-01-12,30,full,leaves\n2024-03-20,0,none,\n2024-06-02,60,full,branch\n"
)
"""A spreadsheet of one screen, as its crew keeps it."""

PLAIN_RECORDS = """records = { visits = { file = "visits.csv", columns = { cleared = "Cleaned" } }, asset = "mine", \
prior = "screen, medium debris, routine raking", every_visit = """


def of_a_crew(tmp_path: Path, every_visit: str) -> Study:
    """The small study with a spreadsheet that knows one screen alone."""
    tmp_path.mkdir(exist_ok=True)
    (tmp_path / "visits.csv").write_text(PLAIN_VISITS, encoding="utf-8")
    return small_study(tmp_path, (BLOCKAGE, f"blockage = {{ {PLAIN_RECORDS}{{ {every_visit} }} }} }}"))


def test_a_spreadsheet_of_one_screen_needs_no_assets(tmp_path: Path) -> None:
    """The same looks as with a file of assets and every column written out."""
    said = 'reason = "scheduled", observed = "yes", blocked_basis = "clear_opening"'
    short = of_a_crew(tmp_path / "short", said)
    full = tmp_path / "full"
    full.mkdir()
    (full / "assets.csv").write_text("asset_id,kind\nmine,screen\n", encoding="utf-8")
    lines = ["asset_id,time_start,reason,observed,blocked_before_pct,blocked_basis,cleared"]
    for row in PLAIN_VISITS.splitlines()[1:]:
        day, share, cleared, _ = row.split(",")
        lines.append(f"mine,{day},scheduled,yes,{share},clear_opening,{cleared}")
    (full / "visits.csv").write_text("\n".join(lines), encoding="utf-8")
    records = 'records = { assets = "assets.csv", visits = "visits.csv", asset = "mine", prior = "screen, medium debris, routine raking" }'
    long = small_study(full, (BLOCKAGE, f"blockage = {{ {records} }}"))
    found, wanted = (inputs.items[inputs.index(NAME)] for inputs in (build(short).inputs, build(long).inputs))
    chances = [0.05, 0.3, 0.5, 0.7, 0.95]
    assert found.distribution is not None
    assert wanted.distribution is not None
    assert found.distribution.quantile(chances).tolist() == wanted.distribution.quantile(chances).tolist()
    assert found.basis == wanted.basis
    assert short.ignored == {"visits.csv": ("Remarks",)}


WRONG = [
    ('reason = "routine"', 'in reason; got the text "routine"'),
    ('raisin = "scheduled"', 'got the text "raisin". Write "reason"'),
    ('reason = "scheduled"', "a column observed; got none. Add the column, or say it once in every_visit."),
    (
        'reason = "scheduled", observed = "yes"',
        "got none in any row. Add the column, or write every_visit = { blocked_basis",
    ),
    ("reason = 1", "a table of words by the columns of the visits"),
]


@pytest.mark.parametrize(("said", "words"), WRONG, ids=lambda each: each)
def test_what_is_said_of_every_visit_is_checked_once(tmp_path: Path, said: str, words: str) -> None:
    with pytest.raises(StudyError) as refused:
        of_a_crew(tmp_path, said)
    assert words in str(refused.value)
    assert len(refused.value.faults) == 1
