"""Options that several commands share, written once: a dataclass of them, spread out for typer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import wraps
from inspect import Parameter, Signature, signature
from typing import Any, get_type_hints


def grouped(command: Callable[..., None]) -> Callable[..., None]:
    """The command with each parameter that is a dataclass of options replaced by that dataclass's fields.

    Such a parameter's default is an instance, whose values are the options' defaults; its place among
    the parameters is the options' place on the help page. What is given comes back as one instance.
    """
    hints = get_type_hints(command, include_extras=True)
    shown: list[Parameter] = []
    groups: dict[str, type[Any]] = {}
    for parameter in signature(command).parameters.values():
        hint = hints[parameter.name]
        if not (isinstance(hint, type) and is_dataclass(hint)):
            shown.append(parameter.replace(annotation=hint, kind=Parameter.KEYWORD_ONLY))
            continue
        groups[parameter.name] = hint
        own = get_type_hints(hint, include_extras=True)
        shown += [
            Parameter(
                field.name,
                Parameter.KEYWORD_ONLY,
                default=getattr(parameter.default, field.name),
                annotation=own[field.name],
            )
            for field in fields(hint)
        ]

    @wraps(command)
    def run(**given: Any) -> None:
        for name, group in groups.items():
            given[name] = group(**{field.name: given.pop(field.name) for field in fields(group)})
        command(**given)

    del run.__wrapped__
    run.__signature__ = Signature(shown)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in shown}
    return run
