"""Reading a study: from which file, what a broken file says, and that all faults come in one pass."""
# ruff: noqa: E501  (tables, one case a line)

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from overbank.errors import Fault, StudyError
from overbank.study.load import read_study

from .sound import NORMAL_DEPTH, RATING, SOUND, edited, faults, line_of, only_fault, read


def test_a_sound_study_keeps_its_text_and_its_hash(tmp_path: Path) -> None:
    study = read(tmp_path, SOUND)
    assert study.title == "A sound study (invented)"
    assert study.path == tmp_path / "study.toml"
    assert study.folder == tmp_path
    assert study.text == SOUND
    assert study.sha256 == hashlib.sha256(SOUND.encode()).hexdigest()


def test_a_folder_stands_for_the_study_in_it(tmp_path: Path) -> None:
    read(tmp_path, SOUND)
    assert read_study(tmp_path).path == tmp_path / "study.toml"
    assert read_study(str(tmp_path)).title == "A sound study (invented)"


def test_windows_text_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    file = tmp_path / "study.toml"
    file.write_bytes(b"\xef\xbb\xbf" + SOUND.replace("\n", "\r\n").encode())
    assert read_study(file).title == "A sound study (invented)"


@pytest.mark.parametrize("name", ["missing.toml", "", "nul\0byte"])
def test_a_file_that_is_not_there(name: str, tmp_path: Path) -> None:
    path = str(tmp_path / name) if name else str(tmp_path)
    with pytest.raises(StudyError) as caught:
        read_study(path)
    (fault,) = caught.value.faults
    assert fault.expected == "a study file, or a folder that holds study.toml"
    assert fault.place.startswith(str(tmp_path))


def test_a_missing_file_says_how_to_begin(tmp_path: Path) -> None:
    with pytest.raises(StudyError) as caught:
        read_study(tmp_path / "missing.toml")
    (fault,) = caught.value.faults
    assert fault.got == "no file of that name"
    assert fault.remedy == 'Correct the path, or begin a study with "overbank new FOLDER".'


def test_text_that_is_not_utf8(tmp_path: Path) -> None:
    file = tmp_path / "study.toml"
    file.write_bytes(b'title = "sound"\nbasis = "\xe9t\xe9"\n')
    with pytest.raises(StudyError) as caught:
        read_study(file)
    fault = Fault("line 2", "text in UTF-8", "the byte 0xe9, which is not", "Save the file as UTF-8.")
    assert caught.value.faults == (fault,)


SYNTAX = [
    ("span_m = 2.4", "span_m 2.4", "line 27, column 8", '"span_m 2.4"', "Write key = value."),
    ("span_m = 2.4", "span_m = ", "line 27, column 10", '"span_m ="', 'Write a number, true, false, a text in "quotation marks", a list or a table.'),
    ("span_m = 2.4", "span_m = 2,4", "line 27, column 11", '"span_m = 2,4"', "Write a decimal point, not a comma."),
    ("span_m = 2.4", "span_m = 2.4\nspan_m = 2.5", "line 28, column 13", '"span_m = 2.5"', "The key or table is already there: remove or rename one of the two."),
    ("[element.road]", "[element.screen]", "line 47, column 16", '"[element.screen]"', "The key or table is already there: remove or rename one of the two."),
    ('id = "garden"', 'id = "garden', "line 54, column 13", '"id = "garden"', "Close the text with a quotation mark on the same line."),
    ("width_m = 4.0 }", "width_m = 4.0", "line 55, column 47", '"section = { shape = "rectangle", width_m = 4.0"', "Separate the pairs with commas and close the table with }."),
    ("rank_correlation = 0.4\n", "rank_correlation = [0.4\n", "line 64", '"rank_correlation = [0.4"', "Close the list with ]."),
]  # fmt: skip


