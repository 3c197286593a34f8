"""Formulas in numbered versions, the batches that are made from them, and how both are tried and checked."""

from batches.models.burning import Amount, BurnJar, BurnLimits, BurnReading, BurnTest, StateChange
from batches.models.checking import FillCheck, FillWeight, Market, Release
from batches.models.formulas import Formula, FormulaLine, FormulaVersion
from batches.models.production import (
    Batch,
    Defect,
    Draw,
    Labour,
    Outcome,
    Reading,
    ready_on,
)

__all__ = [
    "Amount",
    "Batch",
    "BurnJar",
    "BurnLimits",
    "BurnReading",
    "BurnTest",
    "Defect",
    "Draw",
    "FillCheck",
    "FillWeight",
    "Formula",
    "FormulaLine",
    "FormulaVersion",
    "Labour",
    "Market",
    "Outcome",
    "Reading",
    "Release",
    "StateChange",
    "ready_on",
]
