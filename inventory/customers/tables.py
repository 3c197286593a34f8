"""What left as a table: of everybody, and on a customer's own page."""

from studio.web.tables import Column, Format, Table

DISPATCHES = Table(
    "sent-out",
    "Sent out",
    [
        Column("Dispatch"),
        Column("Left", "posting.happened_at", Format.DAY),
        Column("To", css="words"),
        Column("What"),
        Column("Order reference", "reference", css="words"),
        Column("Lots", css="words"),
    ],
)
WITHOUT_CUSTOMER = ("dispatch", "left", "what", "order_reference", "lots")
