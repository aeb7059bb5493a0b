"""What may be asked of a run in progress. Time is an argument."""

from streamer.engine.engine import Run
from streamer.engine.messages import Calm, Change, Dark, Jump, Pause, Step, Stop


def direct(run: Run, request: Change | Step | Jump | Pause | Dark | Calm | Stop, now_s: float) -> None:
    """Do what one asks who holds control of a run in progress."""
    match request:
        case Change(show=show):
            run.change(show, now_s)
        case Step(by=by):
            run.player.step_by(by)
        case Jump(step=step):
            run.player.jump(step)
        case Pause(on=on):
            run.player.in_hand = on
        case Dark(on=on):
            run.show_dark(now_s, on=on)
        case Calm(flashes_per_s=flashes_per_s):
            run.calm(flashes_per_s)
        case Stop():
            run.end("stopped", now_s)
