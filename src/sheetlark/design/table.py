"""What every table of the design file has in common."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from sheetlark.design.quantities import Place

Paper = Literal["both", "one", "none"]
Key = Annotated[str, Field(min_length=1, max_length=60)]
Title = Annotated[str, Field(min_length=1, max_length=60)]
Point3 = tuple[Place, Place, Place]
Point2 = tuple[Place, Place]


class Table(BaseModel):
    """A table of the design file: unknown keys are refused, values do not change."""

    # Defaults are written as a user writes them and read the same way, so that the schema shows them so.
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False, validate_default=True)
