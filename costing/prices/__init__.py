"""Channels with their fees, suggested and asked prices, the price list.

Modules:

- `channels`: Channels: what selling takes from which day on, and what is asked. What was set is never rewritten.
- `forms`: What people ask of prices: a margin or markup, a price to try, an hour to be earned.
- `forms_channels`: What people type about channels: their terms, the studio's price points, and the price asked for
  a product.
- `price_list_pdf`: The price list on paper: for a shop, a stall or the wall. A `PriceList` of finished texts in,
  PDF bytes out.
- `price_list_text`: What stands on the price list: what is asked in each channel, as finished texts. No cost stands
  on it.
- `price_rows`: A product in a channel: what is asked, what is left of it, and what should be asked instead.
- `pricing`: What to charge: from a unit's cost and a channel's terms to a price, and from a price back to what is
  left of it.
- `views`: Prices: every product in every channel, one product with what should be asked, and the price list on
  paper.
- `views_channels`: Where goods are sold, what selling there takes, and the price points of the studio.

Decisions that bind:

- Terms of channels and prices are only added, each with its day. Fixed fees and shipping are per order, shared by
  its usual number of units.
- Wholesale as a share is of retail without tax; an entered price goes first.
- A price that follows another stands since the last day anything in it was set.
"""
