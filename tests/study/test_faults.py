"""Every class of fault: one small change to a sound study, and the place, the words and the remedy that come of it.

The line is counted by the test itself. Limits and families are those of the study's own documentation.
"""
# ruff: noqa: E501  (tables, one case a line)

from __future__ import annotations

from pathlib import Path

import pytest

from overbank.errors import Fault

from .sound import NORMAL_DEPTH, SOUND, edited, line_of, only_fault

NARROW = "Narrow the distributions, or cut them off with low and high."
PARAMETERS = "Correct the parameters of the distribution."
CORRECT = "Correct the number (the unit stands at the end of its name)."
BLOCKAGE = "blockage = { inflated_beta = { at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05 } }"
BANK = "{ normal = { mean = 32.1, sd = 0.05 }, survey = { sd_after = 0.02, cost = 600 } }"
FLOW = "lognormal = { median = 7.5, cov = 0.18 }"

# what stands in the sound study, what is put there, the name in the fault, a part of what was expected, what came
# in full, and the remedy in full
KEYS = [
    ("span_m = 2.4", "spam_m = 2.4", "lane.barrel.spam_m", "span_m, rise_m", "the unknown key spam_m", "Did you mean span_m?"),
    ("samples = 1024", "samplse = 1024", "run.samplse", "samples, replicates", "the unknown key samplse", "Did you mean samples?"),
    ("title =", "titel =", "titel", "title, document, run", "the unknown key titel", "Did you mean title?"),
    ("[flow]\n", "[flwo]\n", "flwo", "title, document, run", "the unknown key flwo", "Did you mean flow?"),
    (FLOW, "lognorml = { median = 7.5, cov = 0.18 }", "flow.design_m3_s.lognorml", "normal, lognormal", "the unknown key lognorml", "Did you mean lognormal?"),
    ("cov = 0.18", "cv = 0.18", "flow.design_m3_s.lognormal.cv", "median, cov", "the unknown key cv", "Did you mean cov?"),
    ("upstream_invert_m = 30.10", "inlet_invert_m = 30.10", "lane.barrel.inlet_invert_m", "count, length_m", "the unknown key inlet_invert_m", "Did you mean upstream_invert_m?"),
    ("upstream_invert_m = 30.10", "upstream_invert_m = 30.10\ninvert_m = 30.10", "lane.barrel.invert_m", "count, length_m", "the unknown key invert_m", "Write one of these keys, or remove it."),
    ("bar_m = 0.020", "bar_mm = 20", "lane.screen.bar_mm", "width_m, height_m", "the unknown key bar_mm", "Did you mean bar_m?"),
    ("seed = 3", "seed = 3\nseedd = 4", "run.seedd", "samples, replicates", "the unknown key seedd", "Did you mean seed?"),
    ("seed = 3", "seed = 3\ncolour = 1", "run.colour", "samples, replicates", "the unknown key colour", "Write one of these keys, or remove it."),
    ("manning_n = 0.045", "manning_n = { value = 0.045, survey = { sd_after = 0.1, cost = 2 } }", "tailwater.normal_depth.manning_n.survey", "value, basis", "the unknown key survey", "Write one of these keys, or remove it."),
]  # fmt: skip
WORDS = [
    ('kind = "channel"', 'kind = "chanel"', "garden.kind", '"culvert", "channel", "weir", "bridge", "gate" or "side_weir"', 'the text "chanel"', 'Write "channel".'),
    ('shape = "box"', 'shape = "bux"', "lane.barrel.shape", '"box", "pipe", "arch", "ellipse", "pipe_arch", "egg", "horseshoe" or "traced"', 'the text "bux"', 'Write "box".'),
    ('shape = "rectangle"', "shape = 4", "garden.section.shape", '"rectangle", "trapezoid" or "surveyed"', "the number 4", "Write one of these words."),
    ('edge = "wingwalls 30 to 75 deg"', 'edge = "wingwals 30 to 75"', "lane.inlet.edge", "table of inlets for a barrel of the shape box", 'the text "wingwals 30 to 75"', 'Write "wingwalls 30 to 75 deg" or "wingwalls 90 or 15 deg".'),
    ('"bottom_up"]', '"bottom"]', "lane.screen.pattern.discrete.values 2", '"uniform", "floating_raft" or "bottom_up"', 'the text "bottom"', 'Write "bottom_up".'),
    ('pattern = { discrete = { values = ["uniform", "bottom_up"], weights = [0.7, 0.3] } }', 'pattern = "floating raft"', "lane.screen.pattern", "or a discrete distribution of them", 'the text "floating raft"', 'Write "floating_raft".'),
    ('evidence = "local record"', 'evidence = "locl record"', "flow.design_m3_s.evidence", '"measured", "local record", "published" or "judgement"', 'the text "locl record"', 'Write "local record".'),
    ("seed = 3", 'seed = 3\ndesign = "sobel"', "run.design", '"sobol", "latin_hypercube" or "monte_carlo"', 'the text "sobel"', 'Write "sobol".'),
    ("gap_m = 0.125", 'gap_m = 0.125\nbar_shape = "cirle"', "lane.screen.bar_shape", '"rectangle", "round upstream face"', 'the text "cirle"', 'Write "circle".'),
    ('at = "lane"', 'at = "lanes"', "decision.at", "the id of an element with a bank_level_m", 'the text "lanes"', 'Write "lane".'),
]  # fmt: skip
TYPES = [
    ("span_m = 2.4", 'span_m = "2.4"', "lane.barrel.span_m", "a size [m] from 0.01 to 50, or a distribution", 'the text "2.4"', "Remove the quotation marks."),
    ("span_m = 2.4", 'span_m = "wide"', "lane.barrel.span_m", "a size [m] from 0.01 to 50, or a distribution", 'the text "wide"', "Write a number."),
    ("span_m = 2.4", 'span_m = "2,4"', "lane.barrel.span_m", "a size [m]", 'the text "2,4"', "Remove the quotation marks, and write a decimal point."),
    ("span_m = 2.4", 'span_m = "2.4 m"', "lane.barrel.span_m", "a size [m]", 'the text "2.4 m"', "Write the number alone; its unit stands at the end of its name."),
    ("assurance = 0.9", 'assurance = "90 %"', "decision.assurance", "a number between 0 and 1", 'the text "90 %"', "Write a share from 0 to 1, so 0.05 for 5 per cent."),
    (BLOCKAGE, BLOCKAGE + "\ndebris_m2 = 2", "lane.screen.blockage", "a blocked share from 0 to 1, or debris_m2, or debris_m3", "both", "Keep one.", "blockage = {"),
    (BLOCKAGE, "blockage = 40", "lane.screen.blockage", "a blocked share from 0 to 1", "the number 40", "Write 0.4 for 40 %."),
    ("span_m = 2.4", "span_m = true", "lane.barrel.span_m", "a size [m]", "true", "Write a number."),
    ("span_m = 2.4", "span_m = 2026-11-25", "lane.barrel.span_m", "a size [m]", "a date or time, 2026-11-25", "Write a number."),
    ("span_m = 2.4", "span_m = [2.4]", "lane.barrel.span_m", "a size [m]", "a list of 1", "Write a number."),
    ("span_m = 2.4", "span_m = nan", "lane.barrel.span_m", "a size [m]", "the number nan", "Write a number."),
    ("span_m = 2.4", "span_m = { value = inf }", "lane.barrel.span_m.value", "a number", "the number inf", "Write a number."),
    ("cov = 0.18", 'cov = "0.18"', "flow.design_m3_s.lognormal.cov", "a number", 'the text "0.18"', "Remove the quotation marks."),
    (FLOW, "lognormal = 7.5", "flow.design_m3_s.lognormal", "a table with the keys median, cov, mean, sd", "the number 7.5", "Write { key = value, ... }."),
    ("weights = [0.7, 0.3]", "weights = 0.7", "lane.screen.pattern.discrete.weights", "a list of numbers", "the number 0.7", "Write [first, second, ...]."),
    ("weights = [0.7, 0.3]", 'weights = [0.7, "0.3"]', "lane.screen.pattern.discrete.weights 2", "a number", 'the text "0.3"', "Remove the quotation marks."),
    ("count = 1", "count = 1.0", "lane.barrel.count", "a whole number from 1 to 20", "the number 1", "Write 1."),
    ("count = 1", "count = { value = 1 }", "lane.barrel.count", "a whole number from 1 to 20", "a table with the keys value", "Write a whole number."),
    ("gap_m = 0.125", 'gap_m = 0.125\noverflow = "no"', "lane.screen.overflow", "true or false", 'the text "no"', "Write true or false, without quotation marks."),
    ('basis = "estimate"', "basis = 3", "flow.design_m3_s.basis", "a text in quotation marks", "the number 3", "Put it in quotation marks."),
    ('basis = "estimate"', 'basis = " "', "flow.design_m3_s.basis", "a text in quotation marks", "an empty text", "Write what it is, or leave the key out."),
    ('between = ["flow.design_m3_s", "lane.screen.blockage"]', 'between = "flow.design_m3_s"', "dependence 1.between", "two names of uncertain numbers", 'the text "flow.design_m3_s"', 'Write ["flow.design_m3_s", "lane.screen.blockage"], for example.'),
    ('section = { shape = "rectangle", width_m = 4.0 }', "section = 4.0", "garden.section", "a table with the key shape", "the number 4", "Write { shape = ..., ... }."),
]  # fmt: skip
MISSING = [
    ("rise_m = 1.5\n", "", "lane.barrel.rise_m", "the clear height of one barrel or opening [m]", "nothing", "Add rise_m = ... here.", "[element.barrel]"),
    ('kind = "channel"\n', "", "garden.kind", 'kind = "culvert", "channel", "weir", "bridge", "gate" or "side_weir"', "nothing", "Add kind = ... here.", "[[element]]\nid"),
    ("at_zero = 0.2, a", "a", "lane.screen.blockage.inflated_beta.at_zero", "a number for at_zero", "nothing", "Add at_zero = ... here.", "blockage = {"),
    ("median = 7.5, cov = 0.18", "median = 7.5", "flow.design_m3_s.lognormal", "median and cov, or mean and sd", "median", "Give one of the two pairs.", "design_m3_s"),
    (f"{FLOW}, basis", "basis", "flow.design_m3_s", "value, or one distribution: normal, lognormal", "a table with the keys basis, evidence", "Add value or a distribution.", "design_m3_s"),
    (NORMAL_DEPTH, "", "tailwater", "exactly one of normal_depth, level_m, rating", "none", "Add one of them.", "[tailwater]"),
]  # fmt: skip
AGREEMENT = [
    (FLOW, f"{FLOW}, normal = {{ mean = 3, sd = 1 }}", "flow.design_m3_s", "value, or one distribution", "lognormal and normal", "Keep one of them."),
    (NORMAL_DEPTH, f"level_m = 31\n{NORMAL_DEPTH}", "tailwater", "exactly one of normal_depth", "level_m and normal_depth", "Keep one of them.", "[tailwater]"),
    (NORMAL_DEPTH, "level_m = 31\nrating_shift_m = 0.1", "tailwater.rating_shift_m", "rating_shift_m only beside a rating", "one without", "Remove it, or add the rating.", "rating_shift_m"),
    ('id = "lane"', 'id = "lane"\nblockage = 0.1', "lane.blockage", "blockage on the screen", "one on the culvert", "Write it as screen.blockage only.", "blockage = 0.1"),
    ('id = "lane"', 'id = "lane"\npattern = "uniform"', "lane.pattern", "pattern on the screen", "one on the culvert", "Write it as screen.pattern only.", 'pattern = "uniform"'),
    ("gap_m = 0.125", 'gap_m = 0.125\nbar_shape = "circle"\nshape_factor = 1.8', "lane.screen.shape_factor", "bar_shape or shape_factor", "both", "Keep one: the factor belongs to the shape.", "shape_factor = 1.8"),
    ("gap_m = 0.125", "gap_m = 0.125\noverflow = false\noverflow_coefficient = 1.7", "lane.screen.overflow_coefficient", "no overflow_coefficient beside overflow = false", "one", "Remove it, or write overflow = true.", "overflow_coefficient"),
    ("sd_after = 0.02", "sd_after = 0.2", "lane.bank_level_m.survey.sd_after", "a standard deviation below the present one, 0.05", "0.2", "Correct it, or leave the survey out."),
    ("samples = 1024", "samples = 1000", "run.samples", "a power of two of samples in each of the 8 replicates", "the number 1000", "Write samples = 512 or 1024."),
    ("samples = 1024", 'samples = 1001\ndesign = "latin_hypercube"', "run.samples", "the same whole number of samples in each of the 8", "the number 1001", "Write samples = 1000 or 1008.", "samples = 1001"),
    ("samples = 1024\nreplicates = 8", "replicates = 7", "run.replicates", "a power of two of samples in each of the 7 replicates", "the number 16384", "Write samples = 14336 or 28672."),
]  # fmt: skip
RANGES = [
    ("manning_n = 0.045", "manning_n = 0.6", "tailwater.normal_depth.manning_n", "a Manning n from 0.005 to 0.5", "the number 0.6", CORRECT),
    ("manning_n = 0.045", "manning_n = 0.0045", "tailwater.normal_depth.manning_n", "a Manning n from 0.005 to 0.5", "the number 0.0045", CORRECT),
    ("rise_m = 1.5", "rise_m = -1.5", "lane.barrel.rise_m", "from the invert up to the soffit", "the number -1.5", CORRECT),
    ("gap_m = 0.125", "gap_m = 0", "lane.screen.gap_m", "a clear gap [m] from 0.001 to 2", "the number 0", CORRECT),
    ("inclination_deg = 60", "inclination_deg = 95", "lane.screen.inclination_deg", "an angle [deg] from 10 to 90", "the number 95", CORRECT),
    ("inclination_deg = 60", "inclination_deg = 0", "lane.screen.inclination_deg", "an angle [deg] from 10 to 90", "the number 0", CORRECT),
    ("slope = 0.003, man", "slope = 0.0, man", "tailwater.normal_depth.slope", "a bed slope above 0", "the number 0", CORRECT),
    ("slope = 0.003, man", "slope = -0.003, man", "tailwater.normal_depth.slope", "a bed slope above 0", "the number -0.003", CORRECT),
    ("count = 1", "count = 0", "lane.barrel.count", "a whole number from 1 to 20", "the number 0", "Correct the number."),
    ("target_probability = 0.05", "target_probability = 5", "decision.target_probability", "a number between 0 and 1", "the number 5", "Write 0.05 for 5 %."),
    ("target_probability = 0.05", "target_probability = 0", "decision.target_probability", "a number between 0 and 1", "the number 0", "Correct the number."),
    ("cost = 600", "cost = -1", "lane.bank_level_m.survey.cost", "a number not below 0", "the number -1", "Correct the number."),
    ("{ uniform = { low = 1.4, high = 1.7 } }", "2.9", "lane.road.coefficient", "a weir coefficient [m^0.5/s] from 1 to 2", "the number 2.9", CORRECT, "coefficient = 2.9"),
    (BLOCKAGE, "blockage = { uniform = { low = 0.5, high = 1.2 } }", "lane.screen.blockage", "a blocked share from 0 to 1", "values up to 1.2", "Narrow the distribution, or cut it off with high = 1."),
    (BLOCKAGE, "blockage = { normal = { mean = 0.3, sd = 0.1 } }", "lane.screen.blockage", "a blocked share from 0 to 1", "values down to -0.1 (1 chance in 30 000)", "Narrow the distribution, or cut it off with low = 0."),
    ("mean = 1.0, sd = 0.05", "mean = 1.0, sd = 0.2", "lane.inlet.head_factor", "a factor from 0.5 to 2", "values down to 0.2 (1 chance in 30 000)", "Narrow the distribution, or cut it off with low = 0.5."),
    ("median = 7.5, cov = 0.18", "median = -7.5, cov = 0.18", "flow.design_m3_s.lognormal", "median above 0", "median = -7.5, cov = 0.18", PARAMETERS),
    ("span_m = 2.4", f"span_m = 1{'0' * 400}", "lane.barrel.span_m", "a size [m]", "the number that no computer number can hold", "Write a number."),
]  # fmt: skip
DISTRIBUTIONS = [
    ("high = 0.018", "high = 0.013", "lane.barrel.manning_n.triangular", "mode between low 0.012 and high 0.013", "low = 0.012, mode = 0.014, high = 0.013", PARAMETERS),
    ("low = 1.4, high = 1.7", "low = 1.7, high = 1.4", "lane.road.coefficient.uniform", "low below high", "low = 1.7, high = 1.4", PARAMETERS),
    ("a = 1.5,", "a = 0.0,", "lane.screen.blockage.inflated_beta", "a above 0", "at_zero = 0.2, a = 0, b = 2.5, at_one = 0.05", PARAMETERS),
    ("at_one = 0.05", "at_one = 0.85", "lane.screen.blockage.inflated_beta", "sum to 1 at most", "at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.85", PARAMETERS),
    ("at_one = 0.05", "at_one = -0.05", "lane.screen.blockage.inflated_beta", "at_one between 0 and 1", "at_zero = 0.2, a = 1.5, b = 2.5, at_one = -0.05", PARAMETERS),
    ("at_zero = 0.2, a = 1.5, b = 2.5, at_one = 0.05", "at_zero = 1, a = 1.5, b = 2.5, at_one = 0", "lane.screen.blockage.inflated_beta", "a distribution that varies", "the one value 0", "Write { value = 0 }."),
    ("weights = [0.7, 0.3]", "weights = [0.7, 0.4]", "lane.screen.pattern.discrete", "weights that sum to 1", "weights = [0.7, 0.4]", PARAMETERS),
    ("weights = [0.7, 0.3]", "weights = [0.7]", "lane.screen.pattern.discrete", "one weight for each value", "weights = [0.7]", PARAMETERS),
    ("cov = 0.18", "cov = -0.18", "flow.design_m3_s.lognormal", "cov above 0", "median = 7.5, cov = -0.18", PARAMETERS),
    ("cov = 0.18", "cov = 1e200", "flow.design_m3_s.lognormal", "a number for cov no larger than 1e+100", "median = 7.5, cov = 1e+200", PARAMETERS),
    ("cov = 0.18", "cov = 0.18, low = 9, high = 8", "flow.design_m3_s.lognormal", "low below high", "median = 7.5, cov = 0.18, low = 9, high = 8", PARAMETERS),
]  # fmt: skip
GEOMETRY = [
    ("downstream_invert_m = 30.00", "downstream_invert_m = 30.60", "lane.barrel.downstream_invert_m", "an outlet invert above the inlet invert by no more than 0.02 of the length", "inlet invert and 0.02 of the length 30.54 against outlet invert 30.6", "Correct one of the two."),
    ("downstream_invert_m = 30.00", "downstream_invert_m = { uniform = { low = 30.3, high = 30.75 } }", "lane.barrel.downstream_invert_m", "an outlet invert above", "inlet invert and 0.02 of the length down to 30.54 against outlet invert up to 30.75", NARROW),
    ("downstream_invert_m = 30.00", "downstream_invert_m = { normal = { mean = 30.4, sd = 0.05 } }", "lane.barrel.downstream_invert_m", "an outlet invert above", "inlet invert and 0.02 of the length down to 30.54 against outlet invert up to 30.55", NARROW),
    (BANK, "30.0", "lane.bank_level_m", "a bank above the inlet invert", "bank 30 against inlet invert 30.1", "Correct one of the two.", "bank_level_m = 30.0"),
    ("mean = 32.1, sd = 0.05", "mean = 32.1, sd = 0.9", "lane.bank_level_m", "a bank above the inlet invert", "bank down to 29.4 against inlet invert up to 30.1", NARROW),
    ("bank_level_m = 32.4", "bank_level_m = 30.3", "garden.bank_level_m", "a bank above the bed at its upstream end", "bank 30.3 against bed 30.34", "Correct one of the two."),
    ("bed_level_m = 30.1\nbed_slope = 0.003", "bed_slope = 0.03", "garden.bank_level_m", "a bank above the bed at its upstream end", "bank 32.4 against bed 32.5", "Correct one of the two.", "bank_level_m = 32.4"),
    ("level_m = 32.6", "level_m = 30.0", "lane.road.level_m", "a road above the inlet invert", "road 30 against inlet invert 30.1", "Correct one of the two."),
    ("gap_m = 0.125", "gap_m = 0.125\nsill_level_m = 32.3", "lane.screen.sill_level_m", "a sill below the bank", "bank 32.1 against sill 32.3", "Correct one of the two.", "sill_level_m"),
    ("gap_m = 0.125", "gap_m = 0.125\nsill_level_m = 27.3", "lane.screen.sill_level_m", "a screen whose top is above the inlet invert", "top of the screen 29.3 against inlet invert 30.1", "Correct one of the two.", "sill_level_m"),
]  # fmt: skip
REFERENCES = [
    ('id = "garden"', 'id = "lane"', "lane.id", "an id that no other element bears", 'the text "lane", which element 1 bears too', "Rename one of them."),
    ('id = "garden"', 'id = "flow"', "flow.id", "a plain word of letters, digits, hyphens and underscores, other than", 'the text "flow"', "Choose another name."),
    ('id = "garden"', 'id = "my garden"', "my garden.id", "a plain word of letters, digits, hyphens and underscores", 'the text "my garden"', 'Write a short name, like "lane".'),
    ("rank_correlation = 0.4", "rank_correlation = 1.0", "dependence 1.rank_correlation", "a number between -1 and 1", "the number 1", "Correct the number."),
    ('"lane.screen.blockage"]', '"lane.screen.blokage"]', "dependence 1.between 2", "the name of an uncertain number", "the unknown name lane.screen.blokage", 'Did you mean "lane.screen.blockage"?'),
    ('"lane.screen.blockage"]', '"lane.screen.width_m"]', "dependence 1.between 2", "the name of an uncertain number", "lane.screen.width_m, which is certain", "Give that number a distribution, or remove the dependence."),
    ('"lane.screen.blockage"]', '"flow.design_m3_s"]', "dependence 1.between", "two names of uncertain numbers", 'the text "flow.design_m3_s" twice', "Name two different numbers."),
    ('at = "lane"', 'at = "garden"\n[garden]', "garden", "title, document, run", "the unknown key garden", "Write one of these keys, or remove it.", "[garden]"),
]  # fmt: skip
ALL = [*KEYS, *WORDS, *TYPES, *MISSING, *AGREEMENT, *RANGES, *DISTRIBUTIONS, *GEOMETRY, *REFERENCES]


