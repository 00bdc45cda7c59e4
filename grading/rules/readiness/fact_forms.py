"""Read the forms of facts and standards off their dataclasses: which fields there are, and what lies in them."""

from dataclasses import is_dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Any, NamedTuple, Union, get_args, get_origin, get_type_hints


class FieldForm(NamedTuple):
    """The type of a field without its “or nothing”; of a list, the type of its entries."""

    inside: Any
    is_list: bool


@cache
def fields_of(form: type) -> dict[str, FieldForm]:
    """Return the form of each field of a dataclass; nothing for what has free names, such as thresholds."""
    if not (isinstance(form, type) and is_dataclass(form)):
        return {}
    return {name: _form_inside(hint) for name, hint in get_type_hints(form).items()}


def _form_inside(hint: Any) -> FieldForm:
    choices = [choice for choice in get_args(hint) if choice is not NoneType]
    if isinstance(hint, UnionType) or get_origin(hint) is Union:
        return _form_inside(choices[0]) if len(choices) == 1 else FieldForm(hint, False)
    if get_origin(hint) is tuple:
        return FieldForm(choices[0], True)
    return FieldForm(hint, False)
