"""Reads a configuration file; every mistake in it becomes one line with file, line, key and what would do."""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from pydantic import BaseModel, SecretStr, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from fillmark_agent.config import AgentConfig
from fillmark_agent.config_lines import Path as KeyPath
from fillmark_agent.config_lines import key_lines, line_of

TOKEN_VARIABLE = "FILLMARK_TOKEN"  # noqa: S105 - the name of a variable, not a token
_TOML_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_PLAIN = {"model_type": "is no table", "tuple_type": "is no array of tables", "model_attributes_type": "is no table"}


class ConfigError(Exception):
    """The configuration cannot be used. `problems` has one line for each mistake."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


def load(path: Path, environment: Mapping[str, str]) -> AgentConfig:
    """Read and check a configuration file. The token of the environment goes before that of the file.

    Raises:
        ConfigError: the file cannot be read, is no TOML, or says something that cannot be.
    """
    try:
        text = path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError((f"{path}: cannot be read: {error}; give a TOML file",)) from error
    return parse(text, path, environment)


def parse(text: str, path: Path, environment: Mapping[str, str]) -> AgentConfig:
    """Check the text of a configuration. `path` names it in messages and is where relative paths begin.

    Raises:
        ConfigError: see `load`.
    """
    text = text.replace("\r\n", "\n")
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ConfigError((_syntax(str(error), text, path),)) from error
    _complete(raw, environment)
    try:
        return AgentConfig.model_validate(raw, context={"folder": path.parent})
    except ValidationError as error:
        lines = key_lines(text)
        found = (_sentence(detail, lines, path) for detail in error.errors(include_url=False))
        raise ConfigError(tuple(sentence for _, sentence in sorted(found))) from error


def _complete(raw: dict[str, Any], environment: Mapping[str, str]) -> None:
    """Write the tables whose defaults depend on something outside: the environment, the file's folder."""
    token = environment.get(TOKEN_VARIABLE)
    service = raw.setdefault("service", {})
    raw.setdefault("spool", {})
    if token and isinstance(service, dict):
        service["token"] = token


def _syntax(message: str, text: str, path: Path) -> str:
    place = _TOML_PLACE.search(message)
    line = place.group(1) if place and place.group(1) else str(text.count("\n") + 1)
    return f"{path}:{line}: {_TOML_PLACE.sub('', message)}; write it as TOML 1.0"


def _sentence(detail: ErrorDetails, lines: Mapping[KeyPath, int], path: Path) -> tuple[int, str]:
    about_driver = detail["type"].startswith("union_tag")
    keys, field, model = _resolve((*detail["loc"], "driver") if about_driver else detail["loc"])
    line = line_of(lines, keys)
    place = f"{path}:{line}" if line is not None else str(path)
    return line or 0, f"{place}: {_dotted(keys)}{_problem(detail, keys, field, model)}"


def _problem(detail: ErrorDetails, keys: KeyPath, field: FieldInfo | None, model: type[BaseModel]) -> str:
    kind = detail["type"]
    if kind == "extra_forbidden":
        return f": unknown key; {_suggestion(str(keys[-1]), model)}"
    if kind == "union_tag_invalid":
        context = detail.get("ctx", {})
        return f': "{context.get("tag")}" is no driver; give one of {context.get("expected_tags")}'
    if kind == "union_tag_not_found":
        return f": missing; give one of {_drivers()}"
    if kind == "value_error":
        problem = str(detail.get("ctx", {}).get("error", detail["msg"]))
    elif kind == "missing":
        problem = "missing"
    elif kind in _PLAIN:
        problem = f"{_shown(detail['input'])} {_PLAIN[kind]}"
    else:
        problem = f"{_shown(detail['input'])}: {detail['msg'][:1].lower()}{detail['msg'][1:]}"
    hint = f"; give {field.description}" if field is not None and field.description else ""
    return f": {problem}{hint}" if keys else problem


def _shown(value: object) -> str:
    if isinstance(value, SecretStr):
        return "the value"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, (dict, list)):
        return "a table" if isinstance(value, dict) else "an array"
    return str(value).lower() if isinstance(value, bool) else str(value)


def _suggestion(key: str, model: type[BaseModel]) -> str:
    known = list(model.model_fields)
    close = difflib.get_close_matches(key, known, n=1)
    return f'do you mean "{close[0]}"?' if close else f"known here: {', '.join(known)}"


def _dotted(keys: KeyPath) -> str:
    text = ""
    for key in keys:
        text += f"[{key}]" if isinstance(key, int) else f".{key}" if text else str(key)
    return text


def _resolve(loc: tuple[int | str, ...]) -> tuple[KeyPath, FieldInfo | None, type[BaseModel]]:
    """From pydantic's location to keys of the file: the tag of a union is no key. Also the field and its table."""
    model: type[BaseModel] = AgentConfig
    choices: Mapping[str, type[BaseModel]] = {}
    field: FieldInfo | None = None
    keys: list[str | int] = []
    for part in loc:
        if isinstance(part, str) and part in choices:
            model, choices = choices[part], {}
            continue
        keys.append(part)
        if isinstance(part, int):
            field = None
            continue
        field = model.model_fields.get(part)
        if field is None:
            break
        models = _models(field.annotation)
        if len(models) == 1:
            model = models[0]
        choices = {_tag(option): option for option in models} if len(models) > 1 else {}
    return tuple(keys), field, model


def _drivers() -> str:
    return ", ".join(f'"{_tag(table)}"' for table in _models(AgentConfig.model_fields["devices"].annotation))


def _models(annotation: Any) -> list[type[BaseModel]]:  # noqa: ANN401 - an annotation can be anything
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    if get_origin(annotation) in {Union, UnionType, Annotated, tuple}:
        return [model for argument in get_args(annotation) for model in _models(argument)]
    return []


def _tag(model: type[BaseModel]) -> str:
    return str(get_args(model.model_fields["driver"].annotation)[0])
