"""The first screen: what may be done, what to do first, what to cut; causes before
consequences.
"""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

from fitcheck.compare.condensed import condensed
from fitcheck.findings.catalogue import CATALOGUE, row_of
from fitcheck.findings.causes import AT_THE_MODULE, EVERYWHERE, MEASURED, OF_ALL
from fitcheck.findings.said import as_written
from fitcheck.model.finding import Change, Finding, Remedy, Severity
from fitcheck.model.found.comparison import Candidate, Comparison
from fitcheck.model.found.fit import Carried
from fitcheck.model.found.look import VERDICT_LOOKS, verdict_words
from fitcheck.model.found.routes import HoseRoute, Unrouted
from fitcheck.model.result import Result
from fitcheck.report import brief, first_screen, print_comparison, print_summary
from fitcheck.report.causes import causes
from fitcheck.report.document.compare_page import compare_html
from fitcheck.report.document.page import page_html
from fitcheck.report.words.answer import MOST_TO_DO, answer
from fitcheck.report.words.first_screen import WIDTH
from fitcheck.report.words.words import shown_as
from fitcheck.units import System, show
from tests.specimens.result import specimen_result
from tests.specimens.water import unrouted

PAGE = Path("out/bay/report.html")


def found(rule: str, subject: str, severity: Severity = "fail", **more: object) -> Finding:
    row = Finding(
        severity=severity,
        rule=rule,
        subject=subject,
        said=as_written(f"{rule} at {subject}"),
        source="your files",
    )
    return replace(row, **more)  # type: ignore[arg-type]


def with_findings(*rows: Finding) -> Result:
    """The specimen with these findings and no others."""
    result = specimen_result()
    return replace(
        result,
        space=replace(result.space, findings=()),
        fit=replace(result.fit, findings=rows),
        routes=replace(result.routes, findings=()),
        hydraulics=replace(result.hydraulics, findings=()),
        order=replace(result.order, findings=()),
    )


@pytest.mark.parametrize("system", ["metric", "imperial"])
def test_the_screen_has_eighty_columns_and_every_cut_length(system: System) -> None:
    result = specimen_result()
    text = first_screen(result, [PAGE], system)
    assert all(len(line) <= WIDTH for line in text.splitlines())
    lines = [hose.line for hose in result.routes.hoses]
    for cut in result.order.cuts:
        number = 1 + lines.index(cut.line)
        assert f"hose {number} {show(cut.cut_length, 'way', system)}" in text
    assert str(PAGE) in text


def test_a_remedy_is_shortened_but_never_its_command() -> None:
    long = as_written("Raise it by this much. " * 20)
    keys = Remedy(said=long, changes=(Change(file="a", key="b", value="c"),))
    rows = (
        found("clash", "pump", remedy=keys),
        found("standing", "panel", remedy=Remedy(said=long)),
    )
    lines = first_screen(with_findings(*rows), [PAGE], "metric").splitlines()
    after = [lines.index(line) for line in lines if line.startswith((" 1 ", " 2 "))]
    assert lines[after[0] + 2] == "   fitcheck apply out/bay 1"
    assert lines[after[0] + 1].endswith(" ...")
    assert lines[after[1] + 2].endswith(" ...")
    assert lines[after[1] + 3] == ""


def test_a_module_counts_as_fitting_only_with_service_clearance_and_support() -> None:
    result = specimen_result()
    for lacks, words in (
        ({"verdict": "tight"}, "tight"),
        ({"carried_by": ()}, "no support"),
    ):
        whole = [
            replace(
                module,
                verdict="fits",
                service=(),
                carried_by=(Carried(face="base", by="shelf", share=1.0),),
            )
            for module in result.fit.modules
        ]
        count, first = len(whole), whole[0]
        good = replace(result, fit=replace(result.fit, modules=tuple(whole)))
        assert answer(good, "metric").boxes.startswith(f"{count} of {count} fit; tightest: ")
        modules = (replace(first, **lacks), *whole[1:])
        bad = replace(result, fit=replace(result.fit, modules=modules))
        assert answer(bad, "metric").boxes.startswith(
            f"{count - 1} of {count} fit with service clearance and support; {words}: {first.name}"
        )


def test_a_remedy_of_several_is_printed_once() -> None:
    keys = Remedy(said=as_written("Add a board."), changes=(Change(file="a", key="b", value="c"),))
    other = Remedy(said=as_written("Move it."))
    rows = (
        found("clash", "pump", remedy=keys),
        found("clash", "panel", remedy=keys),
        found("clash", "vessel", remedy=other),
        found("standing", "panel", remedy=keys),
    )
    text = first_screen(with_findings(*rows), [PAGE], "metric")
    assert text.count("Add a board.") == text.count("fitcheck apply") == 1
    assert "pump, panel: Add a board." in text
    assert "The same remedy as for 1." in text
    both = first_screen(with_findings(*rows[:2]), [PAGE], "metric")
    assert "\n   Add a board.\n" in both