@pytest.mark.parametrize("case", ALL, ids=lambda case: f"{case[2]}: {case[4]}"[:70])
def test_one_fault_with_its_place_and_its_remedy(case: tuple[str, ...], tmp_path: Path) -> None:
    old, new, name, expected, got, remedy, *marker = case
    text = edited((old, new))
    line = line_of(marker[0], text) if marker else line_of(old, SOUND) + new.rstrip("\n").count("\n")
    fault = only_fault(tmp_path, text)
    assert fault.place == f"line {line}, {name}"
    assert expected in fault.expected
    assert fault.got == got
    assert fault.remedy == remedy


ARCH = ('edge = "wingwalls 30 to 75 deg"', 'edge = "headwall"')


@pytest.mark.parametrize(
    ("wall_height", "expected", "got"),
    [
        ("0.2", "no more than a semicircle", "wall height and half the span 1.4 against rise 1.5"),
        ("1.6", "a rise above the height of the walls", "rise 1.5 against wall height 1.6"),
        ("{ uniform = { low = 0.2, high = 0.6 } }", "no more than a semicircle",
         "wall height and half the span down to 1.4 against rise up to 1.5"),
    ],
)  # fmt: skip
def test_an_arch_that_cannot_be(wall_height: str, expected: str, got: str, tmp_path: Path) -> None:
    text = edited(ARCH, ('shape = "box"', f'shape = "arch"\nwall_height_m = {wall_height}'))
    fault = only_fault(tmp_path, text)
    assert fault.place == f"line {line_of('rise_m = 1.5', text)}, lane.barrel.rise_m"
    assert expected in fault.expected
    assert fault.got == got


