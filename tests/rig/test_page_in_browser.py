"""The page for the lid, printed by a real browser: a sheet of paper for each controller, A4 and Letter."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from streamer.display.sample import sample_display
from streamer.plan.asked import Asked, Host
from streamer.plan.electricity import power_of
from streamer.plan.page import page_of
from streamer.plan.report import plan_of
from streamer.power.plan import power_plan

LIMIT_S = 60
BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)


@pytest.mark.rig
@pytest.mark.skipif(BROWSER is None, reason="needs Chromium")
@pytest.mark.parametrize(("size", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_each_controller_of_the_sample_has_one_sheet_of_paper(
    size: str, points: tuple[int, int], tmp_path: Path
):
    """A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in, in points of 1/72 in."""
    display = sample_display()
    power = power_of(display, power_plan(display, 30), "No frame.")
    text = page_of(plan_of(display, Asked(40), Host(), power), display)
    page = tmp_path / "lid.html"
    page.write_text(text.replace("@page {", f"@page {{ size: {size};", 1), "utf-8")
    subprocess.run(
        [
            *(str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer"),
            *(
                f"--user-data-dir={tmp_path / 'profile'}",
                f"--print-to-pdf={tmp_path / 'lid.pdf'}",
                page.as_uri(),
            ),
        ],
        check=True,
        capture_output=True,
        timeout=LIMIT_S,
    )
    pdf = (tmp_path / "lid.pdf").read_bytes()
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", pdf)
    assert len(re.findall(rb"/Type /Page\b", pdf)) == len(display.controllers)
    assert {(round(float(width)), round(float(height))) for width, height in boxes} == {points}
