"""Every lock of the product and the test that fails without it.

By module: the function, with what it locks where that is no row it selects itself (see `tests.concurrency.source`).
Beside it the test, as file and name under `tests`; none of them can pass where the lock is gone, which `left_out` in this
folder shows. A lock without a test is no lock to keep: where a constraint decides in its place, take it out.
"""

BATCHES = "concurrency/test_batches.py"
FORMULAS = "concurrency/test_formulas_and_quality.py"
STOCK = "concurrency/test_stock.py"
STUDIO = "concurrency/test_studio.py"
TRADE = "concurrency/test_buying_and_selling.py"

LOCKS: dict[str, dict[str, tuple[str, str]]] = {
    "studio.numbering": {"next_codes": (STUDIO, "no_code_is_given_out_twice")},
    "studio.server": {"one_at_a_time: pg_advisory_lock": (STUDIO, "one_of_two_starting_processes_sets_up")},
    "studio.home.views": {"_save_person": (STUDIO, "somebody_stays_the_owner")},
    "inventory.purchasing.offers": {"withdraw": (TRADE, "a_supplier_price_is_withdrawn_by_one_of_two")},
    "inventory.purchasing.ordering": {
        "lock": (TRADE, "a_purchase_order_is_sent_by_one_of_two"),
        "expecting": (TRADE, "nothing_arrives_of_an_order_that_is_being_called_off"),
        "settle": (TRADE, "an_order_lacks_what_is_reversed_while_the_rest_arrives"),
    },
    "inventory.counting.counting": {
        "start: lock": (STOCK, "a_lot_comes_on_one_count_only"),
        "_open": (STOCK, "a_count_is_posted_by_one_of_two"),
        "add_lot: lock": (STOCK, "a_lot_is_added_to_one_of_two_counts"),
        "count_lots: lock": (STOCK, "lots_are_counted_with_all_of_them_locked_at_once"),
        "post: lock": (STOCK, "no_count_is_posted_whose_difference_is_being_changed"),
    },
    "inventory.deliveries.late_costs": {
        "_hold_family: lock": (STOCK, "a_late_cost_goes_to_where_the_goods_are_by_then"),
        "_hold_family: lock#2": (
            STOCK,
            "a_late_cost_waits_for_what_is_drawn_from_a_jar_that_was_filled_meanwhile",
        ),
    },
    "inventory.importing.import_service": {"bring_in": (TRADE, "a_table_is_brought_in_by_one_of_two")},
    "inventory.ledger.books": {
        "post: lock": (STOCK, "two_draws_of_the_last_of_a_lot"),
        "lock": (STOCK, "two_draws_of_the_last_of_a_lot"),
        "check_open: hold_open": (STOCK, "nobody_posts_into_a_day_that_is_being_closed"),
        "check_day_open: hold_open": (STUDIO, "no_minutes_are_noted_on_a_day_that_is_being_closed"),
        "reverse: lock": (STOCK, "a_posting_is_reversed_by_one_of_two"),
    },
    "inventory.ledger.bulk_books": {
        "open_lots: hold_open": (STOCK, "no_lot_is_opened_in_a_day_that_is_being_closed"),
        "post_earlier: lock": (STOCK, "what_is_brought_in_of_earlier_counts_what_is_being_drawn"),
        "post_earlier: hold_open": (STOCK, "nothing_earlier_is_brought_into_a_day_that_is_being_closed"),
    },
    "inventory.ledger.closing": {
        "hold_open: _lock": (STOCK, "nobody_posts_into_a_day_that_is_being_closed"),
        "when_open: hold_open": (STOCK, "what_is_reversed_while_its_day_is_being_closed_stands_after_it"),
        "_lock: LOCK TABLE": (STOCK, "a_closing_counts_what_is_being_posted"),
        "close: _lock": (STOCK, "a_closing_counts_what_is_being_posted"),
    },
    "inventory.lots.decanting": {
        "decant: lock": (STOCK, "a_pail_is_emptied_of_what_is_left_when_it_is_poured")
    },
    "inventory.lots.holding": {
        "let_go": (FORMULAS, "a_lot_is_let_go_by_one_of_two"),
        "_put_on": (STOCK, "a_hold_ends_a_use_that_is_being_allowed[owner decides]"),
        "_set": (STOCK, "a_lot_is_held_by_one_of_two"),
        "hold_all": (STOCK, "several_lots_are_held_once"),
        "allow_use": (STOCK, "nothing_is_allowed_of_a_lot_that_is_being_released"),
        "end_allowing": (STOCK, "what_was_allowed_is_ended_by_one_of_two"),
        "relabel": (STOCK, "of_two_labels_the_second_says_what_the_first_wrote"),
        "note_tare": (STOCK, "a_tare_is_written_once"),
    },
    "inventory.lots.moving": {
        "make: lock": (STOCK, "an_expiry_that_is_being_corrected_stays_when_the_lot_is_made_again"),
        "revalue: lock": (STOCK, "a_cost_that_is_corrected_is_shared_with_what_is_being_drawn"),
    },
    "inventory.lots.write_offs": {"_change: lock": (STOCK, "of_two_who_looked_at_a_lot_one_puts_it_right")},
    "inventory.documents.services": {
        "add": (STOCK, "the_same_file_lies_beside_an_item_once"),
        "_mark": (STOCK, "a_document_is_withdrawn_by_one_of_two"),
    },
    "inventory.replenishment.one_offs": {
        "mark": (STOCK, "a_draw_or_a_dispatch_is_marked_as_one_off_by_one_of_two")
    },
    "inventory.replenishment.purchase_list": {
        "draft_orders": (TRADE, "one_press_drafts_what_two_people_chose")
    },
    "inventory.replenishment.views_purchase": {
        "item_reorder_change": (TRADE, "two_items_do_not_take_each_others_place"),
    },
    "inventory.customers.customers": {
        "_locked": (TRADE, "an_order_of_somebody_who_is_being_erased_is_of_somebody_new"),
        "lock_with_orders": (TRADE, "nobody_is_erased_whose_order_is_being_opened_again"),
        "write_customer": (TRADE, "nothing_is_written_of_somebody_who_is_being_erased"),
        "erase: lock_with_orders": (TRADE, "nobody_is_erased_of_whom_an_order_is_being_taken"),
    },
    "inventory.sales_orders.order_progress": {
        "lock": (TRADE, "no_more_is_sent_for_an_order_than_it_wants"),
        "lock_of_posting": (TRADE, "an_order_lacks_what_is_reversed_while_the_rest_is_sent"),
    },
    "inventory.customers.retention": {
        "erase_due: lock_with_orders": (
            TRADE,
            "all_whose_time_is_over_are_locked_before_the_first_is_erased",
        ),
    },
    "inventory.shipments.dispatching": {
        "write_head: hold_open": (TRADE, "a_sale_is_no_gift_after_its_day_was_closed"),
        "_locked": (TRADE, "no_more_comes_back_than_was_sent"),
    },
    "inventory.shipments.reversals": {
        "ShipmentUndone.lock_first: lock_of_posting": (
            TRADE,
            "an_order_lacks_what_is_reversed_while_the_rest_is_sent",
        ),
        "ShipmentUndone.lock_first": (TRADE, "what_is_coming_back_is_not_reversed"),
        "ShipmentUndone.lock_first#2": (
            TRADE,
            "an_order_is_not_opened_again_for_somebody_who_is_being_erased",
        ),
    },
    "inventory.shop_files.import_service": {
        "keep_products": (TRADE, "products_of_a_shop_are_kept_by_one_after_the_other"),
        "bring_in": (TRADE, "a_shops_file_is_brought_in_by_one_of_two"),
        "bring_in: lock_named": (TRADE, "all_customers_of_a_shops_file_are_locked_before_the_first_order"),
    },
    "batches.bench.entries": {"_take_in": (BATCHES, "no_entry_is_kept_of_a_batch_that_is_being_called_off")},
    "batches.burn_tests.burning": {
        "start": (FORMULAS, "what_is_being_made_a_blend_is_not_burned"),
        "_running": (FORMULAS, "nothing_is_read_of_a_burn_test_that_is_being_decided"),
    },
    "batches.complaints.complaining": {
        "change": (FORMULAS, "of_two_changes_of_a_complaint_the_second_says_what_the_first_wrote"),
        "add_photo": (FORMULAS, "a_photo_lies_beside_a_complaint_once"),
        "erase": (FORMULAS, "names_are_erased_from_a_complaint_once[complaint]"),
        "erase_along": (FORMULAS, "names_are_erased_from_a_complaint_once[customer]"),
    },
    "batches.fill_checks.checking": {
        "check_fill: locked": (BATCHES, "no_fill_check_is_kept_of_a_batch_that_is_being_called_off"),
    },
    "batches.formulas.approving": {"_locked": (FORMULAS, "a_version_is_approved_by_one_of_two")},
    "batches.formulas.hazard_labels": {
        "enter_hazard_label": (FORMULAS, "no_label_names_a_document_that_is_being_withdrawn"),
    },
    "batches.formulas.writing": {
        "write_version": (FORMULAS, "of_two_new_versions_each_has_a_number_of_its_own"),
        "rewrite_version": (FORMULAS, "a_version_that_is_being_planned_from_is_not_rewritten"),
    },
    "batches.querysets": {"BatchQuerySet.locked": (BATCHES, "a_batch_is_finished_by_one_of_two")},
    "batches.recalls.facts": {
        "reach": (FORMULAS, "a_recall_sees_what_is_being_drawn_from_what_it_holds"),
        "reach#2": (FORMULAS, "a_recall_waits_for_what_was_poured_while_it_waited"),
    },
    "batches.recalls.recalling": {
        "_open": (FORMULAS, "nothing_is_answered_of_a_recall_that_is_being_closed")
    },
    "batches.planning.plans": {
        "plan": (BATCHES, "nobody_plans_from_a_version_that_is_being_retired"),
        "_check_order: lock_order": (BATCHES, "nobody_plans_for_an_order_that_is_being_called_off"),
        "open_batch: locked": (BATCHES, "nobody_calls_a_batch_off_that_something_is_being_drawn_into"),
    },
    "batches.production.finishing": {
        "_lock_for_output: lock": (BATCHES, "what_comes_of_melt_that_is_being_corrected_is_held"),
        "undo_finish: locked": (BATCHES, "a_batch_is_opened_again_by_one_of_two"),
        "undo_finish: lock": (BATCHES, "a_finish_is_undone_with_all_its_lots_locked_at_once"),
    },
    "batches.production.left_over": {
        "settle: locked": (BATCHES, "what_was_left_over_is_settled_batch_first_and_lots_after"),
        "settle: lock": (BATCHES, "what_was_left_over_is_put_back_with_all_lots_locked_at_once"),
    },
    "batches.production.releasing": {"release": (FORMULAS, "goods_that_are_being_held_are_not_released")},
    "batches.production.runs": {
        "drawing_into: lock": (BATCHES, "several_lines_are_drawn_with_all_their_lots_locked_at_once"),
        "correct_draw: locked": (BATCHES, "a_correction_that_waited_for_the_finish_goes_into_what_was_made"),
        "correct_draw: lock": (BATCHES, "a_correction_locks_the_wrong_lot_and_the_right_one_at_once"),
        "take_reading": (BATCHES, "no_reading_revives_a_batch_that_is_being_called_off"),
        "strike_reading": (BATCHES, "a_reading_is_struck_out_by_one_of_two"),
        "take_back_labour": (BATCHES, "minutes_are_taken_back_by_one_of_two"),
    },
    "batches.production.versions": {
        "correct_version: locked": (BATCHES, "a_batch_is_said_to_be_of_another_version_by_one_of_two"),
        "correct_version: lock": (BATCHES, "a_version_is_corrected_with_all_lots_locked_at_once"),
    },
    "costing.rates.rates": {
        "check_open: hold_open": (STUDIO, "no_rate_begins_in_a_day_that_is_being_closed")
    },
    "costing.new_products.keeping": {"make_formula": (STUDIO, "one_formula_is_made_of_a_scenario")},
}
