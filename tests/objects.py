"""What the walk over every address (tests/people/test_access.py) puts into an address that names an object.

An app's tests register a factory for each name of an argument, or for one address when its arguments belong together:

    @makes("setup_id")                       # every address with <int:setup_id>
    def a_setup(everybody): return job_at("plan").setups.get().pk

    @makes_all("floor:report")               # just this address, all of its arguments
    def a_report(everybody): return {"lot_id": 1, "step_id": 2}

`everybody` maps each role to a person who holds it (tests/people_fixtures.py). Factories run inside a test with a
database; what they make is gone afterwards. Keep them in tests/APP/objects.py: every module of that name is imported.
"""

import importlib
from pathlib import Path

ARGUMENTS = {}
ADDRESSES = {}


def makes(name):
    def register(factory):
        ARGUMENTS[name] = factory
        return factory

    return register


def makes_all(address):
    def register(factory):
        ADDRESSES[address] = factory
        return factory

    return register


def _register_all():
    for module in Path(__file__).parent.glob("*/objects.py"):
        importlib.import_module(f"tests.{module.parent.name}.objects")


def named_by(address, names):
    """What an address names, as a text: addresses with the same may share the values of their arguments."""
    _register_all()
    factory = ADDRESSES.get(address)
    return f"{factory.__module__}.{factory.__name__}" if factory else " ".join(names)


def arguments_for(address, names, everybody):
    """Values for the arguments of an address; LookupError says what to register where a factory is missing."""
    _register_all()
    if address in ADDRESSES:
        return ADDRESSES[address](everybody)
    missing = [name for name in names if name not in ARGUMENTS]
    if missing:
        raise LookupError(f"register a factory for {missing} of {address} (see tests/objects.py)")
    return {name: ARGUMENTS[name](everybody) for name in names}
