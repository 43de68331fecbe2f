"""Keys of the water side in scenario files: read into the model, contradictions reported."""

from __future__ import annotations

from pathlib import Path

import pytest

from fitcheck.errors import ScenarioError
from fitcheck.scenario import read_scenario
from tests import ROOT
from tests.specimens.apply_changes import apply_changes


def demo_with(folder: Path, **values: object) -> Path:
    """A copy of the demo's files with keys changed; `__` stands for the dot."""
    for file in (ROOT / "scenarios").glob("demo*.toml"):
        text = file.read_text().replace('"../meshes/', f'"{(ROOT / "meshes").as_posix()}/')
        (folder / file.name).write_text(text)
    apply_changes(
        [
            {
                "file": f"demo_{name.split('__')[0]}.toml",
                "key": name.replace("__", "."),
                "value": value,
            }
            for name, value in values.items()
        ],
        folder,
    )
    return folder / "demo.toml"


def test_every_key_is_converted_to_si(tmp_path: Path) -> None:
    scenario = read_scenario(
        demo_with(
            tmp_path,
            boat__conditions__atmosphere="980 hPa",
            kit__lines__bypass__opens_at="1.2 bar",
            kit__hoses__suction_13__bore_tolerance="2 %",
            kit__feed_pump__kind="diaphragm",
            kit__feed_pump__cut_out="2.8 bar",
            kit__feed_pump__cut_in="1.7 bar",
            kit__feed_pump__primes_to="1.5 m",
            kit__resistances__prefilters__kind="filter",
        )
    )
    kit, conditions = scenario.kit, scenario.boat.conditions
    assert conditions.atmosphere == pytest.approx(98_000.0)
    assert kit.line("bypass").opens_at == pytest.approx(1.2e5)
    assert kit.hose("suction_13").bore_tolerance == pytest.approx(0.02)
    assert kit.hose("suction_16").bore_tolerance == pytest.approx(0.05)
    assert kit.feed_pump is not None
    assert (kit.feed_pump.kind, kit.feed_pump.cut_out, kit.feed_pump.cut_in) == (
        "diaphragm",
        pytest.approx(2.8e5),
        pytest.approx(1.7e5),
    )
    assert kit.feed_pump.primes_to == pytest.approx(1.5)
    assert kit.flush is not None
    assert (str(kit.flush.at), kit.flush.volumes) == ("feed_pump.inlet", 3.0)
    assert kit.flush.flow == pytest.approx(1e-4)
    assert kit.module("vessel").holds == pytest.approx(2.6e-3)
    seacock = next(port for port in scenario.boat.ports if port.name == "seacock")
    assert seacock.opening_below == pytest.approx(0.14)


@pytest.mark.parametrize(
    ("values", "key", "said"),
    [
        ({"kit__lines__product_to_tank__opens_at": "1 bar"}, "opens_at", "does not apply"),
        ({"kit__feed_pump__kind": "diaphragm"}, "cut_out", "is missing"),
        ({"kit__feed_pump__cut_in": "1 bar"}, "cut_in", "centrifugal"),
        ({"kit__flush__at": "feed_pump.nowhere"}, "at", "no port"),
        ({"kit__hoses__suction_13__bore_tolerance": "60 %"}, "bore_tolerance", "above"),
    ],
)
def test_contradictions_are_faults(
    values: dict[str, object], key: str, said: str, tmp_path: Path
) -> None:
    with pytest.raises(ScenarioError) as caught:
        read_scenario(demo_with(tmp_path, **values))
    assert any(key in line and said in line for line in str(caught.value).splitlines())
