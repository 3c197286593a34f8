"""Packs typed into a line: "4 cases", with a field for what is in one that is shown once it is asked."""

from typing import Any

from django import forms

from inventory.models import Item
from inventory.purchasing.pack_contents import Known, PackLine, WrongInOne, understand
from studio.core.quantities import PackQuestion, QuantityError, parse_quantity
from studio.web.filters import whole_number


def supplier_key(text: str) -> int | None:
    """The supplier chosen on a form that was sent, before it is validated; None where it names none."""
    return whole_number(text)


class PackedLine(forms.Form):
    """A line of packs × what each holds, where what each holds may be typed as packs of its own: "4 cases".

    With one pack, the cases are the packs; with several, each of them holds so many cases.
    """

    in_one = forms.CharField(
        label="In one", max_length=40, required=False, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )

    def __init__(self, *args: Any, known: Known | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.known = known or {}
        self.asks_in_one = False
        self.pack_line: PackLine | None = None

    def read_each(self, item: Item, text: str, data: dict[str, Any]) -> None:
        """`pack_quantity` from what was typed, and `packs` and `each` where it names packs; else the sentence."""
        try:
            line = understand(text, data.get("in_one") or "", item, self.known)
            if line is None:
                data["pack_quantity"] = parse_quantity(text, item.dimension)
                return
        except PackQuestion as error:
            self.asks_in_one = True
            self["in_one"].label = f"In one {error.word}"
            self.add_error(
                "in_one", str(error).split(" Write it")[0] + " It is remembered for this supplier."
            )
            return
        except WrongInOne as error:
            self.add_error("in_one", str(error))
            return
        except QuantityError as error:
            self.add_error("each", str(error))
            return
        self._take(line, data)

    def _take(self, line: PackLine, data: dict[str, Any]) -> None:
        self.pack_line = line
        count = line.packed.number
        if count == 1:
            data |= {"pack_quantity": line.each, "each": line.typed}
        elif data.get("packs") == 1:
            data |= {"packs": count, "pack_quantity": line.each, "each": line.typed}
            most = self.fields["packs"].max_value  # type: ignore[attr-defined]
            if count > most:
                self.add_error("each", f"At most {most:,} packs go on a line. Check the number.")
        else:
            data["pack_quantity"] = count * line.each
            data["each"] = line.packed.words(line.typed.split(" of ", 1)[1])
