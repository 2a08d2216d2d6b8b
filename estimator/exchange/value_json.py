"""Values from JSON by their own types: what wrote the fields is read back into the same objects, digit for digit."""

import types
import typing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from enum import Enum
from typing import Any, TypeVar, get_args, get_origin

import numpy as np

from estimator.errors import BadInputError

Value = TypeVar("Value")


def value_of(kind: type[Value], told: Any, where: str = "") -> Value:
    """The value of this type that the JSON holds. Raises BadInputError, naming the place."""
    found: Value = _value(kind, told, where or kind.__name__)
    return found


def _value(kind: Any, told: Any, where: str) -> Any:
    origin = get_origin(kind)
    if origin in (typing.Union, types.UnionType):
        return _one_of(get_args(kind), told, where)
    if is_array(kind):
        return _array(told, where)
    if origin is tuple:
        return _tuple(get_args(kind), told, where)
    if is_dataclass(kind):
        return _dataclass(kind, told, where)
    if isinstance(kind, type) and issubclass(kind, Enum):
        return _said_by(kind, told, where)
    return _scalar(kind, told, where)


def is_array(kind: Any) -> bool:
    """Whether the type is one of numpy's."""
    return get_origin(kind) is np.ndarray or kind is np.ndarray


def _one_of(kinds: tuple[Any, ...], told: Any, where: str) -> Any:
    if told is None and type(None) in kinds:
        return None
    (kind,) = (each for each in kinds if each is not type(None))
    return _value(kind, told, where)


def _array(told: Any, where: str) -> Any:
    try:
        array = np.array(told, dtype=np.float64)
    except (ValueError, TypeError):
        array = np.array(np.nan)
    if not array.ndim or not np.all(np.isfinite(array)):
        raise BadInputError(f"{where} holds no numbers. Write the file anew.")
    array.setflags(write=False)
    return array


def _tuple(kinds: tuple[Any, ...], told: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(told, list):
        raise BadInputError(f"{where} is no list. Write the file anew.")
    if kinds[-1:] == (Ellipsis,):
        return tuple(_value(kinds[0], each, f"{where}[{place}]") for place, each in enumerate(told))
    if len(told) != len(kinds):
        raise BadInputError(f"{where} has {len(told)} entries; {len(kinds)} are needed. Write the file anew.")
    return tuple(_value(kind, each, where) for kind, each in zip(kinds, told, strict=True))


def _dataclass(kind: Any, told: Any, where: str) -> Any:
    if not isinstance(told, Mapping):
        raise BadInputError(f"{where} is not made of named fields. Write the file anew.")
    hints = typing.get_type_hints(kind)
    names = {each.name for each in fields(kind)}
    if set(told) != names:
        odd = sorted(set(told) ^ names)[0]
        raise BadInputError(f"{where}: the field {odd[:60]!r} is {'unknown' if odd in told else 'missing'}.")
    try:
        return kind(**{name: _value(hints[name], told[name], f"{where}.{name}") for name in names})
    except ValueError as problem:
        raise BadInputError(f"{where}: {problem}") from problem


def _said_by(kind: Any, told: Any, where: str) -> Any:
    try:
        return _scalar_enum(kind, told)
    except ValueError:
        allowed = ", ".join(str(each.value) for each in kind)
        raise BadInputError(f"{where} is {str(told)[:40]!r}; it is one of {allowed}.") from None


def _scalar_enum(kind: Any, told: Any) -> Any:
    return kind(told)


def _scalar(kind: Any, told: Any, where: str) -> Any:
    sound = {
        float: isinstance(told, int | float) and not isinstance(told, bool) and bool(np.isfinite(told)),
        int: isinstance(told, int) and not isinstance(told, bool),
        bool: isinstance(told, bool),
        str: isinstance(told, str),
    }
    if kind in (date, datetime) and isinstance(told, str):
        try:
            return kind.fromisoformat(told)
        except ValueError:
            raise BadInputError(f"{where} is {told[:40]!r}, which is no day. Write it as 2026-10-05.") from None
    if not sound.get(kind, False):
        raise BadInputError(f"{where} is {str(told)[:40]!r}, which it can't be. Write the file anew.")
    return float(told) if kind is float else told
