"""The accountant's report as finished texts."""

from costing.valuation import statement
from costing.valuation.cost_of_goods import CostOfGoods
from costing.valuation.cost_of_goods_pdf import GoodsPaper, PaperLine
from inventory.models import Closing
from studio.core.money import format_money
from studio.models import Studio


def paper_of(told: CostOfGoods, studio: Studio, *, closed: Closing | None, printed: str) -> GoodsPaper:
    """All that the paper says."""

    def money(micros: int) -> str:
        return format_money(micros, studio.currency)

    lines = [
        PaperLine(line.words, () if line.tone == "head" else tuple(map(money, line.cells)), line.tone)
        for line in statement.statement(told)
    ]
    went = [PaperLine(name, (money(value),)) for name, value in statement.where_it_went(told)]
    went.append(PaperLine("In all, by the books", (money(told.used),), "sum"))
    stock = [
        PaperLine(
            row.words,
            (str(row.of), money(row.books), money(row.worth(told.rule))),
        )
        for row in told.closing.rows
    ]
    total = told.closing.total()
    stock.append(PaperLine("In all", ("", money(total.books), money(total.worth(told.rule))), "sum"))
    turns, lasts = statement.pace(told)
    said = list(statement.included_words(told.rule))
    if turns:
        said.append(
            f"Stock turned over {turns} in the period"
            + (f" and lasted {lasts} on average." if lasts else ".")
        )
    if told.closing.minutes_without_rate:
        said.append(
            f"{told.closing.minutes_without_rate:,} minutes worked have no rate and are counted at nothing."
        )
    if closed and told.last <= closed.through:
        said.append(
            f"The books are closed through {closed.through:%d %b %Y}, on {closed.at:%d %b %Y} by {closed.by}."
        )
    else:
        said.append("The books are not closed through the end of this period: its figures may still change.")
    return GoodsPaper(
        studio=studio.name,
        period=statement.span_words(told.first, told.last),
        columns=statement.columns(told.rule),
        lines=tuple(lines),
        went=tuple(went),
        stock=tuple(stock),
        said=tuple(said),
        printed=printed,
        page_size=studio.page_size,
    )
