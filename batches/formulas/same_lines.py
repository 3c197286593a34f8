"""Which line of one formula version is which of another: by item and basis, then by item, both in their order."""

from collections.abc import Hashable, Sequence

from batches.models import FormulaLine


def same_lines(old: Sequence[FormulaLine], new: Sequence[FormulaLine]) -> dict[int, FormulaLine]:
    """By the key of each line of `old` the line of `new` that it is; those whose item `new` does not have are left out.

    Every line is met once, as long as there are enough of them: an item may stand on two, such as fragrance of the wax
    and of the melt. What then has no line of its own counts for the first of its item, of its own basis before another.
    """
    found: dict[int, FormulaLine] = {}
    for alike in (_item_and_basis, _item):
        met = {line.pk for line in found.values()}
        free = [line for line in new if line.pk not in met]
        for line in old:
            fits = [each for each in free if alike(each) == alike(line)]
            if line.pk not in found and fits:
                found[line.pk] = fits[0]
                free.remove(fits[0])
    for line in old:
        of_item = [each for each in new if each.item_id == line.item_id]
        if line.pk not in found and of_item:
            found[line.pk] = min(of_item, key=lambda each: each.basis != line.basis)
    return found


def _item(line: FormulaLine) -> Hashable:
    return line.item_id


def _item_and_basis(line: FormulaLine) -> Hashable:
    return line.item_id, line.basis
