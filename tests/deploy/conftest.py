import pytest

from tests.live_shop import LiveShop


@pytest.fixture(scope="session")
def laid_out():
    """A shop without the demo as `make upgrade` lays it out, never started: others begin with a copy of it."""
    shop = LiveShop(DEMO="0")
    shop.launch("--lay-out-only")
    assert shop.process.wait(120) == 0, shop.output()
    yield shop
    shop.remove()