def test_a_title_that_is_missing_has_no_line(tmp_path: Path) -> None:
    fault = only_fault(tmp_path, edited(('title = "A sound study (invented)"\n', "")))
    assert fault == Fault("title", "a title in quotation marks", "nothing", "Add title = ... here.")


def test_correlations_that_cannot_all_hold_name_the_pairs(tmp_path: Path) -> None:
    pairs = [
        ("flow.design_m3_s", "garden.manning_n", 0.9),
        ("lane.screen.blockage", "garden.manning_n", -0.9),
    ]
    more = "".join(
        f'[[dependence]]\nbetween = ["{one}", "{other}"]\nrank_correlation = {rho}\n' for one, other, rho in pairs
    )
    text = SOUND.replace("rank_correlation = 0.4", "rank_correlation = 0.9") + more
    fault = only_fault(tmp_path, text)
    assert fault.place == f"line {line_of('[[dependence]]', text)}, dependence"
    assert "positive definite" in fault.expected
    for one, other, _ in pairs:
        assert one in fault.got
        assert other in fault.got
    assert fault.remedy == "Bring the correlations nearer to 0."


def test_one_pair_twice(tmp_path: Path) -> None:
    again = '[[dependence]]\nbetween = ["lane.screen.blockage", "flow.design_m3_s"]\nrank_correlation = 0.1\n'
    text = SOUND + again
    fault = only_fault(tmp_path, text)
    line = line_of('between = ["lane.screen', text)
    assert fault.place == f"line {line}, dependence 2.between"
    assert fault.got == "a second one for lane.screen.blockage and flow.design_m3_s"


