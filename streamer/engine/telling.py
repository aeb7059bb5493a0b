"""What is told of a run: its status five times a second, its plan when it begins, its end."""

from dataclasses import asdict

from streamer.engine.engine import Run
from streamer.engine.messages import DIMMED_TOLD, Dimmed, Ended, Status

COMPLAINTS_TOLD = 20
"""In a status, five times a second: more than a person reads."""


def status_of(run: Run, idle: Status, plan: int, now_s: float) -> Status:
    """Return the status of an engine that plays `run`; `idle` is what there is to say without one."""
    player = run.player
    run.complaints.look(now_s)
    return idle.model_copy(
        update={
            "state": run.state,
            "plan": plan,
            "show": run.show,
            "pace": player.pace,
            "step": player.step,
            "steps": player.steps,
            "now_showing": player.now_showing,
            "seconds": now_s - run.began_s,
            "universes": len(run.keys),
            "counts": run.counts(),
            "lateness": run.tally.lateness.summary(),
            "flashes_per_s": run.stage.guard.most_per_s,
            "dimmed": _dimmed(run),
            "complaints": run.complaints.now[:COMPLAINTS_TOLD],
            "route": run.outlet.words,
            "synchronization": run.outlet.synchronization,
            "ways": dict(run.outlet.data.ways),
            "carrier_lost": run.complaints.is_carrier_lost,
        }
    )


def end_of(run: Run, scheduling: str, cpu_share: float, now_s: float) -> Ended:
    """Return the report of a run that is over, in a process of that standing."""
    run.complaints.look(now_s)
    return Ended(
        reason=run.ending_reason,
        counts=run.counts(),
        lateness=run.tally.lateness.summary(),
        seconds=now_s - run.began_s,
        complaints=run.complaints.ever,
        ways=dict(run.outlet.data.ways),
        cpu_share=cpu_share,
        scheduling=scheduling,
        carrier_lost=run.complaints.was_carrier_lost,
    )


def _dimmed(run: Run) -> tuple[Dimmed, ...]:
    """Return which fuses and supplies dim the frame sent last."""
    return tuple(Dimmed(**asdict(each)) for each in run.stage.limiter.dimmings[:DIMMED_TOLD])
