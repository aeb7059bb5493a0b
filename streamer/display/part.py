"""What every piece of a display is: frozen and checked."""

from pydantic import BaseModel, ConfigDict


class Part(BaseModel):
    """A frozen piece of a display; unknown keys are errors."""

    model_config = ConfigDict(frozen=True, extra="forbid")
