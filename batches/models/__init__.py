"""Formulas in numbered versions, the batches that are made from them, and how both are tried and checked."""

from batches.models.bench import BatchNote, BatchPhoto, BenchEntry
from batches.models.burning import (
    Amount,
    BurnJar,
    BurnLimits,
    BurnPhoto,
    BurnReading,
    BurnTest,
    StateChange,
    WentOut,
)
from batches.models.checking import FillCheck, FillWeight, Release
from batches.models.complaints import Complaint, ComplaintChange, ComplaintPhoto
from batches.models.correcting import VersionCorrection
from batches.models.formulas import Formula, FormulaLine, FormulaVersion
from batches.models.hazard_labels import HazardLabel, HazardSource
from batches.models.production import (
    Batch,
    BatchEnd,
    ChosenLot,
    Defect,
    Draw,
    Flaw,
    Labour,
    Outcome,
    Reading,
    StruckReading,
    ready_on,
)
from batches.models.recalls import (
    Recall,
    RecallAnswer,
    RecallBatch,
    RecallLot,
    RecallParty,
    RecallSent,
    RecallStep,
)

__all__ = [
    "Amount",
    "Batch",
    "BatchEnd",
    "BatchNote",
    "BatchPhoto",
    "BenchEntry",
    "BurnJar",
    "BurnLimits",
    "BurnPhoto",
    "BurnReading",
    "BurnTest",
    "ChosenLot",
    "Complaint",
    "ComplaintChange",
    "ComplaintPhoto",
    "Defect",
    "Draw",
    "FillCheck",
    "FillWeight",
    "Flaw",
    "Formula",
    "FormulaLine",
    "FormulaVersion",
    "HazardLabel",
    "HazardSource",
    "Labour",
    "Outcome",
    "Reading",
    "Recall",
    "RecallAnswer",
    "RecallBatch",
    "RecallLot",
    "RecallParty",
    "RecallSent",
    "RecallStep",
    "Release",
    "StateChange",
    "StruckReading",
    "VersionCorrection",
    "WentOut",
    "ready_on",
]
