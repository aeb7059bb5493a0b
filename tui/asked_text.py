"""A page of a guided session in words and bars."""

from textual.content import Content

from tui.plain import shown
from tui.session import Page


def place_text(page: Page, cells: int) -> Content:
    """Return where one is, how much is done and how sure it is, in bars of so many cells."""
    if page.outcome:
        return Content.styled(page.place, "bold")
    done = round(page.done * cells)
    parts: list[str | tuple[str, str]] = [
        (page.place, "bold"),
        "  ",
        ("━" * done, "$accent"),
        ("┄" * (cells - done), "$quiet"),
    ]
    if page.sure is not None:
        sure = round(page.sure * cells)
        parts += [
            "  sure ",
            ("■" * sure, "$accent"),
            ("·" * (cells - sure), "$quiet"),
            f" {page.certainty}",
        ]
    return Content.assemble(*parts)


def sure_text(page: Page, *, is_short: bool) -> Content:
    """Return what is possible now, each on a line of its own."""
    if page.outcome:
        return Content("")
    if is_short and page.sure is not None:
        first, *others = page.possible
        return Content("\n".join(("Possible now: " + shown(first), *map(shown, others))))
    head = ("Possible now:",) if page.sure is not None else ()
    return Content("\n".join((*head, *map(shown, page.possible))))