def test_no_bank_at_all(tmp_path: Path) -> None:
    text = edited((f"bank_level_m = {BANK}\n", ""), ("bank_level_m = 32.4\n", ""), ('at = "lane"\n', ""))
    fault = only_fault(tmp_path, text)
    assert fault.place == f"line {line_of('[[element]]', text)}, lane.bank_level_m"
    assert fault.remedy == "Add the level at which the water goes over."


def test_the_bank_that_counts_must_be_there(tmp_path: Path) -> None:
    fault = only_fault(tmp_path, edited(("bank_level_m = 32.4\n", ""), ('at = "lane"', 'at = "garden"')))
    assert fault.got == 'the text "garden", which has no bank_level_m'
    assert fault.remedy == 'Write "lane".'


def test_a_first_channel_needs_its_bed(tmp_path: Path) -> None:
    lane = SOUND[SOUND.index("[[element]]") : SOUND.index('[[element]]\nkind = "channel"')]
    text = edited(("bed_level_m = 30.1\n", "")).replace(lane, "").replace('at = "lane"', 'at = "garden"')
    text = text[: text.index("[[dependence]]")]
    fault = only_fault(tmp_path, text)
    assert fault.place == f"line {line_of('[[element]]', text)}, garden.bed_level_m"
    assert fault.remedy == "Add bed_level_m = ... here."


def test_elements_in_single_brackets(tmp_path: Path) -> None:
    text = SOUND[: SOUND.index("[[element]]")] + '[element]\nkind = "channel"\n'
    fault = only_fault(tmp_path, text)
    assert fault.place == f"line {line_of('[element]', text)}, element"
    assert fault.remedy == "Write it as [[element]], in double brackets."


def test_no_element(tmp_path: Path) -> None:
    fault = only_fault(tmp_path, "element = []\n" + SOUND[: SOUND.index("[[element]]")])
    assert (fault.place, fault.got) == ("line 1, element", "an empty list")
