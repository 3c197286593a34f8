"""What to buy, how much, from whom and by when.

`arithmetic` and `quantity` are the textbook, `demand` and `lead` what history says, `forecast` and `projection` what is
to come, all plain Python without a database or a clock. `facts` reads everything those need for all items in a fixed
number of queries, `ahead` puts together what is to come of an item and `outlook` the ways to buy it, `purchase` is the
list by supplier and the verb that drafts orders from it; `one_offs` and `rules` are what people decide. Statistics are
floats; whatever becomes a quantity or a price is rounded once, up, to whole base units.
"""
