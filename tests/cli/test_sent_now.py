"""The current of the frame now being sent: read from an engine that runs, else plainly not known."""

from pathlib import Path

import pytest

from streamer.cli.sent_now import NO_ENGINE
from tests.cli.conftest import run

SAMPLE = Path("streamer/display/sample.toml")


def test_without_an_engine_it_is_said_plainly():
    """In a sentence; and there is no number."""
    power = run("plan", SAMPLE, "--now", "--json").json["power"]
    assert (power["now_a"], power["now"]) == (None, NO_ENGINE)


@pytest.mark.rig
def test_of_the_display_that_is_played_it_is_the_current_of_its_frame(tmp_path: Path):
    """White stands on RGB strings at the level that the plan is made for; another display has no frame."""
    played = run("send", "level", SAMPLE, "--free", "--json")
    plan = run("plan", SAMPLE, "--now", "--json").json
    power = plan["power"]
    for string in plan["controllers"][0]["strings"]:
        assert string["current"]["now_a"] == pytest.approx(string["current"]["level_a"], rel=0.01)
    assert f"{power['now_a']:.2f} A now" in " ".join(run("plan", SAMPLE, "--now").out.split())
    assert sum(supply["now_a"] for supply in power["supplies"]) == pytest.approx(power["now_a"], rel=0.01)
    assert played.json["run"] in power["now"]
    other = tmp_path / "other.toml"
    other.write_text(SAMPLE.read_text().replace('"Boathouse"', '"Shed"', 1))
    assert run("plan", other, "--now", "--json").json["power"]["now_a"] is None
