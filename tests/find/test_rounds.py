"""Going through several ports: how each stands, and the most urgent first."""

from streamer.find.finding import Finding
from streamer.find.rounds import Outcome, outcome_of, summary
from streamer.find.terms import Terms
from streamer.find.verdict import verdict_of
from streamer.yard.faults import Break
from tests.find.closed_loop import Lawn, search
from tests.find.conftest import bench_of, one_string


def test_a_summary_counts_and_names_what_is_not_as_planned():
    """A fault before a doubt, a doubt before what was left out; what is as planned is only counted."""
    display = one_string(50)
    bench = bench_of(display, "jetty/1")
    found = {
        "jetty/1": None,
        "jetty/2": verdict_of(Finding(bench)),
        "jetty/3": verdict_of(search(Lawn(display, bench, {"jetty/1": [Break(after=17)]}))),
        "jetty/4": verdict_of(search(Lawn(display, bench, {}))),
    }
    assert [outcome_of(each) for each in found.values()] == [
        Outcome.UNSEEN, Outcome.DOUBT, Outcome.FAULT, Outcome.PLANNED,
    ]  # fmt: skip
    four = display.controllers[0].model_copy(
        update={
            "ports": tuple(
                display.ports[0].model_copy(update={"name": name, "number": number})
                for number, name in enumerate(found, 1)
            )
        }
    )
    first, *others = summary(display.model_copy(update={"controllers": (four,)}), found)
    assert first == "4 ports: 1 not as planned, 1 not certain, 1 not looked at, 1 as planned."
    assert [each.split(":")[0] for each in others] == ["jetty/3", "jetty/2", "jetty/1"]
    assert "Break between node 17 and 18" in others[0]
    assert others[1].startswith("jetty/2: not certain; most likely (")
    assert others[2] == "jetty/1: not looked at."


def test_terms_by_name_are_those_of_the_command_line():
    """A break alone: every place is equally likely, and nothing else is thought of."""
    from streamer.find.suspects import SUSPECTS, terms_of

    terms = terms_of("break", "three")
    assert (terms.suspects, terms.even, terms.eyes.name) == (SUSPECTS["break"], True, "three")
    assert terms_of("anything", "six") == Terms()
