"""What stands below and is told from above, by name, each in one list: the arrows of the house point down.

Settings, read by `studio.settings`; the names are looked up when they are first needed.
"""

# What pages of one package show of what another knows, by place; see `studio.web.panels`.
PANELS = {
    "batch": ["batches.records.record_panel.record_of_batch", "costing.actual.batch_panel.batch_cost"],
    "customer": ["batches.complaints.panels.complaints_of_customer"],
    "customer-order": ["batches.planning.for_orders.runs_of_order"],
    "dispatch": [],
    "formula": ["costing.standard.product_panel.links_of_formula"],
    "item": ["costing.standard.product_panel.links_of_item"],
    "items": ["costing.standard.product_panel.link_of_stock"],
    "late-costs": ["batches.production.late_cost_panel.batches_of_late_costs"],
    "lot": ["batches.tracing.lot_panel.lot_history", "batches.tracing.lot_panel.lot_width"],
    "posting": ["batches.tracing.lot_panel.batch_of_posting"],
    "trace": ["batches.complaints.panels.complaints_of_trace"],
}

# What packages above tell stock; see `inventory.neighbors`.
NEIGHBORS = ["batches.stock_neighbor.Batches"]

# What follows when a posting is reversed, in this order; see `inventory.ledger.reversals`.
REVERSAL_FOLLOWERS = [
    "inventory.shipments.reversals.ShipmentUndone",
    "inventory.lots.reversals.HoldsPouredBack",
    "inventory.deliveries.reversals.DeliveryUndone",
]
