"""What happens on given days of the story beside the everyday work: a script, by how many days ago."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

from batches.models import Batch, Labour, Reading
from batches.planning import planning, plans
from batches.production import runs
from inventory.deliveries.late_costs import add_cost
from inventory.lots.holding import allow_use, hold
from inventory.lots.moving import Taking
from inventory.models import Delivery, Kind, Lot, Movement
from studio.demonstration import complaints
from studio.demonstration.buying import RISE_DAYS_AGO, Buying
from studio.demonstration.counts import ShelfCounts
from studio.demonstration.goods import CENT, KG, G, Offer
from studio.demonstration.stage import working_day
from studio.demonstration.work import Run, Workshop

QUINCE_KEPT = 160 * G  # what is left of the scent that cannot be had


class Script:
    """What must have happened whatever the dice say, each by how many days ago it was."""

    def __init__(self, shop: Workshop, counts: ShelfCounts, buying: Buying) -> None:
        self.shop, self.counts, self.buying = shop, counts, buying

    def days(self) -> dict[int, Callable[[], None]]:
        """The events by days before the last."""
        return {
            545: self.old_deliveries,
            500: self.hay_run,
            430: self.hay_run,
            208: self.buying.ordered_twice,
            RISE_DAYS_AGO: self.buying.rise,
            45: self.buying.wait_for_quince,
            38: self.buying.another_source,
            15: self.buying.order_dyes,
            10: self.buying.some_dyes_came,
            9: self.buying.try_the_other,
            352: self.counts.everything,
            262: self.counts.dear_ones,
            171: self.counts.dear_ones,
            168: self.counts.what_is_due,
            124: self.counts.packaging_shelf,
            95: self.counts.dear_ones,
            40: self.counts.what_is_due,
            39: self.clove_is_overlooked,
            360: self.hay_run,
            181: self.practise_a_recall,
            149: self.power_cut,
            73: self.melt_again,
            80: self.fig_samples,
            76: self.fig_trial,
            55: self.fig_failed,
            75: self.quince_runs_dry,
            33: self.duty_comes_late,
            26: self.use_up_quince,
            23: self.use_up_quince,
            20: self.slip_is_coming,
            19: self.layered_run,
            14: self.use_up_quince,
            13: self.old_scent_is_allowed,
            12: self.last_of_hay,
            11: self.use_up_quince,
            8: self.use_up_quince,
            6: self.doubtful_scent,
            4: self.more_than_the_books_held,
            **dict.fromkeys((7, 5, 3, 2, 1), self.put_right),
        }

    def old_deliveries(self) -> None:
        """A scent that has expired by now with a rest left, and a powder that is about to."""
        shop = self.shop
        hay = shop.arrival("hay", Offer("1 kg", 6900), 3, shop.today - timedelta(days=20))
        powder = shop.arrival("uv", Offer("1 kg", 5400), 1, shop.today + timedelta(days=16))
        shop.receive("scent", [hay, powder], minute=8 * 60 + 30)

    def hay_run(self) -> None:
        """A run of the scent that did not sell."""
        self._run("hay_jar", 36)

    def practise_a_recall(self) -> None:
        """The yearly drill."""
        complaints.practise(self.shop)

    def retire_hay(self) -> None:
        """It is no longer made."""
        hay = self.shop.products["hay_jar"]
        self.shop.retire(hay.current(), "It did not sell; the scent has run out.")
        hay.formula.retired = True
        hay.formula.save(update_fields=["retired"])

    def power_cut(self) -> None:
        """A run that nothing came of: weighed and melted, and then given up."""
        shop = self.shop
        key = next((key for key in ("cedar_tin", "cedar_jar") if self._covers(key, 24)), "")
        if not key:
            return
        product = shop.products[key]
        signature = shop.sign(shop.people.owner, 8 * 60)
        batch = plans.plan(product.current(), 24, planned_on=shop.day, signature=signature)
        run = Run(batch, product.story, shop.day, shop.day)
        plan = planning.plan_of_batch(batch, on=shop.day, drawn={})
        shop.draw(run, plan.weighed, 10 * 60)
        given_up_at = shop.sign(shop.people.owner, 16 * 60)
        shop.endings.give_up(batch, round(plan.sheet.melt), shop.items["again"], given_up_at)

    def _covers(self, key: str, quantity: int) -> bool:
        version = self.shop.products[key].current()
        return planning.most_from_shelf(version, on=self.shop.day).quantity >= quantity

    def melt_again(self) -> None:
        """What was recovered is poured into a few tins, to be burned before any is sold."""
        most = planning.most_from_shelf(self.shop.products["odd_tin"].current(), on=self.shop.day).quantity
        if most >= 4:
            self._run("odd_tin", min(most, 8), note="From recovered melt: burn two before any is sold.")

    def fig_samples(self) -> None:
        """Two bottles of a scent to try, each with its own code."""
        bottles = self.shop.arrival("fig", Offer("75 g", 1180), 2)
        self.shop.receive("scent", [replace(bottles, lot_per_pack=True)], minute=8 * 60 + 30)

    def fig_trial(self) -> None:
        """Four jars to burn."""
        self._run("fig_jar", 4, note="First trial: burn two, keep two.")

    def fig_failed(self) -> None:
        """Two of them were burned, and soot rose."""
        self.shop.burns.fail(self.shop.products["fig_jar"].current())

    def quince_runs_dry(self) -> None:
        """The supplier has none."""
        self.shop.paused.add("quince")

    def clove_is_overlooked(self) -> None:
        """Nobody thinks of ordering the winter scent any more; whether it is due again hangs on the season of today."""
        self.shop.paused.add("clove")

    def duty_comes_late(self) -> None:
        """The carrier bills the duty on the oils that came in pounds, weeks after they came."""
        shop = self.shop
        signature = shop.sign(shop.people.bookkeeper, 8 * 60 + 5, "Customs duty, paid by the carrier.")
        came = Delivery.objects.filter(
            supplier=shop.suppliers["pound"],
            posting__happened_at__lt=signature.happened_at - timedelta(days=14),
        )
        delivery = came.order_by("posting__happened_at").last()
        if delivery:
            add_cost(
                delivery,
                amount=1_840 * CENT,
                spread=Delivery.Spread.VALUE,
                reference="DUTY-771",
                signature=signature,
            )

    def slip_is_coming(self) -> None:
        """The next wax weighed is keyed a kilogram too high."""
        self.shop.slip = KG

    def layered_run(self) -> None:
        """A layered pour that has cured by now."""
        self._run("tides_jar", 24)

    def use_up_quince(self) -> None:
        """Pour what the shelf still covers of the scent that cannot be had."""
        item = self.shop.items["quince"]
        lots = Lot.objects.filter(item=item).on_shelf().usable(self.shop.day)
        jars = (sum(lots.values_list("on_hand", flat=True)) - QUINCE_KEPT) // (17 * G)
        if jars >= 12:
            self._run("quince_jar", min(jars, 66))

    def doubtful_scent(self) -> None:
        """A bottle that smells wrong is put on hold at the door."""
        shop = self.shop
        bottle = shop.arrival("rain", Offer("2.5 kg", 13200), 1)
        delivery = shop.receive("scent", [bottle], minute=8 * 60 + 30)
        lot = Lot.objects.get(delivery_line__delivery=delivery)
        reason = "Smells sharper than the last bottle; the supplier is asked to compare his kept sample."
        hold(lot.pk, signature=shop.sign(shop.people.owner, 8 * 60 + 50, reason))

    def old_scent_is_allowed(self) -> None:
        """The owner lets the rest of the expired scent be poured all the same."""
        shop = self.shop
        until = shop.today + timedelta(days=18)
        signature = shop.sign(
            shop.people.owner, 9 * 60, "Smells and burns as it did; a few jars for friends of the house."
        )
        for lot in Lot.objects.on_shelf().filter(item=shop.items["hay"], expires_on__lt=shop.day):
            allow_use(lot.pk, until, on=shop.day, signature=signature)

    def last_of_hay(self) -> None:
        """A small run of it, on the owner's word."""
        self._run("hay_jar", 6, note="The last of the scent.")
        self.retire_hay()

    def more_than_the_books_held(self) -> None:
        """A second trial: the first bottle gave 1.6 g more than the books had left in it."""
        shop = self.shop
        run = self._run("fig_jar", 4, note="Second trial: the same load, a wick size down.")
        plan = planning.plan_of_batch(run.batch, on=shop.day, drawn={})
        poured = [need for need in plan.needs if need.item.pk not in shop.packed_last()]
        for place, need in enumerate(poured):
            if need.item.kind != Kind.FRAGRANCE:
                shop.draw(run, [need], 10 * 60 + 10 * place)
                continue
            first, second = Lot.objects.filter(item=need.item).order_by("pk")
            more = first.on_hand + 16 * G // 10
            takings = [Taking(first.pk, more), Taking(second.pk, need.left - more)]
            signature = shop.sign(shop.people.maker, 10 * 60 + 10 * place)
            runs.draw_line(run.batch.pk, need.line.pk, takings, signature=signature, book_found=True)
        shop.read(run, 11 * 60)
        run.poured = True

    def put_right(self) -> None:
        """Once the mis-keyed run is finished: what was really drawn, and so what its jars really cost."""
        shop, run = self.shop, self.shop.slipped
        if run is None or run.batch.state != Batch.State.FINISHED:
            return
        shop.slipped = None
        draw = run.batch.draws.select_related("movement__posting__by", "line__item")[0]
        wrong = list(draw.movement.posting.movements.filter(kind=Movement.Kind.DRAWN))
        keyed = -sum(movement.quantity for movement in wrong)
        quantity = draw.line.item.quantity
        takings = [Taking(movement.lot_id, -movement.quantity) for movement in wrong]
        takings[-1] = replace(takings[-1], quantity=takings[-1].quantity - KG)
        reason = f"Keyed {quantity(keyed)}; the ticket says {quantity(keyed - KG)}."
        runs.correct_draw(
            draw.movement.posting, takings, signature=shop.sign(shop.people.owner, 8 * 60 + 40, reason)
        )
        self._noted_wrongly(run)

    def _noted_wrongly(self, run: Run) -> None:
        """That morning a temperature had been typed with a figure too many, and the clock had run on through lunch."""
        shop, batch = self.shop, run.batch
        if poured := batch.readings.filter(kind=Reading.Kind.POUR).first():
            why = shop.sign(shop.people.owner, 8 * 60 + 42, "A 1 too many was typed.")
            at_once = why.at(poured.at + timedelta(minutes=1))
            typed = runs.take_reading(
                batch.pk, poured.kind, poured.temperature_mc + 100_000, note="", signature=at_once
            )
            runs.strike_reading(typed.pk, signature=why)
        noted = batch.labour.filter(step=Labour.Step.WEIGH).first()
        if noted and noted.minutes > 5:
            why = shop.sign(
                shop.people.owner, 8 * 60 + 44, "The clock ran on while the pot was left to melt."
            )
            runs.take_back_labour(noted.pk, signature=why)
            runs.note_labour(
                batch,
                person_id=noted.person_id,
                step=Labour.Step.WEIGH,
                minutes=noted.minutes - 5,
                worked_on=noted.worked_on,
                signature=why,
            )

    def _run(self, key: str, quantity: int, note: str = "") -> Run:
        shop = self.shop
        return shop.plan(shop.products[key], quantity, pour_on=working_day(shop.day), note=note)