HABITS = [
    ("span_m = 2.4", "span_m = 2,4", "Write a decimal point, not a comma."),
    ("{ mean = 1.0, sd = 0.05 }", "{ mean = 1,0, sd = 0.05 }", "Write a decimal point, not a comma."),
    ("length_m = 80.0", "length_m = 80 m  # long", "Write the number alone; its unit stands at the end of its name."),
    ("{ mean = 1.0, sd = 0.05 }", "{ mean = 1.0 sd = 0.05 }", "Separate the pairs with commas and close the table with }."),
    ("assurance = 0.9", "assurance = 90%", "Write a share from 0 to 1, so 0.05 for 5 per cent."),
    ('shape = "box"', "shape = \u201cbox\u201d", 'Write straight quotation marks, "...".'),
    ("head_factor = { normal", "head_factor = {  # scatter\nnormal", "Write all of the table between { and } on one line."),
    ('[[element]]\nkind = "channel"', '[element]\nkind = "channel"', "Write it in double brackets, [[...]]."),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "remedy"), HABITS, ids=lambda part: part)
def test_what_hands_are_used_to_is_told_what_to_write_instead(old: str, new: str, remedy: str, tmp_path: Path) -> None:
    assert only_fault(tmp_path, edited((old, new))).remedy == remedy


def refused(path: Path) -> str:
    """The one fault of what is no study, after what was expected."""
    with pytest.raises(StudyError) as caught:
        read_study(path)
    (fault,) = caught.value.faults
    assert (fault.place, fault.expected) == (str(path), "a study file, or a folder that holds study.toml")
    return f"{fault.got}. {fault.remedy}"


BEGIN = 'Correct the path, or begin a study with "overbank new FOLDER".'


@pytest.mark.parametrize("content", [b"a,b\n1,2\n", b"\x89PNG\r\n"], ids=["text", "bytes"])
def test_a_file_of_another_kind_is_no_study(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "table.csv").write_bytes(content)
    assert refused(tmp_path / "table.csv") == f"a file of another kind. {BEGIN}"


def test_a_toml_file_with_no_key_of_a_study_is_no_study(tmp_path: Path) -> None:
    (tmp_path / "requirements.toml").write_text('authority = "a board"\n[[line]]\n', encoding="utf-8")
    assert refused(tmp_path / "requirements.toml") == f"a file with the keys authority, line. {BEGIN}"


def test_a_folder_without_a_study_says_what_it_holds(tmp_path: Path) -> None:
    assert refused(tmp_path) == f"a folder without one. {BEGIN}"
    (tmp_path / "brook").mkdir()
    read(tmp_path / "brook", SOUND)
    assert refused(tmp_path) == 'a folder of studies. Name one of them; only "overbank run" takes all of them.'
    (tmp_path / "straight.toml").write_text(SOUND, encoding="utf-8")
    assert refused(tmp_path) == "a folder with straight.toml. Name the study file itself."


@pytest.mark.parametrize("case", SYNTAX, ids=lambda case: case[3])
def test_what_is_not_toml_is_shown_with_line_and_column(case: tuple[str, ...], tmp_path: Path) -> None:
    old, new, place, got, remedy = case
    fault = only_fault(tmp_path, edited((old, new)))
    assert fault.place == place
    assert fault.expected.startswith("TOML (")
    assert fault.got == got
    assert fault.remedy == remedy


MONSTERS = ["x = " + "[" * 5000 + "]" * 5000, "x = 1" + "0" * 5000, "flow" + ".a" * 3000 + " = 1", "\0"]


@pytest.mark.parametrize("text", MONSTERS, ids=["deep list", "long number", "deep table", "zero byte"])
def test_monstrous_text_is_refused_in_words(text: str, tmp_path: Path) -> None:
    assert faults(tmp_path, text)


def test_all_faults_come_in_one_pass_in_the_order_of_their_lines(tmp_path: Path) -> None:
    text = edited(
        ("samples = 1024", "samples = 1000"),
        ("target_probability = 0.05\n", ""),
        ("cov = 0.18", "cov = -1"),
        ("span_m = 2.4", 'spam_m = "2.4"'),
        ("downstream_invert_m = 30.00", "downstream_invert_m = 31"),
        ('edge = "wingwalls 30 to 75 deg"', 'edge = "no such edge"'),
        ("gap_m = 0.125", "gap_m = -1"),
        ("level_m = 32.6", "level_m = 29"),
        ("bank_level_m = 32.4", "bank_level_m = 30"),
        ('"lane.screen.blockage"]', '"lane.screen.blokage"]'),
    )
    found = faults(tmp_path, text)
    names = [fault.place.partition(", ")[2] for fault in found]
    assert names == [
        "run.samples",
        "decision.target_probability",
        "flow.design_m3_s.lognormal",
        "lane.barrel.spam_m",
        "lane.barrel.downstream_invert_m",
        "lane.inlet.edge",
        "lane.screen.gap_m",
        "lane.road.level_m",
        "garden.bank_level_m",
        "dependence 1.between 2",
    ]
    assert [fault.place for fault in found][1] == f"line {line_of('[decision]', text)}, decision.target_probability"


