"""The scripts of the bench read numbers and work out loads as the studio does: one table, run on both sides."""

import pytest

from tests.vectors import NUMBERS, OVERSHOOT

pytestmark = pytest.mark.django_db(transaction=True)

SUMS = "await import(document.querySelector('script[type=module]').src.replace(/bench\\.js.*$/, 'bench_sums.js'))"
READ = f"""async (table) => {{
  const {{ readAmount, readTemperature, misread, beyond, beyondHeat }} = {SUMS};
  const plain = (found) => found === null ? null : Number(found);
  return {{
    amounts: table.amounts.map(([text, unit]) => plain(readAmount(text, unit))),
    temperatures: table.temperatures.map(([text, scale]) => plain(readTemperature(text, scale))),
    refused: table.refused.map(([text]) => misread(text)),
    beyond: table.beyond.map(([text, unit]) => beyond(text, unit)),
    beyond_heat: table.beyond_heat.map(([text, scale]) => beyondHeat(text, scale)),
  }};
}}"""
WORK_OUT = f"""async (cases) => {{
  const {{ overshoot }} = {SUMS};
  const share = (text) => text === null ? null : text.split("/").map(BigInt);
  const same = (found, text) => {{
    const [over, under] = share(text);
    return found[0] * under === found[1] * over;
  }};
  return cases.map((given) => {{
    const found = overshoot({{
      fragrance: BigInt(given.fragrance), wax: BigInt(given.wax), other: BigInt(given.other),
      wanted: share(given.wanted), fill: given.fill === null ? null : BigInt(given.fill), loss: BigInt(given.loss),
      maximum: share(given.maximum), maximumOfMelt: share(given.maximum_of_melt),
    }});
    return [
      same(found.loadOfWax, given.load_of_wax), same(found.loadOfMelt, given.load_of_melt),
      Number(found.waxToAdd), Number(found.melt), found.units === null ? null : Number(found.units),
      found.aboveMaximum,
    ];
  }});
}}"""


def test_numbers_are_read_as_the_table_says(bench):
    found = bench.page.evaluate(READ, NUMBERS)

    for name in ("amounts", "temperatures", "refused", "beyond", "beyond_heat"):
        rows = [[*row[:-1], read] for row, read in zip(NUMBERS[name], found[name], strict=True)]
        assert rows == NUMBERS[name]


def test_wax_to_restore_a_load_is_what_the_table_says(bench):
    found = bench.page.evaluate(WORK_OUT, OVERSHOOT["cases"])

    names = ("wax_to_add", "melt", "units", "above_maximum")
    assert found == [[True, True, *(case[name] for name in names)] for case in OVERSHOOT["cases"]]


def test_what_may_not_be_in_a_melt_at_all_is_above_its_maximum_and_no_wax_mends_it(bench):
    """80 in 920 is above nothing at all; for the tenth that is wanted 800 of wax would do, so none is to be added."""
    found = bench.page.evaluate(
        f"""async () => {{
          const {{ overshoot }} = {SUMS};
          const found = overshoot({{
            fragrance: 80n, wax: 920n, other: 0n, wanted: [1n, 10n], fill: null, loss: 0n,
            maximum: [0n, 1000000n], maximumOfMelt: [0n, 1000000n],
          }});
          return [found.aboveMaximum, Number(found.waxToAdd)];
        }}"""
    )

    assert found == [True, 0]
