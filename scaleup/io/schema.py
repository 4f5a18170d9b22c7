"""The strict reader of a plain dataclass, built from its annotations, with faults in plain words.

A table of a file is read by a pydantic model that has the fields of the dataclass: a `Measure` is
written as text with its unit, lists become tuples, keys that no field has are refused, and every
fault is found at once.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import MISSING, fields, is_dataclass
from dataclasses import Field as DataField
from functools import cache
from types import UnionType
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar, Union, get_args, get_origin

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    ValidationError,
    WrapValidator,
    create_model,
    model_validator,
)

from scaleup.errors import Fault, FieldFault, InputError
from scaleup.io.units import UnitFault
from scaleup.io.written import Written
from scaleup.model.checked import annotations_of
from scaleup.model.fields import Ends, Measure, Several, Whole, Words
from scaleup.text import meant, printable, shown_number

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo
    from pydantic_core import ErrorDetails

Kind = TypeVar("Kind")
Place = tuple[int | str, ...]

PLAIN = {
    "string_type": 'text in quotation marks, such as "text"',
    "int_type": "a whole number without quotation marks, such as 16",
    "bool_type": "true or false, without quotation marks",
    "tuple_type": "a list in square brackets",
    "model_type": "a table of keys",
    "model_attributes_type": "a table of keys",
}


def read_as(
    kind: type[Kind], data: object, file: str = "", /, *, bare: bool = False, **also: str
) -> Kind:
    """Return a dataclass made from a table of a file.

    Parameters
    ----------
    kind
        The dataclass.
    data
        The table, as a TOML reader gives it.
    file
        Its name in a fault.
    bare
        Whether plain numbers, quantities and ready objects may stand in it, as in Python.
    also
        Keys that the table has besides those of the dataclass, each with the one text it may be.

    Raises
    ------
    InputError
        With one fault for every key that is wrong: its dotted name, what was found, what is
        allowed, and how to mend it.

    Examples
    --------
    >>> from scaleup.model.target import Target
    >>> read_as(Target, {"strength": "2 MPa"}).strength
    2.0
    """
    plain: Any = kind
    table = table_of(plain, tuple(also.items()), bare)
    try:
        return _made(kind, table.model_validate(data))
    except ValidationError as error:
        faults = [fault for item in error.errors() for fault in faults_of(table, item, file)]
        raise InputError(faults) from None
    except FieldFault as error:
        raise InputError(_placed(error, (), file)) from None


class _Table(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)

    @model_validator(mode="before")
    @classmethod
    def _lists_become_tuples(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            return data
        return {key: tuple(each) if isinstance(each, list) else each for key, each in data.items()}


@cache
def table_of(
    kind: Any, also: tuple[tuple[str, str], ...] = (), bare: bool = False
) -> type[BaseModel]:
    """Return the pydantic model that reads a dataclass."""
    given: dict[str, Any] = {key: (Literal[text], ...) for key, text in also}
    hints = annotations_of(kind)
    for each in fields(kind):
        if not each.metadata.get("unread"):
            given[each.name] = _field_of(each, hints[each.name], bare)
    return create_model(kind.__name__, __base__=_Table, **given)


def _field_of(field: DataField[Any], annotation: Any, bare: bool) -> tuple[Any, Any]:
    """Return the annotation of a key, and its default and name."""
    default = ... if field.default is MISSING else field.default
    return _read(annotation, bare), Field(default, alias=field.metadata.get("key"))


def _read(annotation: Any, bare: bool) -> Any:
    """Return the annotation with which pydantic reads what a dataclass annotates so."""
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        kind, *marks = parts
        ends = next((mark for mark in marks if isinstance(mark, Ends)), None)
        if ends is not None:
            return _nested(kind, _ends_of(kind, ends, bare))
        return Annotated[_read(kind, bare), *(_marked(mark, bare) for mark in marks)]
    if origin in (Union, UnionType):
        return Union[tuple(_read(part, bare) for part in parts)]  # noqa: UP007  at run time only
    if origin is tuple:
        return tuple.__class_getitem__((_read(parts[0], bare), ...))
    if not is_dataclass(annotation):
        return annotation
    plain: Any = annotation
    return _nested(plain, table_of(plain, (), bare))


def _nested(kind: Any, table: type[BaseModel]) -> Any:
    """Return the annotation that reads a table within a table; a ready object is kept."""

    def read(value: Any, handler: Callable[[Any], BaseModel]) -> Any:
        return value if isinstance(value, kind) else _made(kind, handler(value))

    return Annotated[table, WrapValidator(read)]


@cache
def _ends_of(kind: Any, ends: Ends, bare: bool) -> type[BaseModel]:
    """Return the model that reads a range whose ends are written so."""
    given: dict[str, Any] = {
        name: (Annotated[float, Written(getattr(ends, name), bare)], ...) for name in ("min", "max")
    }
    return create_model(kind.__name__, __base__=_Table, **given)


def _marked(mark: object, bare: bool) -> object:
    """Return what pydantic knows a mark by."""
    known: dict[type, Callable[[Any], object]] = {
        Measure: lambda measure: Written(measure, bare),
        Words: lambda words: AfterValidator(words.clean),
        Whole: lambda whole: Field(ge=whole.least, le=whole.most),
        Several: lambda several: Field(
            min_length=1, description=several.words, examples=[list(several.example)]
        ),
    }
    return known[type(mark)](mark)


def _made(kind: Callable[..., Kind], table: BaseModel) -> Kind:
    """Return the dataclass of what was read; keys that were not given keep their defaults."""
    names = {each.name for each in fields(kind)} & table.model_fields_set  # type: ignore[arg-type]
    return kind(**{name: getattr(table, name) for name in names})


def _placed(error: InputError, place: Place, file: str) -> Iterator[Fault]:
    """Yield the faults of a field with the place and the file they are in."""
    for fault in error.faults:
        where = dotted((*place, fault.where) if fault.where else place)
        yield Fault(file, where, fault.found, fault.allowed, fault.mend)


def faults_of(model: type[BaseModel], error: ErrorDetails, file: str) -> Iterable[Fault]:
    """Return the faults that one finding of a model stands for."""
    place: Place = error["loc"]
    cause = error.get("ctx", {}).get("error")
    if isinstance(cause, FieldFault):
        return _placed(cause, place, file)
    if isinstance(cause, UnitFault):
        return [Fault(file, dotted(place), cause.found, cause.allowed, _mend(model, place, cause))]
    if error["type"] == "extra_forbidden":
        return [_unknown_key(model, place, file)]
    if error["type"] == "missing":
        return [_missing_key(model, place, file)]
    return [Fault(file, dotted(place), describe(error["input"]), _allowed(model, place, error))]


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
    written = next(_written_of(_field(model, place)), None)
    if written is None or "without a unit" not in cause.found:
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
    written = next(_written_of(field), None)
    if field is None or written is not None:
        return "one of the keys of this table" if written is None else written.wanted
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
        models = [] if field is None else _models(field.annotation)
        current = models[0] if models else None
    return current


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models(part)]


def _written_of(field: FieldInfo | None) -> Iterator[Written]:
    """Yield the quantities that a field of a model is written as; none of another field."""
    if field is None:
        return
    yield from (item for item in field.metadata if isinstance(item, Written))
    for part in get_args(field.annotation):
        yield from (item for item in getattr(part, "__metadata__", ()) if isinstance(item, Written))
