"""Packaged TOML into frozen pydantic models; what does not fit is a ProcedureError with file and key."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Any, NoReturn, TypeVar

from pydantic import BaseModel, ConfigDict, Field, Strict, ValidationError

from relearn.errors import ProcedureError

DATA = Path(__file__).with_name("data")
REMEDY = "correct the packaged data"

Text = Annotated[str, Field(pattern=r"\S")]
Identifier = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
Number = Annotated[float, Strict()]


class Row(BaseModel):
    """Base of all rows: nothing may be changed, no key may be unknown, no number may be infinite."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


Model = TypeVar("Model", bound=Row)


def read(model: type[Model], path: Path) -> Model:
    """The file as a model. Unreadable, not TOML, an unknown or missing key, a wrong type: ProcedureError."""
    try:
        data: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))
        return model.model_validate(data)
    except ValidationError as wrong:
        first = wrong.errors()[0]
        refuse(first["msg"], path, ".".join(str(part) for part in first["loc"]))
    except (OSError, ValueError) as wrong:
        raise ProcedureError(f"this is not a readable TOML file ({wrong})", path=path, remedy=REMEDY) from None


def refuse(what: str, path: Path, key: str) -> NoReturn:
    """Raise the ProcedureError for one key of a packaged file."""
    raise ProcedureError(what, path=path, key=key, remedy=REMEDY)
