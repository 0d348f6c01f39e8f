"""What all models of actions share: strict names, and each quantity once and with its unit."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AliasChoices, BaseModel, ConfigDict, Field, StringConstraints, model_validator

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=64)]
Line = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, max_length=2000)]
Reason = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000)]


class FieldError(ValueError):
    """A fault that several fields make together, laid to one of them. `field` is its short name."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


def either(name: str, unit: str, **more: Any) -> Any:  # noqa: ANN401 - pydantic's Field is typed so
    """A field that is read as `name` with a unit, or as `name_unit`, a number in SI."""
    return Field(validation_alias=AliasChoices(name, f"{name}_{unit}"), serialization_alias=f"{name}_{unit}", **more)


class Model(BaseModel):
    """Strict about names, frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    @model_validator(mode="before")
    @classmethod
    def _says_each_unit_once(cls, raw: object) -> object:
        for field in cls.model_fields.values():
            if not isinstance(raw, dict) or not isinstance(field.validation_alias, AliasChoices):
                continue
            short, long = map(str, field.validation_alias.choices)
            if short in raw and long in raw:
                raise FieldError(short, f"it is given twice, also as {long}; leave one of them out")
            value = raw.get(short)
            if isinstance(value, (int, float)) and not isinstance(value, bool):
                raise FieldError(
                    short, f"the number has no unit; write a string with a unit, or the SI number as {long}"
                )
        return raw
