"""The cost of goods as lines of figures: the same for the page, the file and the paper."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from costing.models import GoodsRule
from costing.valuation.carried import Added
from costing.valuation.cost_of_goods import CostOfGoods
from costing.valuation.goods import Goods
from costing.valuation.methods import days_of_stock, turnover
from studio.core.percent import format_percent


@dataclass(frozen=True)
class Figures:
    """One line: millionths of material, labour of those employed, the owner's, overhead, and all that is counted.

    `tone` is "" for a plain line, "head" for the title of a group, "sum" for a sum, "total" for what it all comes to,
    "part" for what is within the line above.
    """

    words: str
    material: int = 0
    labour: int = 0
    owner: int = 0
    overhead: int = 0
    counted: int = 0
    tone: str = ""

    @property
    def cells(self) -> tuple[int, int, int, int, int]:
        """The five figures."""
        return self.material, self.labour, self.owner, self.overhead, self.counted


COLUMNS = ("Material", "Labour", "Owner's labour", "Overhead", "Counted in all")


def columns(rule: GoodsRule) -> tuple[str, ...]:
    """The columns by name; one that the last does not hold says so."""
    counted = (True, rule.with_labour, rule.with_owner, rule.with_overhead, True)
    return tuple(
        name if held else f"{name}, not counted" for name, held in zip(COLUMNS, counted, strict=True)
    )


def included_words(rule: GoodsRule) -> list[str]:
    """What is counted into goods and what is not, in sentences."""
    parts = {
        "labour of those employed": rule.with_labour,
        "the owner's own labour": rule.with_owner,
        "overhead by its dated rules": rule.with_overhead,
    }
    inside = ["material as paid for, with freight and duty", *[name for name, on in parts.items() if on]]
    outside = [name for name, on in parts.items() if not on]
    said = [f"Counted into goods: {', '.join(inside)}."]
    if outside:
        said.append(f"Not counted, and shown apart: {', '.join(outside)}.")
    said.append(
        f"Up to {format_percent(rule.normal_loss_ppm)} of the good units may be lost in a run; what is lost beyond is "
        "abnormal, and no cost of goods on hand."
    )
    said.append(
        "Method: specific lots, each at what was paid for it. Outward freight, selling fees and administration are in no "
        "figure."
    )
    said.append(
        "A management figure: tax rules differ on what belongs in it. A US Schedule C, for one, leaves the owner's own "
        "pay out."
    )
    return said


def _line(words: str, added: Added, rule: GoodsRule, *, books: int = 0, tone: str = "") -> Figures:
    material = books + added.material
    counted = (
        material
        + (added.labour if rule.with_labour else 0)
        + (added.owner if rule.with_owner else 0)
        + (added.overhead if rule.with_overhead else 0)
    )
    return Figures(words, material, added.labour, added.owner, added.overhead, counted, tone)


def _minus(line: Figures) -> Figures:
    material, labour, owner, overhead, counted = (-figure for figure in line.cells)
    return Figures(line.words, material, labour, owner, overhead, counted, line.tone)


def _stock(goods: Goods, rule: GoodsRule, title: str, words: str) -> list[Figures]:
    """Raw, in progress and finished under a title, and their sum."""
    lines = [_line(name, total.added, rule, books=total.books) for name, total in goods.groups]
    total = goods.total()
    return [
        Figures(title, tone="head"),
        *lines,
        _line(words, total.added, rule, books=total.books, tone="sum"),
    ]


def statement(told: CostOfGoods) -> list[Figures]:
    """Opening, what came, what was added, closing, and the cost of goods; it adds up line by line in every column."""
    rule = told.rule
    lines = _stock(told.opening, rule, "At the beginning", "Opening stock")
    lines.append(Figures("What came", tone="head"))
    lines += [_line(name, Added(), rule, books=value) for name, value in told.came.items() if value]
    lines.append(_line("Work and overhead of the period", told.added, rule))
    closing = _stock(told.closing, rule, "Less what is left", "Closing stock")
    lines.append(
        _line(
            "Goods available",
            told.opening.total().added + told.added,
            rule,
            books=told.opening.total().books + sum(told.came.values()),
            tone="sum",
        )
    )
    lines += [_minus(line) for line in closing]
    lines.append(_line("Cost of goods", told.cost, rule, tone="total"))
    lines.append(_line("of which abnormal loss", told.abnormal, rule, tone="part"))
    lines.append(_line("Cost of goods without abnormal loss", told.cost - told.abnormal, rule, tone="total"))
    return lines


def where_it_went(told: CostOfGoods) -> list[tuple[str, int]]:
    """The material that left, by the books; what nothing explains comes last, and is left out where it is nothing."""
    rows = [(name, value) for name, value in told.went.items() if value]
    return [*rows, ("Not explained", told.unexplained)] if told.unexplained else rows


def pace(told: CostOfGoods) -> tuple[str, str]:
    """How often stock turned over and how long it lasted, in words; empty where there is nothing to tell."""
    cost = _line("", told.cost, told.rule).counted
    turns = turnover(cost, told.opening.worth, told.closing.worth)
    days = days_of_stock(turns, told.days)
    return (
        f"{float(turns):.2f} times" if turns else "",
        f"{float(days):,.0f} days" if days and days > 0 else "",
    )


def span_words(first: date, last: date) -> str:
    """A period in words."""
    return f"{first.day} {first:%b %Y} to {last.day} {last:%b %Y}"


def as_cells(lines: Iterable[Figures]) -> list[tuple[str, Sequence[int | None]]]:
    """Lines for a file: words and five figures in millionths, none under a title."""
    return [(line.words, [None] * 5 if line.tone == "head" else line.cells) for line in lines]