def test_a_common_reason_is_printed_once() -> None:
    row = found("clash", "pump", bars=("cut_joinery", "order_hoses"))
    lines = first_screen(with_findings(row), [PAGE], "metric").splitlines()
    order = next(line for line in lines if line.startswith("Order hoses"))
    assert "not yet: the same reason" in order


def test_both_steps_are_answered_first_and_in_brief() -> None:
    result = specimen_result()
    lines = first_screen(result, [PAGE], "metric").splitlines()
    answers = [line for line in lines if line.startswith(("Cut joinery", "Order hoses"))]
    assert ["not yet" in line for line in answers] == [True, True]
    assert lines.index("") < lines.index(answers[0]) < 5
    aloud = brief(result, "metric").splitlines()
    assert [line.split(":")[0] for line in aloud] == ["Cut joinery", "Order hoses"]
    assert all("not yet" in line for line in aloud)


def test_a_barred_step_has_the_same_verdict_wherever_it_is_printed() -> None:
    barring = next(name for name, rule in CATALOGUE.items() if "order_hoses" in rule.bars)
    result = with_findings(found(barring, "boat", "caution", bars=("order_hoses",)))
    assert not result.ready
    summary = io.StringIO()
    print_summary(result, [], "metric", Console(file=summary, width=80))
    ran = condensed(result)
    one = Candidate(file="a.toml", name="a", ran=ran, stopped="", why="", picture=None)
    side = io.StringIO()
    print_comparison(Comparison(candidates=(one,)), [], "metric", Console(file=side, width=80))
    texts = (
        first_screen(result, [PAGE], "metric"),
        page_html(result, None, None, "metric").lower(),
        summary.getvalue(),
        side.getvalue(),
        compare_html(Comparison(candidates=(one,)), "metric").lower(),
    )
    for text in texts:
        assert verdict_words("caution", ready=False) in text
        assert VERDICT_LOOKS["caution"].word not in text


@pytest.mark.parametrize(
    ("rule", "severity", "words"),
    [
        ("suction-vacuum", "caution", "recommended"),
        ("suction-vacuum", "fail", "limit"),
        ("npsh-margin", "fail", "required"),
    ],
)
def test_a_number_has_the_same_limit_word_on_screen_and_page(
    rule: str, severity: Severity, words: str
) -> None:
    row = found(rule, "pump", severity, value=9000.0, limit=8000.0, unit="Pa")
    result = with_findings(row)
    kind = shown_as(row)
    limit = f"{words} {show(8000.0, kind)}"
    assert limit in " ".join(first_screen(result, [PAGE], "metric").split())
    assert (
        f"{row_of(rule).title} {show(9000.0, kind)}, {limit}".lower()
        in page_html(result, None, None, "metric").lower()
    )


def test_at_most_three_things_to_do_are_listed() -> None:
    rows = [found(rule, f"m{k}") for k, rule in enumerate(list(CATALOGUE)[:9])]
    text = first_screen(with_findings(*rows), [PAGE], "metric")
    assert len(re.findall(r"^ \d ", text, re.MULTILINE)) == MOST_TO_DO
    assert "(6 more in the report)" in text


def test_a_remedy_with_keys_names_the_command_that_applies_it() -> None:
    keys = Remedy(said=as_written("Raise it."), changes=(Change(file="a", key="b", value="c"),))
    words = Remedy(said=as_written("Turn it."))
    rows = (found("clash", "pump", remedy=words), found("standing", "panel", remedy=keys))
    text = first_screen(with_findings(*rows), [PAGE], "metric")
    assert text.count("fitcheck apply") == 1
    assert "fitcheck apply out/bay 1" in text
    assert "Turn it." in text


def test_the_page_has_the_command_for_later_remedies() -> None:
    keys = Remedy(said=as_written("Raise it."), changes=(Change(file="a", key="b", value="c"),))
    rows = [found(rule, f"m{k}") for k, rule in enumerate(list(CATALOGUE)[:MOST_TO_DO])]
    told = [*rows, found("standing", "panel", "caution", remedy=keys)]
    assert "fitcheck apply FOLDER N" in page_html(with_findings(*told), None, None, "metric")
    assert "fitcheck apply" not in page_html(with_findings(*rows), None, None, "metric")


