"""Which line of one version is which of another."""

import pytest

from batches.formulas.same_lines import same_lines
from batches.models import FormulaLine

ROSE, MOSS = 1, 2


def version(*lines):
    return [FormulaLine(pk=pk, item_id=item, basis=basis, amount=amount) for pk, item, basis, amount in lines]


@pytest.mark.parametrize(
    ("new", "expected"),
    [
        pytest.param([(21, ROSE, "of_melt", 3), (22, ROSE, "of_wax", 4)], {11: 22, 12: 21}, id="by basis"),
        pytest.param(
            [(21, ROSE, "of_wax", 3), (22, ROSE, "of_wax", 4)], {11: 21, 12: 22}, id="then by order"
        ),
        pytest.param([(21, ROSE, "of_melt", 7)], {11: 21, 12: 21}, id="one for both"),
        pytest.param([(21, MOSS, "of_wax", 4)], {}, id="none of the item"),
        pytest.param(
            [(21, MOSS, "of_wax", 4), (22, ROSE, "of_wax", 4)], {11: 22, 12: 22}, id="past another item"
        ),
    ],
)
def test_lines_meet_by_item_and_basis_then_by_order(new, expected):
    old = version((11, ROSE, "of_wax", 4), (12, ROSE, "of_melt", 3))
    assert {pk: line.pk for pk, line in same_lines(old, version(*new)).items()} == expected


def test_a_line_on_another_basis_is_the_one_that_is_left():
    old = version((11, ROSE, "of_wax", 4), (12, ROSE, "of_melt", 3))
    new = version((21, ROSE, "of_melt", 3), (22, ROSE, "wax_share", 1))
    assert {pk: line.pk for pk, line in same_lines(old, new).items()} == {11: 22, 12: 21}
