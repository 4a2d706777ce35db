from pathlib import Path

import pytest

from shopflow.core import solid
from tests.core.solid import parts

MODELS = Path(__file__).resolve().parents[3].parent / "shared" / "models"


@pytest.fixture(scope="session")
def models():
    if not MODELS.is_dir():
        pytest.skip("the folder ../shared/models with real part models is not here")
    return MODELS


@pytest.fixture(scope="session")
def plain_part(tmp_path_factory):
    """A block of 60 × 40 × 20 mm with one through hole of 10 mm."""
    shape = parts.cut(parts.box(60, 40, 20), parts.drill(10, 30, (30, 20, 25), point_deg=None))
    return parts.write(shape, tmp_path_factory.mktemp("parts") / "plain.step")


@pytest.fixture(scope="session")
def read_shape(tmp_path_factory):
    """Write a shape to STEP and read it back through the geometry process."""
    folder = tmp_path_factory.mktemp("shapes")
    count = iter(range(10**6))

    def read(shape, unit="MM", **options):
        return solid.read(parts.write(shape, folder / f"{next(count)}.step", unit), **options)

    return read
