"""What costing keeps: rates and standards, prices and scenarios, closed figures; each with its day."""

from costing.models.goods import ClosedFigure, GoodsRule
from costing.models.prices import (
    AskedPrice,
    ChannelTerms,
    PriceRounding,
    Scenario,
    ScenarioExpense,
    ScenarioPart,
    ScenarioQuote,
)
from costing.models.rates import LabourRate, OverheadPaid, OverheadRate, WorkStandard, WorkStep

__all__ = [
    "AskedPrice",
    "Channel",
    "ChannelTerms",
    "ClosedFigure",
    "GoodsRule",
    "LabourRate",
    "OverheadPaid",
    "OverheadRate",
    "PriceRounding",
    "Scenario",
    "ScenarioExpense",
    "ScenarioPart",
    "ScenarioQuote",
    "WorkStandard",
    "WorkStep",
]
