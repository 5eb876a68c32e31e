"""Plants one fault in the running program: every function made of the old code runs the changed one from then on."""

import functools
import gc
from pathlib import Path
from types import CodeType, FunctionType

from tests.mutants.draw import Mutant


def plant(mutant: Mutant, root: Path) -> int:
    """Changes the functions in this process (a forked one); returns how many. What was cached is forgotten."""
    file = str(root / mutant.path)
    changed = _code(compile(mutant.planted(root), file, "exec"), mutant.function)
    planted = 0
    for thing in gc.get_objects():
        # By its type alone: to be asked for its class, a lazy object would load what it stands for.
        if type(thing) is FunctionType and thing.__code__.co_filename == file:
            # A function that no longer uses what stood around it when it was made cannot be given such code.
            fits = thing.__code__.co_freevars == changed.co_freevars
            if fits and thing.__code__.co_qualname == mutant.function:
                thing.__code__ = changed
                planted += 1
        elif type(thing) is functools._lru_cache_wrapper:
            thing.cache_clear()
    return planted


def _code(module: CodeType, name: str) -> CodeType:
    """The code of a function by its dotted name."""
    waiting = [module]
    while waiting:
        code = waiting.pop()
        for inner in code.co_consts:
            if isinstance(inner, CodeType):
                if inner.co_qualname == name:
                    return inner
                waiting.append(inner)
    raise LookupError(name)
