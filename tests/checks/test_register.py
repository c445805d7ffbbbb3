from pathlib import Path

import pandas as pd
import pytest

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.finding import Finding
from turncheck.checks.register import all_checks, run_checks, tolerances_for
from turncheck.checks.table import COLUMNS, TEXT, as_table
from turncheck.geometry.guard_bands import Verdict


def test_the_six_checks_register_themselves_in_the_reports_order():
    assert tuple(check.name for check in all_checks())[:6] == (
        "size",
        "height",
        "eye_line",
        "pivot",
        "proportion",
        "pairing",
    )


@pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.name)
def test_every_check_says_what_it_measures_why_and_what_to_do(check: Check):
    for sentence in (check.title, check.measures, check.why, check.mend):
        assert sentence.strip() and not sentence.endswith(".")
    assert check.tolerance > 0


@pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.name)
def test_every_check_gives_rows_under_its_own_name_for_every_sheet(check: Check, figure):
    for measured in (figure(), figure(views=2), figure(reference="consensus", placing="fit")):
        found = list(check.run(measured, tolerances_for(check, measured.sheet)))
        assert found
        assert all(isinstance(row, Finding) and row.check == check.name for row in found)
        assert all(row.verdict in set(Verdict) for row in found)
        for row in found:
            assert (row.verdict == Verdict.NOT_MEASURED) <= bool(row.note)


def test_the_findings_table_has_one_row_for_each_check_view_and_subject(figure):
    found = as_table(run_checks(figure()))
    assert tuple(found.columns) == COLUMNS
    assert not found.duplicated(["check", "view", "subject"]).any()
    assert all(pd.api.types.is_string_dtype(found[name]) for name in TEXT)
    assert all(found[name].dtype == "float64" for name in COLUMNS if name not in TEXT)


def test_a_landmarks_own_tolerance_comes_before_the_checks():
    tolerances = Tolerances(1.0, {"hair_top": 2.0, "chin": 0.5})
    assert tolerances.of("crown") == 1.0
    assert tolerances.of("hair_top") == 2.0
    assert tolerances.of("hair_top", "chin") == 2.0


@pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.name)
def test_every_check_has_a_test_file_of_its_own(check: Check):
    assert (Path(__file__).parent / f"test_{check.name}.py").is_file()
