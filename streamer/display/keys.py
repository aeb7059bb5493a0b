"""What every table of a display file is made of: strict tables, names, and keys that bring their example."""

from typing import Annotated, Any

from annotated_types import Len
from pydantic import AfterValidator, BaseModel, ConfigDict, Field

NAME_LIMIT = 60
"""Characters of a name; longer ones fit no screen."""
NAME_WORDS = f"text of 1 to {NAME_LIMIT} printable characters, without outer spaces"


def _name(value: str) -> str:
    if not value.isprintable() or value != value.strip():
        raise ValueError("has control characters or outer spaces")
    return value


Label = Annotated[str, Field(max_length=NAME_LIMIT), AfterValidator(_name)]
Name = Annotated[Label, Len(min_length=1)]


def key(example: str, words: str = "") -> Any:  # noqa: ANN401  what pydantic's own Field is typed as
    """Return a field's example and, where its type does not say enough, what it must be."""
    return Field(examples=[example], description=words or None)


class FilePart(BaseModel):
    """A table of the file. Nothing is coerced; unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
