"""The tests of costing share the shelf and the agreeing books of the tests of batches."""

from tests.batches.conftest import agreeing, shelf, version

__all__ = ["agreeing", "shelf", "version"]
