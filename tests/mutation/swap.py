"""Puts a fault into a module that is already imported, wherever its functions and values have got to.

Nothing is imported again: a function keeps its identity and gets the code and the defaults of its faulty twin, so that
whoever imported it, or remembers it in a table, runs the fault too. Values on module level are replaced in all modules
of ours that hold them under the same name; caches are emptied.
"""

import contextlib
import sys
from functools import cached_property
from types import FunctionType, ModuleType
from typing import Any


def put(name: str, path: str, text: str) -> None:
    """Make an imported module, by its name and file, what it would be with that text; raises what the text does."""
    old = sys.modules[name]
    new = ModuleType(name)
    new.__file__ = path
    new.__package__ = name.rpartition(".")[0]
    # Dataclasses look their module up by its name.
    sys.modules[name] = new
    try:
        exec(compile(text, path, "exec", dont_inherit=True), new.__dict__)
    finally:
        sys.modules[name] = old
    for key, value in list(vars(new).items()):
        if key.startswith("__"):
            continue
        was = vars(old).get(key)
        if not _same(was, value):
            _everywhere(key, was, value)
    _empty_caches()


def _same(was: Any, now: Any) -> bool:
    """Turn one object into another in place; return whether that was possible, or there was nothing to do."""
    if was is now:
        return True
    if isinstance(was, FunctionType) and isinstance(now, FunctionType):
        was.__code__, was.__defaults__, was.__kwdefaults__ = now.__code__, now.__defaults__, now.__kwdefaults__
        inner, other = getattr(was, "__wrapped__", None), getattr(now, "__wrapped__", None)
        return inner is None or _same(inner, other)
    if hasattr(was, "cache_clear") and hasattr(now, "__wrapped__"):
        return _same(was.__wrapped__, now.__wrapped__)
    if isinstance(was, property) and isinstance(now, property):
        return _same(was.fget, now.fget)
    if isinstance(was, cached_property) and isinstance(now, cached_property):
        return _same(was.func, now.func)
    if isinstance(was, staticmethod | classmethod) and isinstance(now, staticmethod | classmethod):
        return _same(was.__func__, now.__func__)
    if isinstance(was, type) and isinstance(now, type):
        if was.__module__ == now.__module__:
            for key, value in list(vars(now).items()):
                if key in ("__dict__", "__weakref__", "__doc__", "__module__", "__dataclass_fields__"):
                    continue
                if not _same(vars(was).get(key), value):
                    with contextlib.suppress(AttributeError, TypeError):
                        setattr(was, key, value)
        return True
    return False


def _everywhere(key: str, was: Any, now: Any) -> None:
    for module in list(sys.modules.values()):
        if (getattr(module, "__name__", "") or "").startswith(("optimise.", "tests.", "test_")):
            held = vars(module)
            if key in held and held[key] is was:
                held[key] = now


def _empty_caches() -> None:
    for name, module in list(sys.modules.items()):
        if name.startswith("optimise."):
            for value in list(vars(module).values()):
                if callable(getattr(value, "cache_clear", None)):
                    value.cache_clear()
