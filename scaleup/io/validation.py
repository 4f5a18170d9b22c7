"""What a model finds wrong with a file, said in plain words."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, Literal, get_args, get_origin

from pydantic import BaseModel

from scaleup.errors import Fault
from scaleup.io.quantities import FieldFault, Quantity
from scaleup.io.text import printable, shown_number
from scaleup.io.toml import meant
from scaleup.io.units import UnitFault

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic.fields import FieldInfo
    from pydantic_core import ErrorDetails

Place = tuple[int | str, ...]

PLAIN = {
    "string_type": 'text in quotation marks, such as "text"',
    "int_type": "a whole number without quotation marks, such as 16",
    "bool_type": "true or false, without quotation marks",
    "tuple_type": "a list in square brackets",
    "model_type": "a table of keys",
    "model_attributes_type": "a table of keys",
}


def fault_of(model: type[BaseModel], error: ErrorDetails, file: str) -> Fault:
    """Return the fault that one finding of a model stands for."""
    place: Place = error["loc"]
    cause = error.get("ctx", {}).get("error")
    if isinstance(cause, FieldFault):
        where = dotted(place + ((cause.where,) if cause.where else ()))
        return Fault(file, where, cause.found, cause.allowed, cause.mend)
    if isinstance(cause, UnitFault):
        return Fault(file, dotted(place), cause.found, cause.allowed, _mend(model, place, cause))
    if error["type"] == "extra_forbidden":
        return _unknown_key(model, place, file)
    if error["type"] == "missing":
        return _missing_key(model, place, file)
    return Fault(file, dotted(place), describe(error["input"]), _allowed(model, place, error))


def dotted(place: Place) -> str:
    """Return a place in a file as a person writes it.

    >>> dotted(("blend", "component", 1, "share"))
    'blend.component[2].share'
    """
    text = ""
    for step in place:
        text += f"[{step + 1}]" if isinstance(step, int) else f".{printable(step)}"
    return text.lstrip(".")


def describe(value: object) -> str:
    """Return a value from a file as shown in a fault."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{printable(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    if isinstance(value, int | float):
        return shown_number(value)
    return printable(str(value))


def _allowed(model: type[BaseModel], place: Place, error: ErrorDetails) -> str:
    field = _field(model, place)
    if field is not None and field.description:
        return _wanted(model, place)
    context: dict[str, Any] = error.get("ctx", {})
    if error["type"] == "literal_error":
        return str(context["expected"]).replace("'", '"')
    if error["type"] == "greater_than_equal":
        return f"at least {context['ge']:g}"
    if error["type"] == "less_than_equal":
        return f"at most {context['le']:g}"
    if error["type"] == "too_short":
        return f"a list of at least {context['min_length']}"
    return PLAIN.get(error["type"]) or printable(error["msg"], 200)


def _mend(model: type[BaseModel], place: Place, cause: UnitFault) -> str:
    quantity = next(quantities_of(_field(model, place)), None)
    if quantity is None or "without a unit" not in cause.found:
        return ""
    return f"Write it in quotation marks with its unit: {cause.allowed.split('such as ')[1]}."


def _unknown_key(model: type[BaseModel], place: Place, file: str) -> Fault:
    table = _model_at(model, place[:-1])
    known = (
        [] if table is None else [_key(name, field) for name, field in table.model_fields.items()]
    )
    where = dotted(place[:-1]) or "top of the file"
    listed = f"the keys {', '.join(sorted(known))}"
    return Fault(
        file,
        dotted(place),
        f'the unknown key "{printable(str(place[-1]))}"',
        f"{listed} in {where}",
        meant(str(place[-1]), known) or "Rename it to the one that is meant, or remove it.",
    )


def _missing_key(model: type[BaseModel], place: Place, file: str) -> Fault:
    return Fault(file, dotted(place), "nothing", _wanted(model, place), f"Add the key {place[-1]}.")


def _wanted(model: type[BaseModel], place: Place) -> str:
    """Return in words what a key wants, from the type and the bounds of its field."""
    field = _field(model, place)
    quantity = next(quantities_of(field), None)
    if field is None or quantity is not None:
        return "one of the keys of this table" if quantity is None else quantity.wanted
    if _models(field.annotation):
        return f"the table [{dotted(place)}]"
    if get_origin(field.annotation) is Literal:
        return _one_of([json.dumps(each) for each in get_args(field.annotation)])
    words = field.description or PLAIN["int_type" if field.annotation is int else "string_type"]
    examples = [f"such as {json.dumps(each)}" for each in field.examples or []]
    return ", ".join([words, *examples, *_bounds(field)])


def _one_of(words: list[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}" if len(words) > 1 else words[0]


def _bounds(field: FieldInfo) -> Iterator[str]:
    for name, words in (("ge", "at least"), ("le", "at most")):
        for bound in (getattr(item, name, None) for item in field.metadata):
            if bound is not None:
                yield f"{words} {bound}"


def _field(model: type[BaseModel], place: Place) -> FieldInfo | None:
    table = _model_at(model, place[:-1])
    if table is None:
        return None
    fields = table.model_fields.items()
    return next((field for name, field in fields if place[-1] in (name, field.alias)), None)


def _key(name: str, field: FieldInfo) -> str:
    return field.alias or name


def _model_at(model: type[BaseModel], place: Place) -> type[BaseModel] | None:
    """Return the model of the table at a place, none where the place leads to no table."""
    current: type[BaseModel] | None = model
    for step in place:
        if isinstance(step, int):
            continue
        field = None if current is None else _field(current, (step,))
        found = [] if field is None else _models(field.annotation)
        current = found[0] if found else None
    return current


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models(part)]


def quantities_of(field: FieldInfo | None) -> Iterator[Quantity]:
    """Yield the quantities that a field of a model is written as; none of another field."""
    if field is None:
        return
    yield from (item for item in field.metadata if isinstance(item, Quantity))
    for part in get_args(field.annotation):
        yield from (
            item for item in getattr(part, "__metadata__", ()) if isinstance(item, Quantity)
        )