def test_a_fault_of_a_number_is_not_told_again_by_what_leans_on_it(tmp_path: Path) -> None:
    text = edited(
        ("cov = 0.18", "cov = -0.18"),  # the dependence names this flow
        ("upstream_invert_m = 30.10", 'upstream_invert_m = "30.10"'),  # bank and road are held against it
    )
    names = [fault.place.partition(", ")[2] for fault in faults(tmp_path, text)]
    assert names == ["flow.design_m3_s.lognormal", "lane.barrel.upstream_invert_m"]


def test_the_message_lists_every_fault_under_the_file_name(tmp_path: Path) -> None:
    with pytest.raises(StudyError) as caught:
        read(tmp_path, edited(("count = 1", "count = 0"), ("gap_m = 0.125", "gap_m = 0")))
    first, *lines = str(caught.value).splitlines()
    assert first == f"{tmp_path / 'study.toml'}: 2 faults"
    assert lines[0] == (
        "  line 26, lane.barrel.count: expected a whole number from 1 to 20; got the number 0. Correct the number."
    )
    assert len(lines) == 2


RATED = edited((NORMAL_DEPTH, 'rating = "tailwater.csv"'))


@pytest.mark.parametrize(
    ("content", "place", "expected", "got"),
    [
        (RATING.replace("5,30.8", "10,30.8"), "row 4", "a flow above that of the row before it, 10", "10"),
        (
            RATING.replace("31.2", "30.7"),
            "row 4",
            "a level not below that of the row before it, 30.8",
            "30.7",
        ),
        (RATING.replace("31.2", "high"), "row 4", "a number in every cell", '"high"'),
        (RATING.replace("31.2", ""), "row 4", "a number in every cell", "an empty cell"),
        (RATING.replace("31.2", "nan"), "row 4", "a number in every cell", '"nan"'),
        (RATING.replace("10,31.2", "10;31.2"), "row 4", "2 cells, flow_m3_s,level_m", "1 cell"),
        (RATING.replace(",", ";"), "row 1", "commas between the cells", "semicolons"),
        (RATING.replace(",", "\t"), "row 1", "commas between the cells", "tabs"),
        (RATING.replace("flow_m3_s", "flow"), "row 1", "the header flow_m3_s,level_m", '"flow,level_m"'),
        ("", "row 1", "the header flow_m3_s,level_m", "an empty file"),
        ("flow_m3_s,level_m\n5,30\n", "", "at least two rows of flow and level", "1"),
        (RATING.replace("\n0,", "\n-1,"), "row 2", "a flow not below 0", "-1"),
        (
            "flow_m3_s,level_m\n0,29.9\n5,30.8\n",
            "-",
            "the median design flow, 7.5 m3/s",
            "flows from 0 to 5 m3/s",
        ),
    ],
)
def test_a_rating_that_cannot_be_names_its_row(
    content: str, place: str, expected: str, got: str, tmp_path: Path
) -> None:
    (tmp_path / "tailwater.csv").write_text(content, encoding="utf-8")
    fault = only_fault(tmp_path, RATED)
    where = {"-": "", "": ", tailwater.csv"}.get(place, f", tailwater.csv {place}")
    assert fault.place == f"line {line_of('rating =', RATED)}, tailwater.rating{where}"
    assert expected in fault.expected
    assert fault.got == got


def test_every_faulty_row_is_named_up_to_ten(tmp_path: Path) -> None:
    rows = "".join(f"{flow},x\n" for flow in range(30))
    (tmp_path / "tailwater.csv").write_text("flow_m3_s,level_m\n" + rows, encoding="utf-8")
    found = faults(tmp_path, RATED)
    assert [fault.place.rpartition(" ")[2] for fault in found[:10]] == [str(row) for row in range(2, 12)]
    assert found[10].got == "20 more faulty rows"