def test_a_hose_without_a_route_counts_its_consequences() -> None:
    lost = found("no-route", "feed")
    result = with_findings(lost, found("not-known", "pump"), found("not-ordered", "feed"))
    (cause,) = causes(result)
    assert cause.finding is lost
    assert cause.consequences == 2
    assert "2 more follow from it" in first_screen(result, [PAGE], "metric")


def test_a_misplaced_module_explains_its_own_lines_only() -> None:
    result = specimen_result()
    line = next(row for row in result.scenario.kit.lines if row.start.owner != "boat")
    other = next(
        row
        for row in result.scenario.kit.lines
        if line.start.owner not in (row.start.owner, row.end.owner)
    )
    clash = found("clash", line.start.owner)
    mine, theirs = found("no-route", line.name), found("no-route", other.name)
    rows = [cause.finding for cause in causes(with_findings(clash, mine, theirs))]
    assert rows == [clash, theirs]


def test_a_caution_never_hides_a_fail() -> None:
    rows = (found("tape-disagreement", "boat", "caution"), found("scale", "boat"))
    assert [cause.finding.rule for cause in causes(with_findings(*rows))] == [
        "scale",
        "tape-disagreement",
    ]


@pytest.mark.parametrize(
    ("rule", "other"),
    [
        ("suction-vacuum", "inlet-pressure"),
        ("suction-vacuum", "npsh-margin"),
        ("suction-vacuum", "suction-length"),
        ("no-route", "largest-flow"),
        ("no-route", "device-missing"),
        ("line-missing", "not-known"),
    ],
)
def test_independent_findings_are_listed_separately(rule: str, other: str) -> None:
    rows = (found(rule, "feed"), found(other, "pump"))
    assert {cause.finding.rule for cause in causes(with_findings(*rows))} == {rule, other}


@pytest.mark.parametrize(("severity", "alone"), [("fail", True), ("caution", False)])
def test_a_failed_scale_explains_all_measured_findings(severity: Severity, alone: bool) -> None:
    """A doubtful scale explains nothing: the rest may be correct."""
    scale, clash = found("scale", "boat", severity), found("clash", "pump")
    rows = [cause.finding for cause in causes(with_findings(scale, clash))]
    assert rows == ([scale] if alone else [clash, scale])


def test_every_hose_without_a_route_is_named_with_its_number() -> None:
    """Next to the lengths to cut, so that nobody takes those for a complete list."""
    result = specimen_result()
    first = next(hose for hose in result.routes.hoses if isinstance(hose, HoseRoute))
    hoses = [unrouted(first) if hose is first else hose for hose in result.routes.hoses]
    lost = [f"{n} {hose.line}" for n, hose in enumerate(hoses, 1) if isinstance(hose, Unrouted)]
    assert len(lost) > 1
    result = replace(result, routes=replace(result.routes, hoses=tuple(hoses)))
    text = first_screen(result, [PAGE], "metric")
    assert f" no route: {', '.join(lost)}\n" in text


def test_every_finding_is_a_cause_or_a_consequence() -> None:
    result = specimen_result()
    rows = [row for row in result.findings if row.severity != "note"]
    told = causes(result)
    named = sum(1 + len(cause.alike) for cause in told)
    assert named <= len(rows)
    assert named + sum(cause.consequences for cause in told) >= len(rows)


def test_causes_and_consequences_are_rules_of_the_catalogue() -> None:
    for table in (EVERYWHERE, AT_THE_MODULE):
        for cause, rules in table.items():
            assert cause in CATALOGUE
            assert rules <= CATALOGUE.keys()
            assert cause not in rules


def test_a_note_that_bars_a_step_is_listed_to_do() -> None:
    """Otherwise the screen would say not yet without anything to do."""
    bars = found("hanging-free", "feed", "note", bars=("order_hoses",))
    result = with_findings(bars, found("mounted", "pump", "note"))
    assert not result.order_hoses.safe
    assert [cause.finding for cause in causes(result)] == [bars]


def test_no_two_rules_explain_each_other() -> None:
    """Each would hide the other, and neither would be resolved."""
    table = {cause: set(rules) for cause, rules in (*EVERYWHERE.items(), *AT_THE_MODULE.items())}
    table |= {cause: set(MEASURED) for cause in OF_ALL}
    for cause, rules in table.items():
        reached: set[str] = set()
        ahead = set(rules)
        while ahead:
            reached |= ahead
            ahead = set().union(*(table.get(rule, set()) for rule in ahead)) - reached
        assert cause not in reached, cause
