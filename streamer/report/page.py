"""The report as one HTML page: nothing is fetched, nothing runs in it, and it prints on A4."""

import base64

from jinja2 import Environment, PackageLoader, StrictUndefined

from streamer.report import rows, wording
from streamer.report.made import Report
from streamer.report.plots import lateness_svg, loss_svg, timeline_svg
from streamer.report.timeline import left_out
from streamer.report.times import day_text

TEMPLATE = "report.html.j2"


def as_html(report: Report) -> str:
    """Return the page, its pictures within it."""
    environment = Environment(
        loader=PackageLoader("streamer.report", ""),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    night = report.night
    return environment.get_template(TEMPLATE).render(
        report=report,
        night=night,
        made=day_text(report.made_unix_s, night.run.facts.utc_offset_minutes),
        rows=rows,
        wording=wording,
        left_out=left_out(night),
        timeline=_embedded(timeline_svg(night)),
        lateness=_embedded(lateness_svg(night)),
        loss=_embedded(loss_svg(night)),
    )


def _embedded(svg: str) -> str:
    """Return a picture as an address that holds it: no name in it can become a part of the page."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"