def test_a_sound_rating_and_observed_values_are_read(tmp_path: Path) -> None:
    (tmp_path / "tables").mkdir()
    (tmp_path / "tables" / "rated.csv").write_text(RATING + "\n  \n", encoding="utf-8-sig")
    (tmp_path / "flows.csv").write_text("value\n6\n7\n8.5\n", encoding="utf-8")
    text = edited(
        (NORMAL_DEPTH, 'rating = "tables/rated.csv"'),
        ("lognormal = { median = 7.5, cov = 0.18 }", 'empirical = { file = "flows.csv" }'),
    )
    content = read(tmp_path, text).content
    assert content.tailwater.rating is not None
    assert content.tailwater.rating.flows == (0.0, 5.0, 10.0, 20.0)
    assert content.tailwater.rating.levels == (29.9, 30.8, 31.2, 31.6)
    assert content.flow.design_m3_s.median == 7.0


@pytest.mark.parametrize(
    ("content", "row", "expected"),
    [
        ("value\n6\nseven\n", " row 3", "a number in every cell"),
        ("6\n7\n", " row 1", "the header value"),
        ("value\n6\n", "", "at least two observed values"),
        ("value\n6,7\n8\n", " row 2", "1 cell, value"),
    ],
)
def test_observed_values_that_cannot_be(content: str, row: str, expected: str, tmp_path: Path) -> None:
    (tmp_path / "flows.csv").write_text(content, encoding="utf-8")
    fault = only_fault(
        tmp_path, edited(("lognormal = { median = 7.5, cov = 0.18 }", 'empirical = { file = "flows.csv" }'))
    )
    assert fault.place == f"line 14, flow.design_m3_s.empirical.file, flows.csv{row}"
    assert fault.expected == expected


@pytest.mark.parametrize(
    "name", ["../outside.csv", "sub/../../outside.csv", "{outside}", "link.csv", "linked/outside.csv"]
)
def test_nothing_outside_the_folder_is_read(name: str, tmp_path: Path) -> None:
    (tmp_path / "outside.csv").write_text(RATING, encoding="utf-8")
    folder = tmp_path / "study"
    (folder / "sub").mkdir(parents=True)
    (folder / "link.csv").symlink_to(tmp_path / "outside.csv")
    (folder / "linked").symlink_to(tmp_path)
    name = name.format(outside=tmp_path / "outside.csv")
    fault = only_fault(folder, edited((NORMAL_DEPTH, f'rating = "{name}"')))
    assert fault.place == "line 17, tailwater.rating"
    assert fault.expected == "the name of a CSV file in the study's own folder"
    assert fault.got.endswith("which leads out of it")
    assert fault.remedy == "Copy the file into the study's folder."


@pytest.mark.parametrize(
    ("name", "got"),
    [
        ('"none.csv"', 'the text "none.csv", which is not there'),
        ('"."', 'the text ".", which is not there'),
        ('""', 'the text ""'),
        ('"a\\u0000b"', 'the text "a\0b"'),
        ("3", "the number 3"),
    ],
)
def test_a_table_that_is_not_there(name: str, got: str, tmp_path: Path) -> None:
    fault = only_fault(tmp_path, edited((NORMAL_DEPTH, f"rating = {name}")))
    assert fault.got == got


def test_a_table_with_an_endless_cell(tmp_path: Path) -> None:
    (tmp_path / "tailwater.csv").write_text(f"flow_m3_s,level_m\n1,{'3' * 200_000}\n", encoding="utf-8")
    fault = only_fault(tmp_path, RATED)
    assert fault.place.endswith("tailwater.rating, tailwater.csv")
    assert (fault.expected, fault.remedy) == ("a CSV file", "Correct the file.")
    assert len(fault.got) < 100


def test_a_table_that_is_not_utf8(tmp_path: Path) -> None:
    (tmp_path / "tailwater.csv").write_bytes(b"flow_m3_s,level_m\n1,\xff\n")
    fault = only_fault(tmp_path, RATED)
    assert fault.place.endswith("tailwater.rating, tailwater.csv")
    assert fault.remedy == "Save it as CSV in UTF-8, or as a workbook with the ending .xlsx."
